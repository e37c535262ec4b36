/// The report of a run: one HTML file that draws itself without a network.
///
/// Reads a trace and the summary of the run. Of the summary it shows, where they are present:
///   figures       [{text, value (number or text), unit, note, verdict}]
///   requirements  [{text, verdict, margin, unit, time (s)}]
///   events        [{time (s), text, kind}]
/// A verdict is a word: held, violated, good, close, bad, not tested, ... Same inputs, same bytes.
/// Left out: the trace itself; long runs are shown reduced, peaks kept (see grid.hpp).
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

struct ReportInfo {
  std::string title;
  std::string purpose;                ///< a sentence or two: what the run was to show
  std::string run_name = "this run";  ///< how legends name it when two runs are compared
  std::string baseline_name = "baseline";
};

/// Writes the report to `out_path`. With a baseline trace, production and margin show both runs.
Outcome write_report(const std::string& trace_path, std::string_view summary_json, const ReportInfo& info,
                     const std::string& out_path, const std::optional<std::string>& baseline_trace = {});

/// A page with its style, its script and its data (JSON) in it.
std::string whole_page(std::string_view title, std::string_view data, std::string_view script);

}  // namespace duskline::harness
