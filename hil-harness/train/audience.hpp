/// Those who watch a training session: what each of them is sent, and how far behind the plant they are.
///
/// What it is   two audiences, near (instructors) and far (operators and observers), whom the delay of light reaches;
///              of a state the latest text is kept, of the log every entry
/// Validity     publishing never waits for a reader: a reader whose queue is full is dropped
/// Left out     the wire: a watcher gives texts in the form of server-sent events
#pragma once

#include <array>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

namespace duskline::harness {

enum class StreamKind : std::uint8_t { frame, alarms, session, checks, log };
inline constexpr std::size_t kStreamStates = 4;  ///< kinds of which the latest text is enough
inline constexpr std::size_t kWatchersMax = 48;
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
  /// `due` is the plant time at which it arrives; a log entry carries its number.
  void publish(StreamKind kind, double due, std::string data, std::uint64_t log_number = 0);
  /// Sends what has arrived by now; true when a frame has.
  bool deliver(double now);
  /// Sends the latest frame once more, so that a silence means a lost connection.
  void repeat_frame();
  /// What is under way never arrives: the session went back.
  void recall() { under_way_.clear(); }
  /// A reader who has seen the log up to `seen`; null: there are too many.
  std::shared_ptr<StreamWatcher> join(std::uint64_t seen);
  void leave(const std::shared_ptr<StreamWatcher>& watcher);
  void close();
  std::size_t size() const { return watchers_.size(); }

 private:
  struct Message {
    StreamKind kind{};
    double due{};
    std::uint64_t log_number{};
    std::shared_ptr<const std::string> text;
  };
  void send(const Message& message);

  std::vector<std::shared_ptr<StreamWatcher>> watchers_;
  std::deque<Message> under_way_;
  std::array<std::shared_ptr<const std::string>, kStreamStates> latest_;
  std::vector<Message> log_;
};

}  // namespace duskline::harness
