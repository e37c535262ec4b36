/// Substitution: a suspect or lost measurement is replaced by what the others say it should be.
///
/// What it is   the step between reading and estimating; a replaced value counts as present
/// Equation     y_i = estimate_i of the tick before; one cell alone: what the other taps lack of the stack
/// Symbols      as in detect.hpp
/// Validity     only with detection = 2 and an estimate that is usable; otherwise the reading stays
/// Left out     how the deviation of an estimate grows with time (estimate/coke.hpp has that of a cell)
#pragma once

#include "controller/detect/detect.hpp"

namespace duskline::controller {

inline Signals substitute(const Detection& d, const ctl_params& p, const Signals& raw) {
  Signals y = raw;
  if (p.detection < 1.5f) return y;
  for (uint32_t word = 0; word < 2; ++word)
    each_bit(d.suspect[word] & d.usable[word], 32 * word, [&](uint32_t i) {
      y.value[i] = d.estimate[i];
      y.lost &= ~bit_of(i);
    });
  if (by_difference(d, raw))
    for (uint32_t k = in_cell_voltage; k <= in_cell_voltage_last; ++k)
      if (in_set(d.suspect, k)) {
        const float whole = raw[in_stack_voltage] * (1.0f + d.residuals.as_built[r_taps]);
        y.value[k] += (whole - stack_voltage(p, y)) / p.cells_per_tap;
      }
  return y;
}

/// For whatever learns from a reading or closes a loop over it: a replaced one counts as missing. Nothing adapts to a
/// reference that is itself suspect, and no loop closes over its own estimate. A cell by difference is measured, by the
/// meter of the stack.
inline Signals trusted(const Detection& d, const ctl_params& p, const Signals& raw, const Signals& y) {
  Signals seen = y;
  if (p.detection < 1.5f) return seen;
  constexpr uint64_t kTaps = ((uint64_t{1} << CTL_CELLS) - 1u) << in_cell_voltage;
  seen.lost |= suspect_mask(d) & ~(by_difference(d, raw) ? kTaps : 0u);
  return seen;
}

/// Deviations of what stands in for a reading (estimates).
inline constexpr float kReplacedFeed = 0.03f;  // 1, of a feed by what the others say
inline constexpr float kReplacedInlet = 0.3f;  // 1, of an inlet CO that no analyser confirms
inline void widen(Gas& g, const Signals& seen) {
  if (!seen.has(in_feed_flow)) g.flow_sigma = root_of_squares(g.flow_sigma, kReplacedFeed);
  if (!seen.has(in_outlet_co_fraction))
    g.inlet_sigma = root_of_squares(g.inlet_sigma, kReplacedInlet * g.inlet_co);
}

}  // namespace duskline::controller
