/// Kinds of log events: how the report names them, whether they are shown before anybody asks, and what part they
/// may play in a chain of events.
///
/// What it is   one row a kind, in the order of the filter; a kind without a row is shown under its own word
/// Left out     severity of single events: alarms carry their priority in the trace
#pragma once

#include <array>
#include <string_view>

#include "hil-harness/loop/event_log.hpp"

namespace duskline::harness {

enum class ChainPart {
  cause,   ///< comes from outside the controller
  effect,  ///< what plant, controller or operator did about it
  none,    ///< never part of a chain
};

struct EventKind {
  std::string_view word, label;
  bool shown;  ///< in the list before anything is chosen
  bool lined;  ///< drawn as a line across the charts
  ChainPart part;
};

inline constexpr std::array kEventKinds{
    EventKind{"requirement", "Requirements violated", true, true, ChainPart::none},
    EventKind{"interlock", "Interlocks", true, true, ChainPart::effect},
    EventKind{"fault", "Faults", true, true, ChainPart::cause},
    EventKind{"weather", "Weather", true, true, ChainPart::cause},
    EventKind{"parameter", "Parameters changed", true, true, ChainPart::cause},
    EventKind{"power", "Power supply", true, true, ChainPart::cause},
    EventKind{"wire", "Wire to the controller", true, true, ChainPart::effect},
    EventKind{"limit", "Limits of the stack", true, true, ChainPart::effect},
    EventKind{"diagnosis", "Diagnoses", true, false, ChainPart::effect},
    EventKind{"alarm", "Alarms", true, false, ChainPart::effect},
    EventKind{"acknowledgement", "Acknowledgements", true, false, ChainPart::effect},
    EventKind{"operator", "Operator actions", true, false, ChainPart::effect},
    EventKind{"command", "Operator commands", true, false, ChainPart::effect},
    EventKind{"cause", "Causes named", true, false, ChainPart::effect},
    EventKind{"note", "Notes", true, false, ChainPart::none},
    EventKind{"refusal", "Refused", true, false, ChainPart::effect},
    EventKind{"mode", "Modes", true, false, ChainPart::effect},
    EventKind{"alarm-return", "Alarms returned", false, false, ChainPart::none},
    EventKind{"calibration", "Calibration", false, false, ChainPart::none},
};

/// The row of a kind, or null.
constexpr const EventKind* find_event_kind(std::string_view word) {
  for (const EventKind& kind : kEventKinds)
    if (kind.word == word) return &kind;
  return nullptr;
}

constexpr bool every_logged_kind_has_a_row() {
  for (const LogKindRow& logged : kLogKinds) {
    bool found = false;
    for (const EventKind& kind : kEventKinds) found = found || kind.word == logged.word;
    if (!found) return false;
  }
  return true;
}
static_assert(every_logged_kind_has_a_row(), "loop/event_log.hpp lists the kinds");

}  // namespace duskline::harness
