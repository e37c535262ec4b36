/// Chosen signals of a recorded run between two instants, in chosen units, and what is made of them: CSV and a chart.
#pragma once

#include <string>
#include <vector>

#include "hil-harness/trace/signal.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

struct TraceColumn {
  SignalInfo info;
  std::string unit;
  std::vector<double> values;  ///< info.width for each row
};

struct TracePart {
  std::vector<double> times;  ///< s since the start
  std::vector<TraceColumn> columns;
};

struct PartRequest {
  std::string run;
  std::vector<std::string> signals, units;  ///< names, several between commas; signal=unit
  std::string from, to, every;              ///< durations; empty: all
};

/// With `every`, the first recorded row in each such span; nothing is interpolated.
scenarios::Result<TracePart> read_part(const PartRequest& request);

/// `mode` as a word, several words of a mask with ` + ` between; a number in as many digits as it needs; NaN: nothing.
std::string cell_text(const TraceColumn& column, double value);

/// RFC 4180: lines end with CR LF, what holds a comma, a quote or an end of line stands in quotes. The first line has
/// names and units, `coke_margin (V)`; of a signal with several places one column each, `zone_temperature[1] (K)`.
std::string csv_of(const TracePart& part);

struct ChartSize {
  std::size_t width, height;
  bool ascii;
};
/// A chart of text for one column: value upwards with its unit, time since the start to the right. Each column of the
/// chart spans a stretch of time and is filled from the least to the greatest value in it.
std::string chart_of(const TracePart& part, const TraceColumn& column, const ChartSize& size);

}  // namespace duskline::harness
