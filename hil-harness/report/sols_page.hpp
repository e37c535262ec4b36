/// The page of a long run: sol by sol, and the limit in force over hour of the sol and season.
///
/// What it is   figures, curves over sols and two maps, drawn from the statistics of the run (loop/sols.hpp)
/// Equation     hours to a service: (limit - value at the end)/slope of a straight line through the latest rows, least
///              squares; the stack: (least margin of the latest rows - margin kept)/(slope of its ageing times current
///              density)
/// Symbols      slope per hour of the run; a value that fell by a tenth of its limit or more was serviced there: only
///              rows after it count
/// Validity     a cell of a map shows what was longest in force in that hour
/// Left out     what lies within an hour; the trace has it
#pragma once

#include <string>

#include "controller/include/controller.h"
#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

struct SolsInfo {
  std::string title, purpose, law;
  ctl_params controller{};
  double cell_area{};  ///< m2
};

/// Pressure lost in the filter over that of a clean one, at which it is cleaned. [estimate] double.
inline constexpr double kFilterService = 2.0;

/// Writes the page from the file of statistics.
Outcome write_sols_page(const std::string& sols_path, const SolsInfo& info, const std::string& out_path);

}  // namespace duskline::harness
