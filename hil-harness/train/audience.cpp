#include "hil-harness/train/audience.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <utility>

namespace duskline::harness {
namespace {

constexpr const char* kNames[] = {"frame", "alarms", "session", "checks", "log"};

}  // namespace

std::shared_ptr<const std::string> StreamWatcher::next(int milliseconds) {
  std::unique_lock lock(mutex_);
  arrived_.wait_for(lock, std::chrono::milliseconds(milliseconds),
                    [this] { return !queue_.empty() || closed_ || dropped_; });
  if (queue_.empty()) return nullptr;
  auto text = std::move(queue_.front());
  queue_.pop_front();
  return text;
}

void StreamWatcher::push(std::shared_ptr<const std::string> text) {
  const std::lock_guard lock(mutex_);
  if (dropped_ || closed_) return;
  if (queue_.size() >= kWatcherQueue) {
    dropped_ = true;
    queue_.clear();
    queue_.push_back(
        std::make_shared<const std::string>("event: bye\ndata: {\"reason\":\"the reader is too slow\"}\n\n"));
  } else {
    queue_.push_back(std::move(text));
  }
  arrived_.notify_one();
}

void StreamWatcher::close() {
  const std::lock_guard lock(mutex_);
  closed_ = true;
  arrived_.notify_one();
}

bool StreamWatcher::over() {
  const std::lock_guard lock(mutex_);
  return (closed_ || dropped_) && queue_.empty();
}

void StreamAudience::publish(StreamKind kind, double due, std::string data) {
  under_way_.push_back({kind, due, std::move(data)});
}

void StreamAudience::bring_forward(double due) {
  for (Message& m : under_way_) m.due = std::min(m.due, due);
}

bool StreamAudience::deliver(double now) {
  const auto arrived = [now](const Message& m) { return m.due <= now; };
  // of frames that arrive together the last one is enough
  const Message* frame = nullptr;
  for (const Message& m : under_way_)
    if (arrived(m) && m.kind == StreamKind::frame) frame = &m;
  for (const Message& m : under_way_)
    if (arrived(m) && (m.kind != StreamKind::frame || &m == frame)) send(m);
  const bool has_frame = frame != nullptr;
  std::erase_if(under_way_, arrived);
  return has_frame;
}

void StreamAudience::repeat_frame() {
  const auto& frame = latest_[static_cast<std::size_t>(StreamKind::frame)];
  if (frame == nullptr) return;
  for (const auto& watcher : watchers_) watcher->push(frame);
}

void StreamAudience::send(const Message& message) {
  const bool entry = message.kind == StreamKind::log;
  const auto kind = static_cast<std::size_t>(message.kind);
  std::string text = entry ? fmt::format("id: {0}-{1}\nevent: log\ndata: {{\"n\":{1},{2}\n\n", start_,
                                         log_.size() + 1, message.data.substr(1))
                           : fmt::format("event: {}\ndata: {}\n\n", kNames[kind], message.data);
  const auto sent = std::make_shared<const std::string>(std::move(text));
  if (entry)
    log_.push_back(sent);
  else
    latest_[kind] = sent;
  for (const auto& watcher : watchers_) watcher->push(sent);
}

std::size_t StreamAudience::size() {
  std::erase_if(watchers_, [](const auto& watcher) { return watcher->over(); });
  return watchers_.size();
}

std::shared_ptr<StreamWatcher> StreamAudience::join(std::string_view last_id) {
  std::size_t seen = 0;
  if (const std::string own = start_ + "-"; last_id.starts_with(own))
    std::from_chars(last_id.data() + own.size(), last_id.data() + last_id.size(), seen);
  auto watcher = std::make_shared<StreamWatcher>();
  std::string log;
  for (std::size_t i = seen; i < log_.size(); ++i) log += *log_[i];
  if (!log.empty()) watcher->push(std::make_shared<const std::string>(std::move(log)));
  for (const auto& text : latest_)
    if (text != nullptr) watcher->push(text);
  watchers_.push_back(watcher);
  return watcher;
}

void StreamAudience::leave(const std::shared_ptr<StreamWatcher>& watcher) {
  std::erase(watchers_, watcher);
}

void StreamAudience::close() {
  for (const auto& watcher : watchers_) watcher->close();
}

}  // namespace duskline::harness
