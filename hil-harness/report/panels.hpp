/// The panels of a report, in the order of the page: which signals, in which unit, drawn how.
///
/// A line names a signal of the dictionary (loop/signals.hpp); a test holds every name against it. A line whose signal an
/// older trace lacks is left out, and so is a panel without lines. A signal with several places (cells, zones) gives one
/// line for each.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "hil-harness/report/timeline.hpp"

namespace duskline::harness {

/// What a line is to the reader; it decides colour and dashes.
enum class Role { value, target, limit };

struct Line {
  std::string_view signal;
  std::string_view label;
  Role role = Role::value;
};

enum class PanelKind {
  lines,
  tightest,  ///< the cell with the least coke margin against its limit, all cells as a band behind it
};

struct Span {
  double low;
  double high;
};

struct Panel {
  std::string_view section;
  std::string_view title;
  std::string_view caption;
  std::string_view unit;  ///< UDUNITS text in which it is shown
  std::vector<Line> lines = {};
  PanelKind kind = PanelKind::lines;
  std::optional<double> floor = {};   ///< in `unit`: below it lies harm
  std::string_view below_floor = {};  ///< what lies there
  std::optional<Span> view =
      {};  ///< in `unit`: the axis goes beyond it only where one value in twenty does, and
           ///< always towards the floor
  std::optional<double> nothing_at =
      {};                   ///< in `unit`: not drawn where its first line stands there throughout
  bool of_headers = false;  ///< only where modules stand between headers
  bool with_other = false;  ///< also drawn for the run that this one is compared with
};

/// A signal with flags, drawn as a lane of words (timeline.hpp).
struct StatusStrip {
  std::string_view signal;
  std::string_view label;
  Tone tone = Tone::rest;     ///< of its words; those of the mode have their own
  bool leads = false;         ///< stands above faults and alarms
  bool when_constant = true;  ///< also shown when it never changes
};

const std::vector<Panel>& panels();
const std::vector<StatusStrip>& status_strips();

}  // namespace duskline::harness
