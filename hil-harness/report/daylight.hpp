/// Day, dusk, night and dawn of a run, and its local solar time.
///
/// The sun stands at `elevation` above the horizon. Below -6 degrees it is night; between -6 and +6 degrees
/// it is dawn or dusk, when ambient density changes fastest. Between rows the elevation is taken as linear.
#pragma once

#include <span>
#include <string>
#include <vector>

namespace duskline::harness {

struct Interval {
  std::string kind;  ///< "night", "dawn" or "dusk"
  double from;       ///< s
  double to;         ///< s
};

std::vector<Interval> dark_intervals(std::span<const double> times, std::span<const double> elevation);

/// Local time counted on through midnights: fractions of a sol in, local hours out.
std::vector<double> unwrapped_hours(std::span<const double> fraction_of_sol);

}  // namespace duskline::harness
