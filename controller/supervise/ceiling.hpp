/// The power ceiling of the bus: shed before it comes, within a tick or two when it comes unannounced.
///
/// What it is   the ceiling in force, and the current that it leaves; heaters keep what they need
/// Equation     P_c = least of now and next + slope t_until, less a headroom; I = (P_c + headroom - P_other -
///              P_heaters)/(sum of cell voltages); losses are in P_other
/// Symbols      P [W], slope [W/s], I [A]
/// Validity     any input; without a ceiling both are without effect
/// Source       order of shedding is oxygen, then flow, then for a tick heat
/// Left out     a ceiling below what standby takes: then heaters are cut and the stack cools
#pragma once

#include "controller/heat.hpp"

namespace duskline::controller {

inline constexpr float kForesight = 3600.0f;  // s, announcements further ahead wait

/// Ceiling that counts now, W; NaN or infinite: none.
inline float power_ceiling(const ctl_params& p, const ctl_inputs& in) {
  float ceiling = is_finite(in.power_ceiling) ? clamp(in.power_ceiling, 0.0f, 1e6f) : in.power_ceiling;
  const bool announced =
      is_finite(in.next_power_ceiling) && in.ceiling_in > 0.0f && in.ceiling_in < kForesight;
  if (announced) {
    const float ahead = clamp(in.next_power_ceiling, 0.0f, 1e6f) + p.shed_slope * in.ceiling_in;
    ceiling = is_finite(ceiling) ? min_of(ceiling, ahead) : ahead;
  }
  return is_finite(ceiling) ? max_of(0.0f, ceiling - p.ceiling_headroom) : ceiling;
}

/// Largest current under the ceiling by the powers known at this tick; never below the protective one, which the
/// override of the law may still lower.
inline float current_under_ceiling(const ctl_params& p, const Signals& y, const HeatMemory& heat,
                                   float ceiling) {
  if (!is_finite(ceiling) || !y.has(in_bus_power)) return p.current_max;
  float volts = 0.0f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) volts += max_of(0.5f, y[in_cell_voltage + k]);
  const float left = ceiling + p.ceiling_headroom - heat.other_load - heat.output;
  return max_of(p.protective_current, left / (volts * p.cells_per_tap));
}

}  // namespace duskline::controller
