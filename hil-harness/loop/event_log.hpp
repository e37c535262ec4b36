/// What happened in a run: one dictionary of kinds, one list in the order of time.
///
/// What it is   events with their kind, what they are about and a sentence; chatter is folded where it arises
/// Equation     an event of the same kind about the same subject within kFoldTime of the latest one is counted on
///              that one; so is a limit that is passed and regained within kFoldTime: one event, its count the
///              passages, `until` the latest change
/// Symbols      times in s since the start of the run
/// Validity     at most kLogEventsMax events are kept; the rest are counted
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

// clang-format off
#define DUSKLINE_LOG_KINDS(X)                                                                          \
  X(requirement,     "requirement",     "a requirement of the scenario was violated")                  \
  X(interlock,       "interlock",       "the controller moved the plant to safe")                      \
  X(fault,           "fault",           "a fault of the scenario began or ended, or a part broke")     \
  X(weather,         "weather",         "weather that the scenario lists as a fault began or ended")   \
  X(parameter,       "parameter",       "a parameter of the plant changed as the scenario says")       \
  X(power,           "power",           "consumers or the controller lost power or got it back")       \
  X(wire,            "wire",            "no valid answer of the controller: outputs off; or armed again")      \
  X(limit,           "limit",           "a limit of the cells was passed or regained")                 \
  X(diagnosis,       "diagnosis",       "the controller found a fault, or found it gone")              \
  X(alarm,           "alarm",           "an alarm became unacknowledged")                              \
  X(alarm_return,    "alarm-return",    "the condition of an alarm went")                              \
  X(acknowledgement, "acknowledgement", "the operator acknowledged an alarm")                          \
  X(operator_action, "operator",        "the operator shelved, removed, returned or reset an alarm")   \
  X(command,         "command",         "the operator asked for a mode, a rate or a power limit")      \
  X(cause,           "cause",           "the operator named a cause")                                        \
  X(note,            "note",            "a person wrote a note")                                             \
  X(refusal,         "refusal",         "a request or an action was not carried out, with the reason") \
  X(mode,            "mode",            "the controller changed its mode")                             \
  X(calibration,     "calibration",     "the controller corrected an instrument")
// clang-format on

enum class LogKind : std::uint8_t {
#define DUSKLINE_X(identifier, word, meaning) identifier,
  DUSKLINE_LOG_KINDS(DUSKLINE_X)
#undef DUSKLINE_X
};

struct LogKindRow {
  LogKind kind;
  std::string_view word, meaning;
};
inline constexpr LogKindRow kLogKinds[] = {
#define DUSKLINE_X(identifier, word, meaning) {LogKind::identifier, word, meaning},
    DUSKLINE_LOG_KINDS(DUSKLINE_X)
#undef DUSKLINE_X
};
constexpr std::string_view word(LogKind kind) {
  return kLogKinds[static_cast<std::size_t>(kind)].word;
}
constexpr std::string_view meaning(LogKind kind) {
  return kLogKinds[static_cast<std::size_t>(kind)].meaning;
}

inline constexpr double kFoldTime = 60.0;  ///< s
inline constexpr std::size_t kLogEventsMax = 1000;

struct LogEvent {
  double time{};
  LogKind kind{};
  std::string text;
  std::string subject;    ///< the alarm, fault, parameter, limit or diagnosis concerned; empty: none
  std::size_t count = 1;  ///< how often, folded into this one
  double until{};         ///< the latest of them; `time` where there is one only
  bool begins = true;     ///< false: what the subject names ended here
  void keep(scenarios::Keeper& k) {
    auto& [at, what, words, about, number, latest, starts] = *this;
    k(at, what, words, about, number, latest, starts);
  }
};

class EventLog {
 public:
  void log(double time, LogKind kind, std::string text, std::string subject = {}, bool begins = true);
  /// A limit is passed or, with `passed` false, regained.
  void limit(double time, const std::string& subject, bool passed, const std::string& text_passed,
             const std::string& text_regained);

  const std::vector<LogEvent>& events() const { return events_; }
  std::size_t left_out() const { return left_out_; }
  void keep(scenarios::Keeper& k) {
    auto& [events, left_out] = *this;
    k(events, left_out);
  }

 private:
  LogEvent* latest(double time, LogKind kind, std::string_view subject, bool begins);
  void add(LogEvent event);

  std::vector<LogEvent> events_;
  std::size_t left_out_{};
};

/// The same list for what one module reports: where there are several, each event names its module.
class ModuleLog {
 public:
  explicit ModuleLog(EventLog& log, const std::string& module = {})
      : log_(log), before_(module.empty() ? "" : module + ": ") {}
  void log(double time, LogKind kind, const std::string& text, const std::string& subject = {},
           bool begins = true) {
    log_.log(time, kind, before_ + text, subject.empty() ? subject : before_ + subject, begins);
  }
  void limit(double time, const std::string& subject, bool passed, const std::string& text_passed,
             const std::string& text_regained) {
    log_.limit(time, before_ + subject, passed, before_ + text_passed, before_ + text_regained);
  }

  /// "module 3: what", or what alone.
  std::string of_module(const std::string& what) const { return before_ + what; }

 private:
  EventLog& log_;
  std::string before_;
};

}  // namespace duskline::harness
