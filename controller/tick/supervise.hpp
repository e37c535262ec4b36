/// Third step of a tick: the mode, and what mode and plant permit.
///
/// What it is   reasons, at most one step of the mode, then whether heat, flow and current may be energised
/// Symbols      reasons of CTL_CONDITION_LIST, modes of CTL_MODE_LIST
/// Validity     any measurement and estimate
/// Source       ours; why safe keeps flow and current for a time: docs/models/supervision.md
#pragma once

#include "controller/supervise/ceiling.hpp"
#include "controller/supervise/derate.hpp"
#include "controller/tick/estimate.hpp"

namespace duskline::controller {

/// What the mode and the state of the plant permit at this tick.
struct Permission {
  bool heat, flow, current;
  bool priming;  // the flow has begun but does not show yet
  bool stop_flow_at_once;
  bool hold_flow;  // the speed stays: a current that does not stop keeps its feed
};

struct Supervised {
  Facts facts;
  uint32_t observed;  // reasons that stand, ctl_condition bits
  Supervision modes;  // mode in force, what keeps the requested one from being entered
  Permission allow;
  float power_ceiling;  // W, NaN without one
};

/// In safe the compressor may run: nothing that flow would make worse.
inline bool safe_flow(const Memory& m, const Facts& f, uint32_t observed) {
  constexpr float kCooled = 15.0f;  // K
  const bool hot = f.signals.has(in_compressor_temperature) &&
                   f.signals[in_compressor_temperature] > f.params.compressor_max - kCooled;
  return !hot && ((observed | m.mode.tripped) & (CTL_OVER_PRESSURE | CTL_BUS_LOW)) == 0;
}
inline float mean_voltage(const Facts& f) {
  return stack_voltage(f.params, f.signals) / cells_in_series(f.params);
}
/// The cells stand so far above their voltage without current that one flows: no meter is needed to say so.
inline bool cells_carry(const Facts& f) {
  constexpr float kCarried =
      0.12f;  // V; what is left of the CO of production is flushed out within a minute (estimate)
  return mean_voltage(f) > expected_voltage(f.params, f.signals, f.gas, f.thermal.mean, 0.0f) + kCarried;
}
/// Below it no current beyond a protective one flows, V: computed, the Nernst voltage at 800 degC with 1 % of CO.
inline constexpr float kIdle = 0.75f;
/// A current that does not stop keeps its feed, so that no cell starves: for a minute by what the meter says unless the cells
/// are idle, and on while the cells say so too, for the meter may be wrong.
inline bool holds_feed_for_stuck_current(const Memory& m, const Facts& f) {
  constexpr float kFed = 60.0f, kFlows = 0.2f;  // s, A
  if (m.mode.mode != CTL_SAFE || m.applied_current > 0.0f || !(m.applied_feed > 0.0f)) return false;
  const bool suspect =
      in_set(m.detection.suspect, in_stack_current) && (m.diagnosed & CTL_CURRENT_DEVIATION) != 0;
  const bool flows =
      f.signals.has(in_stack_current) && f.signals[in_stack_current] > f.params.protective_current + kFlows;
  return (suspect || flows) && (cells_carry(f) || (m.safe_time <= kFed && mean_voltage(f) > kIdle));
}
/// Behind a feed header that holds its CO the feed protects a hot cathode without current, as long as it flows inwards.
inline bool header_protects(const Facts& f) {
  constexpr float kEnough = 1.5f, kInwards = 1000.0f;  // of the nickel limit; Pa (design)
  const Signals& y = f.signals;
  return !feed_row(f.params).compressor && y.has(in_plenum_pressure) && y.has(in_cathode_pressure) &&
         y[in_plenum_pressure] > y[in_cathode_pressure] + kInwards &&
         f.gas.inlet_co > kEnough * nickel_limit(f.thermal.hottest) * f.gas.inlet_co2;
}
/// Flow without current: only until it is known whether one may follow, unless the feed itself protects.
inline bool safe_purge(const Memory& m, const Facts& f, uint32_t observed) {
  return safe_flow(m, f, observed) &&
         (m.safe_time <= f.params.safe_flow_time || holds_feed_for_stuck_current(m, f) || header_protects(f));
}
/// Current is off when safe begins. After a rest a protective one may flow if no reason stands, because CO2 and
/// air oxidise a hot cathode that makes no CO; a reason that comes back ends that until the next reset.
inline bool safe_protection(Memory& m, const Facts& f, uint32_t observed) {
  const bool rested = m.safe_time > max_of(f.params.trip_dwell, f.params.period);  // never in the first tick
  const bool reason = (observed & (kDanger | CTL_MARGIN_LOST | CTL_FAULT_FOUND)) != 0;
  if (rested && reason && m.applied_current > 0.0f) m.locked_out = 1;
  return rested && !reason && m.locked_out == 0 && safe_flow(m, f, observed) && heat_sensors(f.signals) &&
         current_sensors(f.signals);
}

inline constexpr float kDry = 5.0f;  // of flow_min: the feed has ended, and its noise is no feed

/// Without recycle the feed is CO2 alone. The feed ends, and while what is left of it comes the current stays, as far
/// as its limits let it: the cathode is left full of CO.
inline bool runs_dry(const Memory& m) {
  return m.response >= CTL_RESPOND_STANDBY && (m.diagnosed & CTL_RECYCLE_LOST) != 0;
}

inline Permission permit(Memory& m, const Facts& f, uint32_t observed, uint32_t mode) {
  const ctl_params& p = f.params;
  const Signals& y = f.signals;
  const ModeRow& row = kModes[mode];
  m.warm =
      f.thermal.coldest > p.protection_temperature || (m.warm != 0 && f.thermal.hottest > p.protection_end);
  const bool safe = mode == CTL_SAFE;
  if (!safe) m.locked_out = 0;
  const bool zones_known = lost_among(y, in_zone_temperature, CTL_ZONES) <= 1;
  m.safe_time = safe ? min_of(m.safe_time + p.period, 1e7f) : 0.0f;

  Permission allow{};
  allow.heat = row.heaters && zones_known && f.thermal.hottest < p.zone_max && (observed & CTL_BUS_LOW) == 0;
  // flow without current brings CO2 alone and oxidises nickel: none that current cannot follow, where nothing else protects
  allow.flow = row.flow && m.warm != 0;
  const bool protective = safe && safe_protection(m, f, observed);
  if (safe && !protective) allow.flow = allow.flow && safe_purge(m, f, observed);
  if ((mode == CTL_WARM_UP || mode == CTL_COOL_DOWN) && !current_sensors(y)) allow.flow = false;
  const bool dry = runs_dry(m), followed = allow.flow && !safe;
  if (dry) allow.flow = false;
  allow.hold_flow = allow.flow && holds_feed_for_stuck_current(m, f);
  m.flow_integral_time = allow.flow ? min_of(m.flow_integral_time + p.period, 1e7f) : 0.0f;
  allow.priming = f.feed_flow < p.flow_min && m.flow_integral_time < p.priming_time;
  allow.current = row.current && allow.flow && (!safe || protective) && current_sensors(y) &&
                  (f.feed_flow >= p.flow_min || allow.priming);
  if (dry)
    allow.current = row.current && followed && current_sensors(y) && m.applied_current > 0.0f &&
                    f.feed_flow >= kDry * p.flow_min;
  allow.stop_flow_at_once = mode == CTL_OFF || safe || dry;
  return allow;
}

inline constexpr float kOneCellTime = 15.0f;    // s: the override is past zero in 8 s
inline constexpr float kOneCellCurrent = 0.3f;  // A above the command: such a current does not follow
inline constexpr float kOneCellLeast = -0.05f;  // V, below which nothing waits

/// A voltage that steps up in one cell may be a contact that lifts or gas that is lost. Until they can be distinguished
/// the override lowers the current for it; the interlock waits for that, unless more cells are short.
inline bool waits_for_override(Memory& m, const ctl_params& p, const Coke& c, float current) {
  uint32_t cells = 0;
  for (const float margin : c.cell) cells += margin < p.margin_trip ? 1u : 0u;
  const bool follows = current < m.applied_current + kOneCellCurrent;
  const bool alone = cells == 1 && c.margin > kOneCellLeast && follows;
  m.one_cell_time = alone ? min_of(m.one_cell_time + p.period, 1e3f) : 0.0f;
  return alone && m.one_cell_time <= kOneCellTime;
}

inline Supervised supervise(Memory& m, const ctl_params& p, const ctl_inputs& in, const Measured& s,
                            const Estimates& e) {
  if (s.first || !kModes[m.mode.mode].heaters) m.heat = initial_heat(s.thermal.mean);
  const Facts facts{.params = p,
                    .signals = s.y,
                    .thermal = s.thermal,
                    .gas = e.gas,
                    .coke = e.coke,
                    .feed_flow = m.feed_flow,
                    .applied_current = m.applied_current,
                    .response = m.response,
                    .margin_waits = waits_for_override(m, p, e.coke, s.current)};
  const uint32_t observed = observed_conditions(facts);
  const Supervision modes = run_modes(m.mode, facts, observed, in.requested_mode);
  const Permission allow = permit(m, facts, observed, modes.mode);
  return {facts, observed, modes, allow, power_ceiling(p, in)};
}

}  // namespace duskline::controller
