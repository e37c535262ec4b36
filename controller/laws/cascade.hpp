/// The autonomous law: flow follows the wanted current, current follows what the plant allows.
///
/// What it is   utilisation to flow (static), flow to feed device (PI, feed-forward); current by least selection
/// Equation     F = M N I e/(2F U x_CO2); command = curve of feed.hpp at F led from plenum lag to response + PI; I
///              = least of wanted, U_max n x_CO2 2F/(N e), PI(margin), PI(voltage), PI(power) U falls from
///              its set-point by slope (relief margin - margin), slowly
/// Symbols      F [kg/s] feed flow, U [1] utilisation, I [A]
/// Validity     any state; every loop that is not selected tracks the current applied
/// Source       override control and cross-limiting of the textbooks; tuning SIMC (Skogestad 2003)
/// Left out     prediction of density
#pragma once

#include "controller/laws/law.hpp"

namespace duskline::controller {

constexpr PiGains flow_gains(const ctl_params& p) {
  return {p.flow_gain, p.flow_integral_time, p.flow_integral_time, 1.0f};
}
/// A cold cell answers a current with many times the volts: the gains fall with its conductance.
constexpr float cold_cell(const LawInput& in) {
  return min_of(1.0f, 1.0f / arrhenius(in.params.cathode_energy, in.temperature));
}
constexpr PiGains margin_gains(const LawInput& in) {
  const ctl_params& p = in.params;
  return {p.margin_gain * cold_cell(in), p.margin_time, p.margin_time, 1.0f};
}
constexpr PiGains voltage_gains(const LawInput& in) {
  const ctl_params& p = in.params;
  return {p.voltage_gain * cold_cell(in), p.voltage_time, p.voltage_time, 1.0f};
}
constexpr PiGains power_gains(const ctl_params& p) {
  return {p.power_gain, p.power_time, p.power_time, 1.0f};
}

constexpr float utilisation_setpoint(const ctl_params& p, const LawMemory& m) {
  return clamp(p.utilisation_setpoint - m.utilisation_relief, p.utilisation_min, p.utilisation_max);
}

/// Coke margin that the override keeps, V: a number of standard deviations, so that the cautious end of what is possible
/// stays positive; a law that does not adapt never keeps less than its own number.
constexpr float margin_setpoint(const LawInput& in) {
  const ctl_params& p = in.params;
  if (!(in.coke_sigma > 0.0f)) return p.margin_setpoint + in.added_margin;
  const float least = in.adapts ? p.margin_min : p.margin_setpoint;
  return in.added_margin + clamp(p.margin_sigmas * in.coke_sigma, least, max_of(least, p.margin_max));
}

/// Feed flow that this current needs at the set-point of utilisation, kg/s.
constexpr float flow_for_current(const LawInput& in, float utilisation, float current) {
  return converted(in.params, current) / (utilisation * in.gas.inlet_co2) * in.gas.molar_mass;
}

/// Static set-point with lead: the open loop answers with flow_response instead of plenum_lag.
constexpr float flow_feed_forward(const ctl_params& p, const LawMemory& m) {
  const float lead = p.plenum_lag / p.flow_response - 1.0f;
  return m.feed_setpoint + max_of(0.0f, lead) * (m.feed_setpoint - m.flow_reference);
}

/// Takes the flow loop over at the command given, without a bump.
inline void align_flow(LawMemory& m, const LawInput& in, float command) {
  m.flow_reference = in.feed_flow;
  pi_align(m.flow, flow_gains(in.params), m.flow_reference, in.feed_flow, flow_feed_forward(in.params, m),
           in.feed.flow(command));
}

/// The overrides of the current begin where it stands.
constexpr void align_current(LawMemory& m, const LawInput& in, float current) {
  const ctl_params& p = in.params;
  pi_align(m.margin, margin_gains(in), -margin_setpoint(in), -in.coke.margin, 0.0f, current);
  pi_align(m.voltage, voltage_gains(in), p.voltage_max, in.coke.highest_voltage, 0.0f, current);
  if (is_finite(in.power_ceiling) && in.signals.has(in_bus_power))
    pi_align(m.power, power_gains(p), in.power_ceiling, in.signals[in_bus_power], 0.0f, current);
}

/// A short margin brings a lower set-point of utilisation.
inline void relieve_margin(LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  const float missing = max_of(0.0f, p.relief_margin + in.added_margin - in.coke.margin);
  const float relief = min_of(p.relief_slope * missing, p.utilisation_setpoint - p.utilisation_min);
  // more flow is no remedy once the speed is at its highest
  if (m.saturated == 0.0f || relief < m.utilisation_relief)
    m.utilisation_relief = low_pass(m.utilisation_relief, max_of(0.0f, relief), p.period, p.relief_time);
}

/// Largest flow set-point: the exhaust is choked, so the cathode pressure goes with the feed. The current that
/// flows keeps its feed: a full cathode takes the current down first (supervise/derate.hpp).
inline float flow_held_by_pressure(const LawInput& in) {
  const ctl_params& p = in.params;
  if (!feed_row(p).compressor) return p.flow_max;  // the headers hold the pressure
  if (!in.signals.has(in_cathode_pressure) || !(in.signals[in_cathode_pressure] > 0.3f * p.cathode_derate))
    return p.flow_max;
  constexpr float kRoom = 0.95f;  // for gusts and noise below the derating
  const float held = in.feed_flow * (kRoom * p.cathode_derate / in.signals[in_cathode_pressure]);
  const float needed = flow_for_current(in, p.utilisation_setpoint, in.applied_current);
  return min_of(p.flow_max, max_of(held, needed));
}

/// Set-point of flow for this tick.
inline void set_feed(LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  // flow leads the current that is wanted, except where more flow could not bring it
  const bool beyond_flow = in.active_limiter == CTL_BY_POWER || in.active_limiter == CTL_BY_VOLTAGE;
  const float current = beyond_flow ? in.applied_current : max_of(in.wanted_current, in.applied_current);
  const float flow =
      min_of(flow_held_by_pressure(in),
             max_of(p.flow_protective, flow_for_current(in, utilisation_setpoint(p, m), current)));
  // CO2 alone oxidises nickel: the flow waits, small, until the recycled CO has arrived
  const float most = in.unprotected ? max_of(p.flow_start, m.feed_setpoint) : p.flow_max;
  m.feed_setpoint = min_of(min_of(flow, most), m.feed_setpoint + p.flow_rate * p.period);
}

inline float flow_loop(LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  const float feed_forward = flow_feed_forward(p, m);
  const float flow = in.signals.has(in_feed_flow)
                         ? pi_output(m.flow, flow_gains(p), m.flow_reference, in.feed_flow, feed_forward)
                         : pi_open(m.flow, feed_forward);
  m.flow_reference = low_pass(m.flow_reference, m.feed_setpoint, p.period, p.flow_response);
  return in.feed.command(flow);
}

/// Largest current that the measured feed can carry, A. A falling feed counts at once, a rising one filtered.
inline float starvation_limit(const LawInput& in) {
  const ctl_params& p = in.params;
  const float raw = in.signals[in_feed_flow];
  const float fallen = in.feed_flow > 0.0f ? clamp(raw / in.feed_flow, 0.0f, 1.0f) : 0.0f;
  const float feed = in.gas.feed > kLeastFeed ? fallen * in.gas.feed : 0.0f;
  const float most = in.wanted_by != CTL_BY_MODE ? p.utilisation_max : p.protective_utilisation;
  return most * feed * in.gas.inlet_co2 / converted(p, 1.0f);
}

/// Where the loops begin: from rest, or without a bump where something else had speed or current until now.
inline void begin_loops(LawMemory& m, const LawInput& in) {
  if (in.from_rest) {
    m.flow = Pi{};
    m.flow_reference = m.feed_setpoint = in.feed_flow;
  } else if (in.takes_over) {
    align_flow(m, in, in.applied_feed);
  }
  if (in.takes_over_current) align_current(m, in, in.applied_current);
}

/// Flow and current, once the set-point of utilisation is known.
inline LawOutput run_loops(LawMemory& m, const LawInput& in) {
  set_feed(m, in);
  begin_loops(m, in);
  const ctl_params& p = in.params;
  LawOutput output{flow_loop(m, in), in.wanted_current, in.wanted_by};
  const auto offer = [&output](float current, uint32_t limiter) {
    if (!(current < output.current)) return;
    output.current = current;
    output.limiter = limiter;
  };
  offer(starvation_limit(in), CTL_BY_UTILISATION);
  offer(pi_output(m.margin, margin_gains(in), -margin_setpoint(in), -in.coke.margin), CTL_BY_COKE_MARGIN);
  offer(pi_output(m.voltage, voltage_gains(in), p.voltage_max, in.coke.highest_voltage), CTL_BY_VOLTAGE);
  if (is_finite(in.power_ceiling) && in.signals.has(in_bus_power))
    offer(pi_output(m.power, power_gains(p), in.power_ceiling, in.signals[in_bus_power]), CTL_BY_POWER);
  else
    pi_open(m.power, 0.0f);
  return output;
}

inline LawOutput cascade_law(LawMemory& m, const LawInput& in) {
  relieve_margin(m, in);
  return run_loops(m, in);
}

/// Back-calculation: every loop learns what was applied after all later stages.
inline void law_applied(LawMemory& m, const LawInput& in, float feed, float current) {
  const ctl_params& p = in.params;
  pi_track(m.flow, flow_gains(p), p.period, in.feed.flow(feed));
  pi_track(m.margin, margin_gains(in), p.period, current);
  pi_track(m.voltage, voltage_gains(in), p.period, current);
  pi_track(m.power, power_gains(p), p.period, current);
  m.saturated = feed >= p.*feed_row(p).most ? 1.0f : 0.0f;
}

}  // namespace duskline::controller
