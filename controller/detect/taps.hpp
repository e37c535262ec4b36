/// A voltage tap that steps below what its cell can do.
///
/// What it is   change of a cell voltage within a tick against that of the other cells
/// Equation     suspect when for more than half of the cells dV_j - dV_k > V_step + R_step (|dI| + |dI_command|)
/// Symbols      dV [V], dI [A] since the tick before
/// Validity     cells that are compared: hot, with flow and current. Gas and heat of a cell follow in seconds and
///              minutes, so that with a current that stands its voltage cannot fall at once
/// Source       noise of a tap: 0.5 mV of its sheet, 1 mV between two changes, of which 8 mV are eight; 0.2 V/A is
///              eight times the slope of a cell in order (estimate: a cell that is short of gas is steeper)
/// Left out     a tap that drifts; a step upwards, which is the cautious side
#pragma once

#include "controller/detect/detection.hpp"

namespace duskline::controller {

inline constexpr float kTapStep = 0.008f;         // V
inline constexpr float kTapStepByCurrent = 0.2f;  // V/A

/// While `before` still holds the readings of the tick before.
inline void test_taps(Detection& d, const DetectInput& x, const Relations& rel, uint32_t compared) {
  const auto change = [&](uint32_t i) { return x.signals.good[i] - d.before[i]; };
  const float by_command = rel.current - d.expected_current;
  const float tolerance =
      kTapStep + kTapStepByCurrent * (abs_of(change(in_stack_current)) + abs_of(by_command));
  d.expected_current = rel.current;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    const uint32_t tap = in_cell_voltage + k;
    if ((compared & (1u << (r_cell_0 + k))) == 0 || !x.raw.has(tap)) continue;
    uint32_t above = 0;
    for (uint32_t j = 0; j < CTL_CELLS; ++j)
      above += change(in_cell_voltage + j) - change(tap) > tolerance ? 1u : 0u;
    if (2 * above <= CTL_CELLS) continue;
    put_in(d.suspect, tap, true);
    d.clean[tap] = 0;
  }
}

}  // namespace duskline::controller
