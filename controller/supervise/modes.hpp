/// Modes, the ways between them and what each way and each mode demands. One table of each.
///
/// What it is   a state machine that makes at most one transition a tick towards the requested mode
/// Symbols      modes of CTL_MODE_LIST, reasons of CTL_CONDITION_LIST
/// Validity     any request; one outside the list counts as "stay"
/// Source       one-shot latch, restart counter and least times as is usual for space equipment
/// Left out     time-outs of warm-up and cool-down: a mode that does not come is an alarm
///              (mode-not-permitted)
#pragma once

#include "controller/supervise/interlocks.hpp"

namespace duskline::controller {

inline constexpr uint32_t kDanger =
    CTL_OVER_PRESSURE | CTL_OVER_TEMPERATURE | CTL_OVER_VOLTAGE | CTL_SENSOR_LOST | CTL_BUS_LOW;

/// What each mode does and which reasons move it to safe.
struct ModeRow {
  ctl_mode mode;
  bool heaters;
  bool flow;         // compressor runs once the stack is warm enough for it
  bool current;      // protective current once the stack is warm enough for it
  uint32_t trips;    // reasons that move to safe
  uint32_t retreat;  // reasons that step back to standby
};
inline constexpr uint32_t kTrips = kDanger | CTL_MARGIN_LOST | CTL_FAULT_FOUND;
inline constexpr ModeRow kModes[CTL_MODES] = {
    {CTL_OFF, false, false, false, 0, 0},
    {CTL_WARM_UP, true, true, true, kTrips | CTL_RAMP_HIGH, 0},
    {CTL_STANDBY, true, true, true, kTrips, 0},
    {CTL_PRODUCTION, true, true, true, kTrips, CTL_STACK_COLD | CTL_FAULT_FOUND},
    {CTL_COOL_DOWN, true, true, true, kTrips, 0},
    {CTL_SAFE, true, true, true, 0,
     0},  // protective ones at most, where no reason stands: see safe_protection
};

/// Ways between modes and the reasons that refuse them (permissives, negated).
struct Transition {
  ctl_mode from, to;
  uint32_t refused_by;
};
inline constexpr uint32_t kHot = kDanger | CTL_STACK_COLD | CTL_STACK_UNEVEN | CTL_FAULT_FOUND;
inline constexpr uint32_t kServiceable = kHot | CTL_NO_FLOW | CTL_NO_PROTECTION | CTL_MARGIN_LOST;
inline constexpr Transition kTransitions[] = {
    {CTL_OFF, CTL_WARM_UP, kDanger | CTL_FAULT_FOUND},
    {CTL_WARM_UP, CTL_STANDBY, kServiceable},
    {CTL_WARM_UP, CTL_COOL_DOWN, 0},
    {CTL_STANDBY, CTL_PRODUCTION, kServiceable | CTL_WAIT | CTL_NOT_RESET},
    {CTL_STANDBY, CTL_COOL_DOWN, 0},
    {CTL_PRODUCTION, CTL_STANDBY, 0},
    {CTL_COOL_DOWN, CTL_OFF, CTL_STACK_HOT},
    {CTL_COOL_DOWN, CTL_WARM_UP, kDanger | CTL_FAULT_FOUND},
    {CTL_SAFE, CTL_OFF, CTL_NOT_RESET | CTL_STACK_HOT},
    {CTL_SAFE, CTL_COOL_DOWN, CTL_NOT_RESET | kDanger},
    {CTL_SAFE, CTL_STANDBY, CTL_NOT_RESET | kHot},
};

/// Next mode on the way from a mode (row) to the requested one (column).
inline constexpr ctl_mode kNext[CTL_MODES][CTL_MODES] = {
    //              off            warm-up      standby      production      cool-down      safe
    /* off */ {CTL_OFF, CTL_WARM_UP, CTL_WARM_UP, CTL_WARM_UP, CTL_OFF, CTL_OFF},
    /* warm-up */ {CTL_COOL_DOWN, CTL_WARM_UP, CTL_STANDBY, CTL_STANDBY, CTL_COOL_DOWN, CTL_SAFE},
    /* standby */ {CTL_COOL_DOWN, CTL_STANDBY, CTL_STANDBY, CTL_PRODUCTION, CTL_COOL_DOWN, CTL_SAFE},
    /* production */ {CTL_STANDBY, CTL_STANDBY, CTL_STANDBY, CTL_PRODUCTION, CTL_STANDBY, CTL_SAFE},
    /* cool-down */ {CTL_OFF, CTL_WARM_UP, CTL_WARM_UP, CTL_WARM_UP, CTL_COOL_DOWN, CTL_SAFE},
    /* safe */ {CTL_COOL_DOWN, CTL_COOL_DOWN, CTL_STANDBY, CTL_STANDBY, CTL_COOL_DOWN, CTL_SAFE},
};

struct ModeMemory {
  uint32_t mode;
  uint32_t tripped;          // reasons of the last move to safe
  uint32_t request_at_trip;  // request that stood then, or when production stopped once too often
  uint32_t last_request;
  uint32_t reset;                // 1 once another request has been seen
  uint32_t latched;              // 1: production waits for another request
  uint32_t production_dropouts;  // stops of production that count
  uint32_t restarts;             // restarts that count
  float wait;                    // s that standby still lasts at least
  float since_dropout;           // s
  float since_restart;           // s
  uint32_t counts[kConditions];  // ticks in a row that each reason has stood, up to interlock_ticks
};

struct Supervision {
  uint32_t mode;
  uint32_t unmet_permissives;  // reasons against the next step towards the request
};

/// Reasons that have stood for interlock_ticks in a row.
inline uint32_t confirmed(ModeMemory& m, const ctl_params& p, uint32_t reasons) {
  const uint32_t needed = truncate(p.interlock_ticks);
  uint32_t sure = 0;
  for (uint32_t bit = 0; bit < kConditions; ++bit) {
    const uint32_t mask = 1u << bit;
    m.counts[bit] = (reasons & mask) == 0 ? 0 : (m.counts[bit] < needed ? m.counts[bit] + 1 : needed);
    if (m.counts[bit] >= needed) sure |= mask;
  }
  return sure;
}

inline uint32_t refused_by(uint32_t from, uint32_t to) {
  for (const Transition& t : kTransitions)
    if (t.from == from && t.to == to) return t.refused_by;
  return to == CTL_SAFE ? 0u : ~0u;
}

/// The next step towards the request and what stands against it.
struct Step {
  uint32_t to;
  uint32_t unmet_permissives;
};

inline Step next_step(const ModeMemory& m, const Facts& f, uint32_t observed, uint32_t waived,
                      uint32_t requested) {
  uint32_t to = kNext[m.mode][requested];
  if (m.mode == CTL_SAFE && requested == CTL_OFF && (observed & CTL_STACK_HOT) == 0) to = CTL_OFF;
  if (to == m.mode) return {to, 0};
  uint32_t against = reasons_for(f, observed, static_cast<ctl_mode>(to)) & ~waived;
  if ((m.mode == CTL_SAFE && m.reset == 0) || m.latched != 0) against |= CTL_NOT_RESET;
  if (m.wait > 0.0f) against |= CTL_WAIT;
  return {to, against & refused_by(m.mode, to)};
}

inline void enter_safe(ModeMemory& m, uint32_t tripped, uint32_t requested) {
  m.mode = CTL_SAFE;
  m.tripped = tripped;
  m.request_at_trip = requested;
  m.reset = m.latched = 0;
  m.wait = 0.0f;
  for (uint32_t& count : m.counts) count = 0;
}

/// Production stops and comes back by itself, but not for ever: a cause that returns ends in standby.
inline void retreat(ModeMemory& m, const ctl_params& p, uint32_t requested) {
  m.mode = CTL_STANDBY;
  m.wait = p.standby_min;
  m.since_dropout = 0.0f;
  if (m.production_dropouts < 1000u) ++m.production_dropouts;
  if (static_cast<float>(m.production_dropouts) < p.dropouts_max) return;
  m.latched = 1;
  m.request_at_trip = requested;
}

/// Time passes; what lies back far enough is forgotten.
inline void count_time(ModeMemory& m, const ctl_params& p, uint32_t requested) {
  m.wait = max_of(0.0f, m.wait - p.period);
  m.since_dropout = min_of(m.since_dropout + p.period, 1e7f);
  m.since_restart = min_of(m.since_restart + p.period, 1e7f);
  if (m.since_dropout > p.dropout_window) m.production_dropouts = 0;
  if (m.since_restart > p.restart_window) m.restarts = 0;
  if (requested == m.request_at_trip) return;
  if (m.mode == CTL_SAFE) m.reset = 1;
  if (m.latched != 0) m.latched = m.production_dropouts = 0;
}

/// One tick: interlocks first, then at most one step towards the requested mode.
inline Supervision run_modes(ModeMemory& m, const Facts& f, uint32_t observed, uint32_t requested) {
  if (requested >= CTL_MODES) requested = m.mode;
  m.last_request = requested;
  const ModeRow& row = kModes[m.mode];

  // the fixed law uses no estimate of coke: that interlock would
  const uint32_t waived = f.params.law == CTL_LAW_FIXED ? uint32_t{CTL_MARGIN_LOST} : 0u;
  const uint32_t standing =
      observed | (reasons_for(f, observed, static_cast<ctl_mode>(m.mode)) & ~uint32_t{CTL_FAULT_FOUND});
  const uint32_t trips = confirmed(m, f.params, standing & ~waived) & row.trips;
  if (trips != 0) {
    enter_safe(m, trips, requested);
    return {m.mode, trips | CTL_NOT_RESET};
  }
  count_time(m, f.params, requested);

  // production returns to standby when the stack is too cold for current at all or a fault was found
  uint32_t stops = f.thermal.coldest < f.params.current_temperature ? uint32_t{CTL_STACK_COLD} : 0u;
  if (f.response >= CTL_RESPOND_STANDBY) stops |= CTL_FAULT_FOUND;
  if ((row.retreat & stops) != 0) {
    retreat(m, f.params, requested);
    return {m.mode, row.retreat & stops};
  }

  Step step = next_step(m, f, observed, waived, requested);
  if (step.to != m.mode && step.unmet_permissives == 0) {
    if (step.to == CTL_SAFE) {
      enter_safe(m, 0, requested);
    } else {
      if (m.mode == CTL_SAFE) m.restarts = 0;  // the operator has seen it
      m.mode = step.to;
      m.tripped = 0;
    }
    step = next_step(m, f, observed, waived, requested);
  }
  return {m.mode, step.unmet_permissives};
}

}  // namespace duskline::controller
