/// The taps of the cells against the voltage of the whole stack.
///
/// What it is   what any cell may stand above its reading; a lost cell by difference; when a tap hides a weak cell
/// Equation     shortfall = low-pass of max(0, U - sum of the taps); U_k = U - sum of the other taps
/// Symbols      U [V] stack, as many cells of it as there are taps
/// Validity     where the stack has voltage and its meter is fitted and not suspect
/// Source       Kirchhoff's voltage law; times and bounds are design, docs/models/detection.md
/// Left out     two taps that are wrong in opposite directions
#pragma once

#include "controller/detect/detection.hpp"

namespace duskline::controller {

inline constexpr uint32_t kWeakCell = CTL_CELL_STARVED | CTL_CELL_RESISTIVE;

inline uint32_t suspect_taps(const Detection& d) {
  uint32_t taps = 0;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) taps += in_set(d.suspect, in_cell_voltage + k) ? 1u : 0u;
  return taps;
}

/// One tap alone is suspect, the others and the meter of the stack are read and are not: what the others lack of the stack is
/// the voltage of that cell.
inline bool by_difference(const Detection& d, const Signals& raw) {
  if (suspect_taps(d) != 1 || !raw.has(in_stack_voltage) || in_set(d.suspect, in_stack_voltage)) return false;
  for (uint32_t k = in_cell_voltage; k <= in_cell_voltage_last; ++k)
    if (!raw.has(k) && !in_set(d.suspect, k)) return false;
  return true;
}

/// Taps that lack some of the stack's voltage while a cell is weak: its own tap may be the one, and hide how weak it is.
inline bool may_hide(const Detection& d, const Signature& s) {
  return s.suspect == in_stack_voltage && s.down != 0 && (d.diagnosed & kWeakCell) != 0;
}

/// A weak cell whose excess over the others falls with the current is no tap that reads low, as long as it still stands
/// above them.
inline bool recovers(const Detection& d, const Signature& s) {
  if (s.suspect < in_cell_voltage || s.suspect > in_cell_voltage_last) return false;
  return d.residuals.smooth[r_cell_0 + s.suspect - in_cell_voltage] > kLean;
}

/// The taps against the voltage of the whole stack; which of them reads low, the sum does not say.
inline void test_taps(Detection& d, const Residuals& z, uint32_t blind, float period) {
  const bool compared = (z.counts & ~blind & bits(r_taps)) != 0;
  const float time = (d.diagnosed & kWeakCell) != 0 ? kShortfallWeak : kShortfallTime;
  d.shortfall = compared ? low_pass(d.shortfall, max_of(0.0f, -z.left[r_taps]), period, time) : 0.0f;
}

/// V that any one cell may stand above its tap: any of them may be the one that reads low.
inline float above_tap(const Detection& d, const ctl_params& p, const Signals& y) {
  if (p.detection < 1.5f) return 0.0f;
  const bool wrong = d.residuals.sum[r_taps].down > kSumAlarm;
  return wrong ? d.shortfall : max_of(0.0f, d.shortfall - kTapsAllowed * taps_sigma(p, y));
}

}  // namespace duskline::controller
