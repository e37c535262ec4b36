/// Fourth step of a tick: powers of the heaters, feed and current, as heat loops and control law ask for them.
///
/// What it is   the wanted current from demand, mode and derating; the law that is in force and its answer
/// Symbols      speed [rad/s], current [A], power [W]
/// Validity     any mode
#pragma once

#include "controller/laws/table.hpp"
#include "controller/tick/supervise.hpp"

namespace duskline::controller {

struct Decision {
  HeatOutput powers;
  LawInput law_input;  // what the law saw
  uint32_t law;        // ctl_law in force
  LawOutput output;
};

inline constexpr float kColdTarget = 200.0f;  // K, where cool-down ends

inline float demanded_current(const Memory& m, const ctl_params& p, const ctl_inputs& in) {
  const bool usable = is_finite(in.oxygen_demand) && in.oxygen_demand > 0.0f;
  if (!usable) return 0.0f;
  const float by_parameter = current_for_oxygen(p, min_of(in.oxygen_demand, 1.0f));
  return min_of(p.current_max, by_parameter / (1.0f + m.calibration.efficiency));
}

inline float stack_power(const ctl_params& p, const Signals& y, float current) {
  return max_of(0.0f, current * stack_voltage(p, y));
}

inline HeatOutput decide_heat(Memory& m, const ctl_params& p, const Measured& s, const Supervised& v) {
  const Thermal& t = s.thermal;
  const uint32_t mode = v.modes.mode;
  // a current that hangs is safest where it is: the coke limit comes nearer as the stack cools
  const bool hangs = v.allow.hold_flow && (m.mode.tripped & CTL_OVER_TEMPERATURE) == 0;
  const bool down = (mode == CTL_COOL_DOWN || mode == CTL_SAFE) && !hangs;
  if (!kModes[mode].heaters) return {};
  return run_heat(m.heat, {.params = p,
                           .signals = s.y,
                           .seen = s.seen,
                           .mean = t.mean,
                           .spread = t.hottest - t.coldest,
                           .target = down ? kColdTarget : p.stack_setpoint,
                           .power_ceiling = v.power_ceiling,
                           .stack_power = stack_power(p, s.y, s.current),
                           .current = s.current,
                           .enabled = v.allow.heat});
}

/// The current that is wanted, and what to report when nothing holds it down.
struct Wanted {
  float current;  // A
  uint32_t by;    // ctl_limiter
};

inline Wanted wanted_current(Memory& m, const ctl_params& p, const ctl_inputs& in, const Supervised& v) {
  const bool producing = v.modes.mode == CTL_PRODUCTION;
  const float share = derate(m.derated, v.facts);
  const float asked = producing ? demanded_current(m, p, in) : 0.0f;
  const bool by_demand = asked > p.protective_current;
  const float demand = by_demand ? p.protective_current + share * (asked - p.protective_current) : asked;
  const float current = !v.allow.current ? 0.0f
                        : runs_dry(m)    ? max_of(p.protective_current, m.applied_current)
                        : by_demand      ? demand
                                         : min_of(p.protective_current, p.current_max);
  return {current, !by_demand       ? uint32_t{CTL_BY_MODE}
                   : demand < asked ? uint32_t{CTL_BY_DERATING}
                                    : uint32_t{CTL_BY_DEMAND}};
}

inline Decision decide(Memory& m, const ctl_params& p, const ctl_inputs& in, const Measured& s,
                       const Estimates& e, const Supervised& v) {
  const HeatOutput powers = decide_heat(m, p, s, v);
  const Wanted wanted = wanted_current(m, p, in, v);
  const uint32_t law = v.modes.mode == CTL_PRODUCTION ? p.law : uint32_t{CTL_LAW_CASCADE};
  // a loop whose measurement is replaced stands still; the estimate says what limits
  Signals regulated = s.y;
  regulated.lost |= s.seen.lost & (bit_of(in_feed_flow) | bit_of(in_bus_power));
  const LawInput law_input{
      .params = p,
      .signals = regulated,
      .gas = e.gas,
      .coke = e.coke,
      .temperature = s.thermal.mean,
      .feed = feed_curve(p, s.y, e.gas.molar_mass, e.density.value),
      .feed_flow = m.feed_flow,
      .wanted_current = wanted.current,
      .wanted_by = wanted.by,
      .applied_current = m.applied_current,
      .applied_feed = m.applied_feed,
      .power_ceiling = v.power_ceiling,
      .unprotected = wanted.by == CTL_BY_MODE && (v.observed & CTL_NO_PROTECTION) != 0,
      .elapsed = static_cast<float>(in.tick) * p.period,
      .active_limiter = m.selected,
      .adapts = kLaws[law].adapts,
      .coke_sigma = e.coke.sigma,
      .added_margin = added_margin(p, v.facts.response),
      .from_rest = v.allow.flow && m.applied_feed == 0.0f,
      .takes_over = law != m.law_in_force || s.taken_over,
      .takes_over_current = s.taken_over,
  };
  LawOutput output = run_law(law, m.law, law_input);
  if (v.allow.priming) output.current = p.priming_current;
  const float under_ceiling = current_under_ceiling(p, s.y, m.heat, v.power_ceiling);
  if (under_ceiling < output.current) output = {output.feed, under_ceiling, CTL_BY_POWER};
  m.selected = output.limiter;
  return {powers, law_input, law, output};
}

}  // namespace duskline::controller
