/// Anti-surge: the margin from the instruments, the valve, and what counts as a surge.
///
/// What it is   the guard of laws/surge_guard.hpp on the margin of intake.hpp; where the flow is not measured the valve is
///              open and surges are counted by the discharge pressure; feed that is shut off opens the valve ahead
/// Equation     SM = m_c/m_s(r) - 1; half a surge: the flow half of the way from surge to nothing (reverse is beyond it),
///              or p < (1 - d) p_slow; the other half: the margin above 0, or p > p_slow
/// Symbols      d [1] surge_pressure_drop, p_slow [Pa] discharge pressure behind a filter of kSlow
/// Validity     a running machine that has a surge line; others keep the valve shut
/// Source       as laws/surge_guard.hpp
/// Left out     distinction of surge and stall
#pragma once

#include "controller/estimate/filters.hpp"
#include "controller/laws/surge_guard.hpp"
#include "controller/plant/intake.hpp"

namespace duskline::controller {

struct SurgeMemory {
  SurgeGuard guard;
  float slow_pressure;   // Pa, 0 before the first
  float pressure_since;  // s since the first fall of the pressure that counts
  uint32_t pressure_low, pressure_falls;
  uint32_t taken_over;  // 1 after the first tick with a running machine
};

struct SurgeView {
  float margin;   // 1, NaN unknown
  float flow;     // kg/s at surge
  float opening;  // 1, of the anti-surge valve
  bool trip;
};

inline constexpr float kSlow = 10.0f;  // s

constexpr SurgeGuardSettings surge_settings(const ctl_plant_params& p) {
  SurgeGuardSettings s;
  s.control_line = p.surge_line;
  s.open_line = p.surge_open_line;
  s.gain = p.surge_gain;
  s.integral_time = p.surge_time;
  s.close_time = p.surge_close_time;
  s.rate_time = p.surge_rate_time;
  s.open_step = p.surge_open_step;
  return s;
}

/// Falls of the discharge pressure that come back.
inline void count_pressure_falls(SurgeMemory& m, const ctl_plant_params& p, const PlantSignals& y,
                                 const SurgeGuardSettings& s) {
  const float pressure = y[rd_discharge_pressure];
  if (!y.has(rd_discharge_pressure)) return;
  if (m.slow_pressure == 0.0f) m.slow_pressure = pressure;
  m.pressure_since = min_of(m.pressure_since + p.period, 1e6f);
  if (m.pressure_since > s.window) m.pressure_falls = 0;
  if (m.pressure_low == 0 && pressure < (1.0f - p.surge_pressure_drop) * m.slow_pressure) {
    m.pressure_low = 1;
  } else if (m.pressure_low != 0 && pressure > m.slow_pressure) {
    m.pressure_low = 0;
    if (m.pressure_falls++ == 0) m.pressure_since = 0.0f;
  }
  m.slow_pressure = low_pass(m.slow_pressure, pressure, p.period, kSlow);
}

/// A header that is too full is relieved: it raises the pressure ratio, and the speed must not fall fast.
inline float relief_of(const ctl_plant_params& p, const PlantSignals& y, float setpoint) {
  if (!y.has(rd_feed_header_pressure)) return 0.0f;
  const float above = y[rd_feed_header_pressure] / max_of(1000.0f, setpoint) - 1.0f - p.relief_band;
  return clamp(p.relief_gain * above, 0.0f, 1.0f);
}

inline SurgeView guard_compressor(SurgeMemory& m, const ctl_plant_params& p, const PlantSignals& y,
                                  const Suction& suction, float feed_wanted, float header_setpoint,
                                  bool running) {
  const SurgeGuardSettings s = surge_settings(p);
  SurgeView v{__builtin_nanf(""), 0.0f, 1.0f, false};
  if (!kIntakes[p.intake].surges) {
    v.opening = running ? relief_of(p, y, header_setpoint) : 1.0f;
    return v;
  }
  if (!running) {  // open; the lines stay where they are
    const float shift = m.guard.shift;
    m = SurgeMemory{};
    m.guard.shift = shift;
    m.guard.opening = 1.0f;
    m.taken_over = 1;
    return v;
  }
  const float pressure = y.has(rd_discharge_pressure) ? y[rd_discharge_pressure] : y[rd_feed_header_pressure];
  v.flow = surge_flow_at(p, pressure / suction.pressure) / flow_correction(p, suction);
  if (y.has(rd_compressor_flow)) v.margin = y[rd_compressor_flow] / max_of(1e-6f, v.flow) - 1.0f;

  const float capacity = p.surge_capacity * max_of(1000.0f, pressure) / p.header_pressure;
  const float spilled = (1.0f + s.control_line + m.guard.shift) * v.flow - feed_wanted;  // at the line
  const float ahead = clamp(spilled / capacity, 0.0f, 1.0f);

  const bool harmless = pressure < p.surge_count_pressure;
  if (m.taken_over == 0 && is_finite(v.margin) && !harmless) {
    const float stands = (y[rd_compressor_flow] - feed_wanted) / capacity;
    take_guard_over(m.guard, s, v.margin, ahead, clamp(stands, 0.0f, 1.0f));
  }
  m.taken_over = 1;
  const float before = m.guard.opening;
  const float asked = guard_surge(m.guard, s, harmless ? __builtin_nanf("") : v.margin, ahead, p.period);
  if (is_finite(v.margin) || harmless)
    m.pressure_low = m.pressure_falls = 0, m.slow_pressure = 0.0f;
  else
    count_pressure_falls(m, p, y, s);
  v.trip = m.guard.trip != 0 || m.pressure_falls >= s.surges_to_trip;
  v.opening = max_of(max_of(asked, relief_of(p, y, header_setpoint)), before - p.period / p.surge_close_time);
  return v;
}

}  // namespace duskline::controller
