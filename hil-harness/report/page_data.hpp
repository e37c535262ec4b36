/// Everything that the page of a report shows, as one JSON text.
#pragma once

#include <string>
#include <string_view>

#include "hil-harness/report/report.hpp"
#include "hil-harness/trace/trace_reader.hpp"

namespace duskline::harness {

/// `baseline` may be null. The summary's problem, if it has one, comes back in `outcome`.
std::string page_data(const TraceReader& trace, const TraceReader* baseline, std::string_view summary_json,
                      const ReportInfo& info, Outcome& outcome);

}  // namespace duskline::harness
