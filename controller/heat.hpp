/// Heater loops: the ramped set-point, two end plates and the preheater.
///
/// What it is   a set-point ramped at a limit and held back when the stack does not follow evenly; an outer
///              PI shifts the end plates so that the stack mean meets it; inner PIs set the powers
/// Equation     |dT_sp/dt| <= ramp; T_end = T_sp + trim; P = loss (T_sp - T_env) + C dT_sp/dt + Q + PI
/// Symbols      T [K], P [W], ramp [K/s], trim [K] answer of the outer loop, C [J/K]; Q [W] heat that the
///              reaction draws beyond the power into the cells: N I (1.464 V) - P_cells
/// Validity     any temperature; a heater whose own thermometer is lost or too hot is off. No loop closes over an
///              estimate that its own output drives: without its thermometer an end takes the power of the other
///              one, without both the mean of the two moves with the trim alone; what makes the zones at both ends
///              alike is added. The preheater stands still
/// Source       cascade and back-calculation of the textbooks; tuning SIMC (Skogestad 2003)
/// Left out     balance between the two ends beyond their own loops; ageing of heaters
#pragma once

#include "controller/estimate/composition.hpp"
#include "controller/laws/pi.hpp"
#include "controller/signals.hpp"

namespace duskline::controller {

struct HeatMemory {
  float setpoint;    // K, ramped
  float rate;        // K/s, smoothed rate of the set-point
  float other_load;  // W drawn from the bus by all but heaters and cells, filtered
  Pi stack;          // outer loop: trim of the end plates
  Pi end[CTL_ENDS];
  Pi preheater;
  float power;   // W applied to all heaters at the last tick
  float output;  // W that they would take without a ceiling
};

struct HeatInput {
  const ctl_params& params;
  const Signals& signals;
  const Signals& seen;  // as signals, what is replaced counts as missing
  float mean;           // K of the zones
  float spread;         // K between zones
  float target;         // K that the set-point moves to
  float power_ceiling;  // W, NaN without one
  float stack_power;    // W into the cells: it is shed before the heaters are
  float current;        // A of the stack: the reaction draws heat beyond the power into the cells
  bool enabled;         // heaters may be energised at all
};

struct HeatOutput {
  float end[CTL_ENDS];
  float preheater;
};

constexpr float kRateSmoothing = 120.0f;  // s, so that the feed-forward does not start with a step
constexpr float kLoadSmoothing = 30.0f;   // s
constexpr float kThermoneutral = 1.464f;  // V, CO2 -> CO + 1/2 O2 at 1073 K, enthalpy over 2F

/// Moves the set-point towards its target; never further from the stack than the lead.
inline void ramp_setpoint(HeatMemory& m, const HeatInput& in) {
  const ctl_params& p = in.params;
  const float step = p.ramp * p.period;
  const float before = m.setpoint;
  if (in.target > m.setpoint) {
    const bool follows = in.mean > m.setpoint - p.ramp_lead && in.spread < p.spread_hold;
    if (follows) m.setpoint = min_of(in.target, m.setpoint + step);
  } else {
    const float lowest = max_of(in.target, min_of(m.setpoint, in.mean - p.ramp_lead));
    m.setpoint = max_of(lowest, m.setpoint - step);
  }
  m.rate = low_pass(m.rate, (m.setpoint - before) / p.period, p.period, kRateSmoothing);
}

/// Inner loops of the end plates.
inline void run_ends(HeatMemory& m, const HeatInput& in, const PiGains& gains, float trim, float trim_step,
                     float share) {
  static_assert(CTL_ENDS == 2, "each end has one other");
  constexpr uint32_t kFirst = in_zone_temperature, kLast = in_zone_temperature_last;
  const Signals& y = in.seen;
  const auto seen = [&y](uint32_t k) { return y.has(in_end_temperature + k); };
  const auto power = [&](uint32_t k) { return clamp(m.end[k].output, 0.0f, in.params.end_power_max); };
  const float mean = 0.5f * (power(0) + power(1)) + gains.gain * trim_step;  // of the tick before
  for (uint32_t k = 0; k < CTL_ENDS; ++k)
    if (seen(k)) pi_output(m.end[k], gains, m.setpoint + trim, y[in_end_temperature + k], share);
  const float alone = seen(0) ? m.end[0].output : seen(1) ? m.end[1].output : mean;
  const float lean = y.has(kFirst) && y.has(kLast) ? 0.5f * gains.gain * (y[kLast] - y[kFirst]) : 0.0f;
  for (uint32_t k = 0; k < CTL_ENDS; ++k)
    if (!seen(k)) pi_align(m.end[k], gains, 0.0f, 0.0f, share, k == 0 ? alone + lean : alone - lean);
}

inline HeatOutput run_heat(HeatMemory& m, const HeatInput& in) {
  const ctl_params& p = in.params;
  const Signals& y = in.signals;
  ramp_setpoint(m, in);

  // outer loop: stack mean to trim of the end plates
  const PiGains stack_gains{p.stack_gain, p.stack_time, p.stack_time, 1.0f};
  const float trim_before = clamp(m.stack.output, -p.stack_trim, p.stack_trim);
  const float trim_wish = pi_output(m.stack, stack_gains, m.setpoint, in.mean);
  const float trim = clamp(trim_wish, -p.stack_trim, p.stack_trim);

  // inner loops
  const float surroundings =
      y.has(in_housing_temperature) ? y[in_housing_temperature] : y[in_ambient_temperature];
  const float reaction = cells_in_series(p) * kThermoneutral * in.current - in.stack_power;
  const float need = p.heat_loss * (m.setpoint - surroundings) + p.heat_capacity * m.rate +
                     (in.current > 0.0f ? reaction : 0.0f);
  const PiGains preheater_gains{p.preheater_gain, p.preheater_time, p.preheater_time, 1.0f};
  const PiGains end_gains{p.end_gain, p.end_time, p.end_time, 1.0f};
  HeatOutput out{};
  const auto usable = [&](uint32_t thermometer, float most) {
    return in.enabled && y.has(thermometer) && y[thermometer] < most;
  };
  const float preheater_setpoint = min_of(m.setpoint, p.preheater_max - 30.0f);
  const float preheater_wish =
      in.seen.has(in_preheater_temperature)
          ? pi_output(m.preheater, preheater_gains, preheater_setpoint, y[in_preheater_temperature])
          : pi_open(m.preheater, 0.0f);
  if (usable(in_preheater_temperature, p.preheater_max))
    out.preheater = clamp(preheater_wish, 0.0f, p.preheater_power_max);
  const float share = max_of(0.0f, need - out.preheater) / static_cast<float>(CTL_ENDS);
  float total = out.preheater;
  run_ends(m, in, end_gains, trim, trim - trim_before, share);
  for (uint32_t k = 0; k < CTL_ENDS; ++k) {
    if (usable(in_end_temperature + k, p.end_max)) out.end[k] = clamp(m.end[k].output, 0.0f, p.end_power_max);
    total += out.end[k];
  }

  // one total for all, less what the rest of the plant draws from a bus with a ceiling; the power override of
  // the current sheds the cells first
  float available = p.heater_total_max;
  m.output = min_of(total, available);
  if (y.has(in_bus_power)) {
    const float load = max_of(0.0f, y[in_bus_power] - m.power - in.stack_power);
    m.other_load = m.other_load == 0.0f ? load : low_pass(m.other_load, load, p.period, kLoadSmoothing);
  }
  if (is_finite(in.power_ceiling)) {
    available = clamp(in.power_ceiling - m.other_load, 0.0f, available);
    // until current and speed have come down the heaters give way, for a tick or two
    const float excess = y.has(in_bus_power) ? y[in_bus_power] - in.power_ceiling - p.ceiling_headroom : 0.0f;
    if (excess > 0.0f) available = min_of(available, max_of(0.0f, m.power - excess));
  }
  const float scale = total > available ? available / total : 1.0f;
  out.preheater *= scale;
  float shortfall = 0.0f;
  pi_track(m.preheater, preheater_gains, p.period, out.preheater);
  for (uint32_t k = 0; k < CTL_ENDS; ++k) {
    out.end[k] *= scale;
    shortfall += (m.end[k].output - out.end[k]) / static_cast<float>(CTL_ENDS);
    pi_track(m.end[k], end_gains, p.period, out.end[k]);
  }
  m.power = out.preheater;
  for (const float power : out.end) m.power += power;
  // the outer loop tracks the trim that the powers could follow
  pi_track(m.stack, stack_gains, p.period,
           p.end_gain > 0.0f ? clamp(trim - shortfall / p.end_gain, -p.stack_trim, p.stack_trim) : trim);
  return out;
}

/// Heaters off, or the first tick: the loops wait at the temperature the stack has.
constexpr HeatMemory initial_heat(float mean) {
  HeatMemory m{};
  m.setpoint = mean;
  return m;
}

}  // namespace duskline::controller
