/// Derating: less is made while a limit is near, so that the interlock need not act.
///
/// What it is   the share of the wanted current beyond the protective one that is left
/// Equation     s = least over the causes of clamp((x_e - x)/(x_e - x_s), 0, 1), x_e = x_s + 0.9 (x_trip -
///              x_s); s falls at once and rises by no more than period/recovery a tick
/// Symbols      x shell temperature [K], cathode pressure [Pa], spread [K], bus voltage [V]; s [1]
/// Validity     any state; a lost measurement derates nothing (its own response does)
/// Source       slopes instead of steps, slow recovery against cycling
/// Left out     the fixed law, which gets no derating
#pragma once

#include "controller/supervise/interlocks.hpp"

namespace duskline::controller {

/// 1 at `start`, 0 at nine tenths of the way to `trip`; either direction.
constexpr float derate_slope(float x, float start, float trip) {
  const float room = 0.9f * (trip - start);
  if (room == 0.0f) return (trip > start ? x > start : x < start) ? 0.0f : 1.0f;
  return clamp(1.0f - (x - start) / room, 0.0f, 1.0f);
}

/// The share that the state of the plant and the response leave.
inline float derated_share(const Facts& f) {
  const ctl_params& p = f.params;
  const Signals& y = f.signals;
  float share = f.response == CTL_RESPOND_DERATE ? p.derate_share : 1.0f;
  const auto near = [&](bool known, float x, float start, float trip) {
    if (known) share = min_of(share, derate_slope(x, start, trip));
  };
  near(y.has(in_compressor_temperature), y[in_compressor_temperature],
       min_of(p.shell_derate, p.compressor_max), p.compressor_max);
  near(y.has(in_cathode_pressure), y[in_cathode_pressure], min_of(p.cathode_derate, p.cathode_pressure_max),
       p.cathode_pressure_max);
  near(true, f.thermal.hottest - f.thermal.coldest, min_of(p.spread_derate, p.spread_max), p.spread_max);
  near(y.has(in_bus_voltage), y[in_bus_voltage], max_of(p.bus_derate, p.bus_min), p.bus_min);
  return share;
}

/// The share in force: down at once, up slowly. Kept as what is missing, so that a memory of zeros means all.
inline float derate(float& missing, const Facts& f) {
  const float least = missing - f.params.period / f.params.derate_recovery;
  missing = clamp(1.0f - derated_share(f), max_of(0.0f, least), 1.0f);
  return 1.0f - missing;
}

/// What the laws keep beyond every margin while a diagnosis derates or the model is suspect, V.
constexpr float added_margin(const ctl_params& p, uint32_t response) {
  return response == CTL_RESPOND_WIDEN || response == CTL_RESPOND_DERATE ? p.derate_margin : 0.0f;
}

}  // namespace duskline::controller
