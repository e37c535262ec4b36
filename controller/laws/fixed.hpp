/// The baseline: speed and current tabulated before the run, as one does without autonomy.
///
/// What it is   a table of times, speeds and currents, each row held until the next
/// Equation     row = last one whose time is not later than the elapsed time
/// Symbols      time [s] since the start of the run, speed [rad/s], current [A]
/// Validity     1 to CTL_TABLE_ROWS rows with rising times; before the first row the first one holds
/// Left out     any use of a measurement (interlocks, limits and rates still act)
#pragma once

#include "controller/laws/cascade.hpp"

namespace duskline::controller {

inline LawOutput fixed_law(LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  cascade_law(m, in);  // its loops track, so that another law may take over
  uint32_t row = 0;
  while (row + 1 < p.table_rows && p.table_time[row + 1] <= in.elapsed) ++row;
  return {p.table_speed[row], p.table_current[row], CTL_BY_TABLE};
}

}  // namespace duskline::controller
