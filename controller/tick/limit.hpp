/// Fifth step of a tick: what of the output of the law may be applied, and every loop learns what came of it.
///
/// What it is   permission, magnitude and rate of feed and current; recycle valve; back-calculation; last of all
///              the guard over the outputs
/// Symbols      feed in the unit of its device, current [A], opening [1], power [W]
/// Validity     any output, also one that is not a number
#pragma once

#include "controller/recycle.hpp"
#include "controller/tick/decide.hpp"

namespace duskline::controller {

inline constexpr float kRiseUnseen = 0.1f;      // of the rate at which the current rises otherwise (design)
inline constexpr float kRecycledEnough = 0.6f;  // of the CO wanted at the inlet

/// What is commanded at this tick.
struct Commands {
  Applied applied;
  float converter;   // A that the converter is asked for
  uint32_t limiter;  // ctl_limiter in force
};

inline constexpr float kMoreFeedTime = 30.0f;  // s (design: a fifth of the flow)
inline constexpr float kRecentFeed = 60.0f;    // s, longer than a current that hangs stays unknown (design)

/// A shaft that does not follow must find no full command when it turns again: CO2 alone would rush over the nickel.
inline float feed_in_reach(const Memory& m, const ctl_params& p, const Signals& y) {
  const FeedRow& row = feed_row(p);
  if ((m.diagnosed & CTL_COMPRESSOR_STOPPED) == 0 || row.reading == kInputs || !y.has(row.reading))
    return p.*row.most;
  return max_of(p.*row.least, y[row.reading] + p.*row.rate * p.period);
}

inline float limited_feed(const Memory& m, const ctl_params& p, const Signals& y, float output,
                          const Permission& allow) {
  const FeedRow& row = feed_row(p);
  const float step = p.*row.rate * p.period, most = p.*row.most;
  if (allow.flow) {
    if (allow
            .hold_flow) {  // a current that hangs gets more than it had: the stack cools, and the limit with it
      const bool room = y.has(in_cathode_pressure) && y[in_cathode_pressure] < 0.95f * p.cathode_derate;
      const float more = room && m.safe_time < kMoreFeedTime ? row.more * p.period : 0.0f;
      // while it was not known, the flow followed the command of the current: what it has lost comes back first
      const float lost = room ? clamp(m.recent_feed - m.applied_feed, 0.0f, step) : 0.0f;
      return min_of(most, m.applied_feed + max_of(lost, more));
    }
    const float target = min_of(clamp(output, p.*row.least, most), feed_in_reach(m, p, y));
    // noise in the output is no reason to move the device; the flow loop's integral brings the rest
    if (m.applied_feed > 0.0f && abs_of(target - m.applied_feed) < p.*row.step) return m.applied_feed;
    return clamp(target, m.applied_feed - step, m.applied_feed + step);
  }
  return allow.stop_flow_at_once ? 0.0f : max_of(0.0f, m.applied_feed - step);
}

/// Opening of the recycle valve; a module behind headers has none.
inline float limited_recycle(Memory& m, const ctl_params& p, const Estimates& e, const Supervised& v,
                             bool blind) {
  if (!feed_row(p).compressor) return 0.0f;
  const float opening = recycle_loop(m.recycle, p, e.gas, m.applied_opening, v.allow.flow, blind);
  // until the inlet has its CO, outside production, all that the valve can bring comes back
  const bool lacks_co =
      v.modes.mode != CTL_PRODUCTION && e.gas.inlet_co < kRecycledEnough * p.inlet_co_setpoint;
  const bool all = lacks_co || (m.diagnosed & CTL_COMPRESSOR_STOPPED) != 0;
  return v.allow.flow && all && !blind ? p.recycle_max : opening;
}

/// Magnitude and rate of the current; the limiter says what held it.
inline float limited_current(const Memory& m, const ctl_params& p, const Signals& seen, LawOutput& output,
                             const Permission& allow) {
  if (!allow.current) return 0.0f;
  const float target = clamp(output.current, 0.0f, p.current_max);
  const bool overridden = output.limiter == CTL_BY_COKE_MARGIN || output.limiter == CTL_BY_VOLTAGE ||
                          output.limiter == CTL_BY_POWER || output.limiter == CTL_BY_UTILISATION;
  if (overridden && target > p.protective_current && abs_of(target - m.applied_current) < p.current_step)
    return m.applied_current;
  // what protects the nickel comes at once, what makes oxygen comes gently
  const float quick = min_of(p.protective_current, m.applied_current + p.current_rate_down * p.period);
  // while an estimate stands in for the feed, the current hardly rises
  const float held = seen.has(in_feed_flow) ? 1.0f : kRiseUnseen;
  const float highest = max_of(quick, m.applied_current + held * p.current_rate_up * p.period);
  const float fall =
      output.limiter == CTL_BY_POWER ? max_of(p.shed_rate, p.current_rate_down) : p.current_rate_down;
  const float lowest = m.applied_current - fall * p.period;
  if (target > highest) output.limiter = CTL_BY_RATE;
  return clamp(target, lowest, highest);
}

inline constexpr float kTrimFrom = 0.015f;  // of the current, seven classes of its meter
inline constexpr float kTrimMost = 0.12f;   // beyond it the converter is not trimmed: current deviation
inline constexpr float kTrimTime = 3.0f;    // s
inline constexpr float kTrimLeast = 0.3f;   // A

/// A converter that gives more than it is asked for is asked for less, while its meter is believed. It is never asked
/// for more: the meter may read low. What is returned goes to the converter; the rest of the controller sees what the law asked for.
inline float trimmed_current(Memory& m, const ctl_params& p, const Signals& seen) {
  const float expected = between(m.detection.relations.current, seen[in_stack_current]);
  const bool steady = expected > kTrimLeast && abs_of(m.applied_current - expected) < 0.05f * expected;
  const bool known = seen.has(in_stack_current) && steady;
  const float over = known ? seen[in_stack_current] / expected - 1.0f : 0.0f;
  const bool small = known && abs_of(over) < kTrimMost && (m.current_trim > 0.0f || over > kTrimFrom);
  const bool trims = four_of_five(m.trims, small);
  if (!seen.has(in_stack_current)) m.current_trim = low_pass(m.current_trim, 0.0f, p.period, kTrimTime);
  if (small && trims)
    m.current_trim =
        clamp(low_pass(m.current_trim, m.current_trim + over, p.period, kTrimTime), 0.0f, kTrimMost);
  return m.applied_current / (1.0f + m.current_trim);
}

inline Commands limit(Memory& m, const ctl_params& p, const Measured& s, const Estimates& e,
                      const Supervised& v, const Decision& d) {
  const Permission& allow = v.allow;
  LawOutput output = d.output;
  m.applied_feed = limited_feed(m, p, s.y, output.feed, allow);
  const float memory = allow.hold_flow ? 0.0f : p.period;
  m.recent_feed = max_of(m.applied_feed, low_pass(m.recent_feed, m.applied_feed, memory, kRecentFeed));
  m.applied_current = limited_current(m, p, s.seen, output, allow);
  m.applied_opening = limited_recycle(m, p, e, v, kLaws[d.law].blind);
  m.law_in_force = d.law;
  m.margin_kept = margin_setpoint(d.law_input);
  law_applied(m.law, d.law_input, m.applied_feed, m.applied_current);

  const HeatOutput& heat = d.powers;
  m.detection.applied = {.feed = m.applied_feed,
                         .current = m.applied_current,
                         .opening = m.applied_opening,
                         .preheater = heat.preheater,
                         .end = {}};
  for (uint32_t k = 0; k < CTL_ENDS; ++k) m.detection.applied.end[k] = heat.end[k];
  const uint32_t idle = kModes[v.modes.mode].current ? CTL_BY_MODE : CTL_BY_NOTHING;
  return {m.detection.applied, trimmed_current(m, p, s.seen), allow.current ? output.limiter : idle};
}

/// The last guard: a command is finite, inside its span and the parameters, and of the mode, or it is off.
inline void guard(ctl_outputs& out, const ctl_params& p) {
  const auto hold = [](float& x, const ctl_span& span) {
    x = is_finite(x) ? clamp(x, span.lower, span.upper) : span.lower;
  };
#define CTL_HOLD_SCALAR(name, ...) hold(out.name, p.output_span[CTL_OUTPUT_##name]);
#define CTL_HOLD_ARRAY(name, count, ...) \
  for (uint32_t k = 0; k < count; ++k) hold(out.name[k], p.output_span[CTL_OUTPUT_##name]);
  CTL_OUTPUT_LIST(CTL_HOLD_SCALAR, CTL_HOLD_ARRAY)
#undef CTL_HOLD_SCALAR
#undef CTL_HOLD_ARRAY
  const ModeRow& row = kModes[out.mode];
  const bool compressor = feed_row(p).compressor;
  out.compressor_speed = row.flow && compressor ? min_of(out.compressor_speed, p.speed_max) : 0.0f;
  out.feed_opening = row.flow && !compressor ? min_of(out.feed_opening, p.valve_max) : 0.0f;
  out.stack_current = row.current ? min_of(out.stack_current, p.current_max) : 0.0f;
  out.preheater_power = row.heaters ? min_of(out.preheater_power, p.preheater_power_max) : 0.0f;
  for (float& power : out.end_power) power = row.heaters ? min_of(power, p.end_power_max) : 0.0f;
}

}  // namespace duskline::controller
