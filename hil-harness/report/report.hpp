/// The report of a run: one HTML file that draws itself without a network.
///
/// Reads a trace and the summary of the run (summary_view.hpp): verdict, what was violated and what came before it, the
/// lanes of timeline.hpp, the panels of panels.hpp. Same inputs, same bytes.
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
  std::string other_name = "other run";
  std::string comparison_page;  ///< file beside the report that compares the two runs; empty: none
  std::string machine;  ///< of a plant with a turbo machine (compressor_map.hpp), JSON; empty: without map
  std::string timing;   ///< of a paced run (loop/timing.hpp), JSON; empty: it was not
};

/// Writes the report to `out_path`. With the trace of another run, production and margin show both.
Outcome write_report(const std::string& trace_path, std::string_view summary_json, const ReportInfo& info,
                     const std::string& out_path, const std::optional<std::string>& other_trace = {});

/// Writes a whole page, or nothing.
Outcome write_page(const std::string& path, const std::string& text);

/// A page with its style, its script and its data (JSON) in it.
std::string whole_page(std::string_view title, std::string_view data, std::string_view script);

}  // namespace duskline::harness
