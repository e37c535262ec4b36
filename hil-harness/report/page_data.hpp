/// Everything that the page of a report shows, as one JSON text.
#pragma once

#include <string>

#include "hil-harness/report/grid.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/report/summary_view.hpp"
#include "hil-harness/trace/trace_reader.hpp"

namespace duskline::harness {

/// `other` may be null.
std::string page_data(const TraceReader& trace, const TraceReader* other, const SummaryView& summary,
                      const ReportInfo& info);

/// What a page says of a signal; its values are up to the page.
json_text::List signal_entry(const SignalInfo& signal);

/// Members `time`, `localTime` and `daylight` of a page, without the braces around them.
std::string page_axis(const TraceReader& trace, const Grid& grid);

}  // namespace duskline::harness
