/// report.html of a search: verdict, gains, held-out comparison, trade-off front, margins, traces before and after.
///
/// One file without a script or a network; same result, same bytes.
#pragma once

#include <string>

#include "hil-harness/tune/tune.hpp"

namespace duskline::harness {

/// A few signals of the first scenario, on its own plant, under one set of gains.
struct Sampled {
  std::vector<double> hours;
  std::vector<std::vector<double>> values;  ///< in the order of kShown
};
Sampled sample_run(const scenarios::Case& c);

std::string tune_page(const TuneTask& task, const TuneResult& result, const Sampled& before,
                      const Sampled& after);

}  // namespace duskline::harness
