/// The lanes of a report: what stood or acted when, as intervals and marks over one axis of time.
///
/// What it is   states of the controller, faults, alarms, operator actions, violated requirements
/// Validity     flags and alarm states are as old as the row of the trace that shows them
/// Left out     a lane that has nothing to show
#pragma once

#include <string>
#include <vector>

#include "hil-harness/report/summary_view.hpp"
#include "hil-harness/trace/trace_reader.hpp"

namespace duskline::harness {

/// What an item of a lane means; the page has one colour for each.
enum class Tone { rest, change, run, warn, bad, cause, act };
std::string_view word(Tone tone);

struct LaneItem {
  double from{}, to{};  ///< s; equal for a mark
  std::string text;
  Tone tone = Tone::rest;
};

struct Lane {
  std::string key, label;
  bool marks = false;  ///< instants; else intervals
  std::vector<LaneItem> items;
};

/// Lanes in the order of the page. Intervals that have not ended end at `end`.
std::vector<Lane> timeline(const TraceReader& trace, const SummaryView& summary, double end);

/// A word that begins to stand in a signal with masks, as an event of that kind; at the time of its row.
std::vector<EventEntry> beginnings(const TraceReader& trace, std::string_view signal, std::string_view kind);

}  // namespace duskline::harness
