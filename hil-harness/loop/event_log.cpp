#include "hil-harness/loop/event_log.hpp"

#include <fmt/format.h>

namespace duskline::harness {

LogEvent* EventLog::latest(double time, LogKind kind, std::string_view subject, bool begins) {
  for (auto e = events_.rbegin(); e != events_.rend(); ++e)
    if (e->kind == kind && e->subject == subject && e->begins == begins)
      return time - e->until <= kFoldTime ? &*e : nullptr;
  return nullptr;
}

void EventLog::add(LogEvent event) {
  if (events_.size() < kLogEventsMax)
    events_.push_back(std::move(event));
  else
    ++left_out_;
}

void EventLog::log(double time, LogKind kind, std::string text, std::string subject, bool begins) {
  LogEvent* const before = subject.empty() ? nullptr : latest(time, kind, subject, begins);
  if (before != nullptr && before->text == text) {
    ++before->count;
    before->until = time;
    return;
  }
  add({time, kind, std::move(text), std::move(subject), 1, time, begins});
}

void EventLog::limit(double time, const std::string& subject, bool passed, const std::string& text_passed,
                     const std::string& text_regained) {
  LogEvent* const before = latest(time, LogKind::limit, subject, true);
  if (before == nullptr) {
    add({time, LogKind::limit, passed ? text_passed : text_regained, subject, 1, time, passed});
    return;
  }
  before->until = time;
  if (passed) ++before->count;
  before->text =
      fmt::format("{}{}{}", text_passed,
                  before->count > 1 ? fmt::format(" {} times in {:.0f} s", before->count, time - before->time)
                                    : fmt::format(" for {:.3g} s", time - before->time),
                  passed ? "" : fmt::format("; {}", text_regained));
}

}  // namespace duskline::harness
