/// A training session: a run that is paced, frozen, taken back and acted upon, and those who watch it.
///
/// What it is   one thread moves the run (LoopRun); requests of people come from other threads and take effect with the
///              next tick, or as much later as light takes; every act is in the session file before it acts
/// Equation     tick n is due at origin + n * period / speed; back to tick n: the run begins again with the acts that were
///              decided before it
/// Symbols      period [s of plant], speed [s of plant in a second of the clock]
/// Validity     the run is a function of case and acts; pace, readers and refused requests do not change it
/// Left out     permissions by name: a role is all that is known of a person
#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <memory>
#include <mutex>
#include <span>
#include <string>
#include <thread>
#include <vector>

#include "hil-harness/loop/loop_run.hpp"
#include "hil-harness/train/audience.hpp"
#include "hil-harness/train/console_view.hpp"
#include "hil-harness/train/session_file.hpp"
#include "hil-harness/train/signal_history.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {

inline constexpr double kTrainingSpeedMin = 0.1, kTrainingSpeedMax = 600.0;
inline constexpr double kDelayMax = 24.0 * 60.0;  ///< s, one way: light from the far side of the sun

/// What a request is answered with; the body is JSON.
struct SessionReply {
  int status = 200;
  std::string body = "{}";
};

/// Takes a row of values into a digest of a run (FNV-1a, 64 bits, over the bytes).
inline constexpr std::uint64_t kNothingSeen = 14695981039346656037ULL;
std::uint64_t digest_with(std::uint64_t digest, std::span<const double> row);

/// What a debrief is made of.
struct SessionRecord {
  scenarios::Acts acts;
  std::int64_t ticks{};
  plant::State state{};  ///< after the latest tick
  std::uint64_t digest =
      kNothingSeen;  ///< of every value of every tick: runs that differ anywhere differ here
};

class RequestBody;

class TrainingSession {
 public:
  TrainingSession(scenarios::Case c, scenarios::ConsoleFile file, const std::string& name, double speed);
  ~TrainingSession();
  TrainingSession(const TrainingSession&) = delete;
  TrainingSession& operator=(const TrainingSession&) = delete;

  /// Opens the session file (empty: in memory) and goes to where it stood. The problem, or an empty text.
  std::string open(const std::string& path);
  void start();
  void stop();

  /// A POST of a person: `what` is the last part of its path.
  SessionReply request(PersonRole role, std::string_view what, const std::string& body);
  SessionReply history(PersonRole role, const std::string& signals, double from, double to,
                       std::size_t points);
  std::string plant_text(PersonRole role) const;
  std::string acts_text();
  std::string trace_csv(PersonRole role);
  SessionRecord record();
  const scenarios::Case& plant_case() const { return case_; }
  bool finished();

  /// A reader that has seen the log up to an id; null: there are too many, or the session ends.
  std::shared_ptr<StreamWatcher> join(PersonRole role, std::string_view last_id = {});
  void leave(PersonRole role, const std::shared_ptr<StreamWatcher>& watcher);

 private:
  using Clock = std::chrono::steady_clock;
  struct Condition {
    scenarios::Requirement requirement;  ///< without nodes: none is given
    bool done{}, by_person{};
  };
  struct CheckList {
    std::string name;
    std::vector<Condition> steps;
  };
  enum class Kept { no, yes };

  // the run (training_session.cpp)
  void rebuild(std::int64_t tick);
  void step();
  void work();
  void anchor();
  bool over() const { return finished_ || run_->ended(); }
  double now() const { return run_->snapshot().time; }
  bool link_lost(const Snapshot& s) const;
  double delay_for(PersonRole role) const { return role == PersonRole::instruct ? 0.0 : delay_; }

  // requests (session_requests.cpp)
  SessionReply command(PersonRole role, RequestBody& body);
  SessionReply alarm(PersonRole role, RequestBody& body);
  SessionReply note(PersonRole role, RequestBody& body);
  SessionReply diagnosis(RequestBody& body);
  SessionReply check(PersonRole role, RequestBody& body);
  SessionReply instruct(RequestBody& body);
  SessionReply pace(const std::string& act, RequestBody& body);
  SessionReply go_back(const std::string& act, RequestBody& body);
  SessionReply disturb(const std::string& act, RequestBody& body);
  SessionReply service(PersonRole role, RequestBody& body);
  /// The module that a request names, from 0; -1: none, which stands for the plant or for all modules.
  int named_module(RequestBody& body) const;
  SessionReply commit(const scenarios::Acts& act, double at);
  SessionReply branch(std::int64_t from, std::int64_t tick, std::int64_t last_act);
  std::vector<std::string> reasons_against(int mode) const;

  // what readers get (session_states.cpp)
  void publish(bool always);
  void publish_log();
  void take_as_published();
  void log_session(const std::string& text);
  void log(double t, std::string_view kind, std::string_view who, const std::string& text, bool far);
  std::string frame_text(PersonRole role);
  std::string alarms_text();
  std::string session_text(PersonRole role);
  std::string checks_text();
  std::string grades_text() const;
  void follow_alarms(const Snapshot& s);

  scenarios::Case case_;
  ConsoleView view_;
  SessionFile file_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::thread thread_;
  bool stopping_ = false;

  std::unique_ptr<InProcess> link_;
  std::unique_ptr<Watcher> judge_;
  std::unique_ptr<SignalHistory> history_;
  std::unique_ptr<LoopRun> run_;
  std::vector<double> row_;             ///< all values of the latest tick
  std::vector<double> shown_row_;       ///< the same, without those that mean nothing now
  std::vector<std::size_t> offsets_;    ///< of each signal of the dictionary in a row
  std::vector<CheckList> check_lists_;  ///< the lesson last, where there is one

  bool frozen_ = true, finished_ = false, ticked_ = true, changed_ = true;
  double speed_, delay_ = 0.0;
  Clock::time_point origin_{}, last_frame_{}, last_far_frame_{};
  double origin_time_ = 0.0;
  std::uint64_t digest_ = kNothingSeen;

  /// Another one with every start of the server, so that a page knows of it.
  const std::string start_ = std::to_string(std::chrono::system_clock::now().time_since_epoch().count());
  StreamAudience near_{start_}, far_{start_};
  std::vector<std::string> published_;  ///< of each event of the run
  bool log_full_ = false;
  std::string far_values_, alarms_, checks_, near_session_, far_session_;
  struct AlarmSince {
    double since{}, shelved_until{};
    bool first_out{};
    std::uint8_t state{};
  };
  std::vector<AlarmSince> since_;  ///< of each alarm of the view
};

}  // namespace duskline::harness
