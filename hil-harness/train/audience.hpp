/// Those who watch a training session: what each of them is sent, and how far behind the plant they are.
///
/// What it is   two audiences, near (instructors) and far (operators and observers), whom the delay of light reaches;
///              of a state the latest text is kept, of the log every entry
/// Validity     publishing never waits for a reader: a reader whose queue is full is dropped. Entries of the log are
///              numbered as they arrive, from 1, so that who has seen one has seen all before it
/// Left out     the wire: a watcher gives texts in the form of server-sent events
#pragma once

#include <array>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <limits>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace duskline::harness {

enum class StreamKind : std::uint8_t { frame, alarms, session, checks, log };
inline constexpr std::size_t kStreamStates = 4;  ///< kinds of which the latest text is enough
inline constexpr double kNothingArrives = -std::numeric_limits<double>::infinity();
inline constexpr std::size_t kWatchersMax = 48;    ///< of both audiences together
inline constexpr std::size_t kWatcherQueue = 200;  ///< texts that a reader may be behind

/// One reader.
class StreamWatcher {
 public:
  /// The next text; waits for at most `milliseconds`; null: nothing came.
  std::shared_ptr<const std::string> next(int milliseconds);
  void push(std::shared_ptr<const std::string> text);
  void close();
  /// Nothing will come any more: closed, or dropped because it was too slow.
  bool over();

 private:
  std::mutex mutex_;
  std::condition_variable arrived_;
  std::deque<std::shared_ptr<const std::string>> queue_;
  bool closed_ = false, dropped_ = false;
};

class StreamAudience {
 public:
  /// `start` names this start of the server: the ids of entries of the log begin with it.
  explicit StreamAudience(std::string start) : start_(std::move(start)) {}
  /// `data` is JSON, of the log an object; `due` is the plant time at which it arrives.
  void publish(StreamKind kind, double due, std::string data);
  /// Light takes less time now: what is under way arrives by `due`.
  void bring_forward(double due);
  /// Sends what has arrived by now; true when a frame has.
  bool deliver(double now);
  /// Sends the latest frame once more, so that a silence means a lost connection.
  void repeat_frame();
  /// What is under way and due after `due` never arrives: the session went back.
  void recall(double due) {
    std::erase_if(under_way_, [due](const Message& m) { return m.due > due; });
  }
  /// A reader who has seen the log up to the entry with that id; without one of this start all of it is sent.
  std::shared_ptr<StreamWatcher> join(std::string_view last_id = {});
  void leave(const std::shared_ptr<StreamWatcher>& watcher);
  void close();
  /// Readers that are not over.
  std::size_t size();

 private:
  struct Message {
    StreamKind kind{};
    double due{};
    std::string data;
  };
  void send(const Message& message);

  std::string start_;
  std::vector<std::shared_ptr<StreamWatcher>> watchers_;
  std::deque<Message> under_way_;
  std::array<std::shared_ptr<const std::string>, kStreamStates> latest_;
  std::vector<std::shared_ptr<const std::string>> log_;
};

}  // namespace duskline::harness
