/// The cascade with set-points that the estimates decide.
///
/// What it is   a slow integral loop moves the utilisation set-point both ways, so that the coke margin
///              stands at a reserve above the margin at which the current gives way; that margin is a number
///              of standard deviations of its estimate
/// Equation     dU/dt = g (margin - reserve), bounded; margin kept = clamp(k sigma, least, most)
/// Symbols      U [1] utilisation set-point, margin [V], sigma [V]
/// Validity     as the cascade, which it becomes when nothing is estimated
/// Source       valve-position control and override control of the textbooks; tuning SIMC (Skogestad 2003)
/// Left out     search for the least power: the highest set-point of utilisation stands for it; the density ahead
///              (docs/decisions/predictive-law.md)
#pragma once

#include "controller/laws/cascade.hpp"

namespace duskline::controller {

/// Coke margin at which the set-point of utilisation rests, V. Where power is what is short, or the speed has no
/// room, the flow is not worth a reserve.
constexpr float margin_reserve(const LawInput& in) {
  const ctl_params& p = in.params;
  const float kept = margin_setpoint(in);
  const bool short_of_power = in.active_limiter == CTL_BY_POWER || in.active_limiter == CTL_BY_VOLTAGE;
  return kept + (short_of_power ? 0.5f : 1.0f) * p.margin_reserve;
}

inline void trim_utilisation(LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  if (in.wanted_by == CTL_BY_MODE) return relieve_margin(m, in);
  const float short_by = margin_reserve(in) - in.coke.margin;
  const float rate =
      clamp(p.relief_gain * short_by, -p.saving_rate, p.relief_gain * (p.relief_margin + in.added_margin));
  // more flow is no remedy once the speed is at its highest
  if (m.saturated != 0.0f && rate > 0.0f) return;
  m.utilisation_relief =
      clamp(m.utilisation_relief + p.period * rate, p.utilisation_setpoint - p.utilisation_saving,
            p.utilisation_setpoint - p.utilisation_min);
}

inline LawOutput adaptive_law(LawMemory& m, const LawInput& in) {
  trim_utilisation(m, in);
  return run_loops(m, in);
}

}  // namespace duskline::controller
