/// Alarms: from conditions with dead-bands and delays to the nine states of the standards.
///
/// What it is   one state machine for each row of controller_alarms.h, and the operator's actions upon them
/// Equation     a condition must stand for on_delay to count and be gone for off_delay to be gone
/// Symbols      states A to I as 0 to 8, delays [s], quantities in the unit of CTL_ALARM_QUANTITY_LIST
/// Validity     any facts, any action: what cannot be carried out is ignored and counted
/// Source       ANSI/ISA-18.2-2016, IEC 62682:2014 (states, transitions, priority from severity and time)
/// Left out     re-alarm of an acknowledged alarm that stays; one-shot shelving; messages (they are the
///              console's)
#pragma once

#include "controller/supervise/modes.hpp"

namespace duskline::controller {

struct AlarmRow {
  float minutes, on_delay, off_delay, limit, dead_band;
  uint32_t severity, priority, latched, source, argument, suppressed;
};
#define CTL_ALARM_ROW(identifier, number, word, severity, minutes, priority, latched, on_delay, off_delay, \
                      source, argument, limit, dead_band, suppressed, consequence, cause, action)          \
  {minutes, on_delay, off_delay, limit, dead_band, severity, priority, latched, source, argument, suppressed},
inline constexpr AlarmRow kAlarms[CTL_ALARMS] = {CTL_ALARM_LIST(CTL_ALARM_ROW)};
#undef CTL_ALARM_ROW
static_assert(CTL_ALARMS <= CTL_ALARM_CAPACITY && CTL_ALARM_CAPACITY % 4 == 0);

/// Priority of an alarm: how bad without an answer, and how soon the answer must come.
constexpr uint32_t priority_of(uint32_t severity, float minutes) {
  constexpr uint32_t kPriority[CTL_SEVERITIES][3] = {
      // within 3 min  within 15 min  later
      /* minor */ {CTL_MEDIUM, CTL_LOW, CTL_LOW},
      /* major */ {CTL_HIGH, CTL_MEDIUM, CTL_LOW},
      /* severe */ {CTL_URGENT, CTL_HIGH, CTL_MEDIUM},
  };
  return kPriority[severity][minutes <= 3.0f ? 0 : minutes <= 15.0f ? 1 : 2];
}
constexpr bool alarms_agree() {
  for (const AlarmRow& a : kAlarms) {
    if (a.priority != priority_of(a.severity, a.minutes)) return false;
    // the delay is no more than a third of the time to respond
    if (a.on_delay > a.minutes * 60.0f / 3.0f || a.dead_band < 0.0f || a.latched > 1) return false;
  }
  return true;
}
static_assert(alarms_agree(), "each priority follows from severity and time to respond");

enum AlarmEvent : uint32_t {
  alarm_begins,
  alarm_clears,
  alarm_acknowledge,
  alarm_reset,
  alarm_shelve,
  alarm_unshelve,
  alarm_suppress,
  alarm_release,
  alarm_remove,
  alarm_return,
  kAlarmEvents
};

inline constexpr uint8_t kNoTransition = 0xff;  // illegal, or nothing happens

/// The next state; `active`: the condition stands (after delays).
constexpr uint8_t alarm_next(uint32_t state, uint32_t event, bool active, bool latched) {
  if (state >= CTL_ALARM_STATES) return CTL_ALARM_NORMAL;
  const uint8_t back = active ? CTL_ALARM_UNACKNOWLEDGED : CTL_ALARM_NORMAL;
  const bool annunciated = state <= CTL_ALARM_LATCHED_ACKNOWLEDGED;
  switch (event) {
    case alarm_begins:
      return annunciated && state != CTL_ALARM_UNACKNOWLEDGED && state != CTL_ALARM_ACKNOWLEDGED
                 ? uint8_t{CTL_ALARM_UNACKNOWLEDGED}
                 : kNoTransition;
    case alarm_clears:
      if (state == CTL_ALARM_UNACKNOWLEDGED)
        return latched ? uint8_t{CTL_ALARM_LATCHED} : uint8_t{CTL_ALARM_RETURNED};
      if (state == CTL_ALARM_ACKNOWLEDGED)
        return latched ? uint8_t{CTL_ALARM_LATCHED_ACKNOWLEDGED} : uint8_t{CTL_ALARM_NORMAL};
      return kNoTransition;
    case alarm_acknowledge:
      if (state == CTL_ALARM_UNACKNOWLEDGED) return CTL_ALARM_ACKNOWLEDGED;
      if (state == CTL_ALARM_RETURNED) return CTL_ALARM_NORMAL;
      if (state == CTL_ALARM_LATCHED) return CTL_ALARM_LATCHED_ACKNOWLEDGED;
      return kNoTransition;
    case alarm_reset:
      return state == CTL_ALARM_LATCHED_ACKNOWLEDGED ? uint8_t{CTL_ALARM_NORMAL} : kNoTransition;
    case alarm_shelve:
      return annunciated ? uint8_t{CTL_ALARM_SHELVED} : kNoTransition;
    case alarm_unshelve:
      return state == CTL_ALARM_SHELVED ? back : kNoTransition;
    case alarm_suppress:
      return annunciated ? uint8_t{CTL_ALARM_SUPPRESSED} : kNoTransition;
    case alarm_release:
      return state == CTL_ALARM_SUPPRESSED ? back : kNoTransition;
    case alarm_remove:
      return annunciated ? uint8_t{CTL_ALARM_OUT} : kNoTransition;
    case alarm_return:
      return state == CTL_ALARM_OUT ? back : kNoTransition;
    default:
      return kNoTransition;
  }
}

struct AlarmMemory {
  uint8_t state[CTL_ALARM_CAPACITY];
  uint8_t raw[CTL_ALARM_CAPACITY];     // the condition with its dead-band
  uint8_t active[CTL_ALARM_CAPACITY];  // the condition after its delays
  float held[CTL_ALARMS];              // s that raw has differed from active
  float shelved[CTL_ALARMS];           // s that are left
  uint32_t ignored;
};

/// What the conditions are judged by.
struct AlarmFacts {
  uint32_t mode, tripped, standing, diagnosed, unmet_permissives;
  uint64_t suspect;                      // bit of each measurement that is lost or not believed
  float quantity[CTL_ALARM_QUANTITIES];  // NaN: unknown, the condition stays as it was
};

struct AlarmAction {
  uint32_t action, number, maintenance;
  float shelve_time;
};

constexpr uint64_t inputs_of(uint32_t group) {
  uint64_t mask = 0;
  const auto add = [&mask](uint32_t first, uint32_t count = 1) {
    for (uint32_t i = first; i < first + count; ++i) mask |= bit_of(i);
  };
  switch (group) {
    case CTL_GROUP_PRESSURES:
      add(in_plenum_pressure), add(in_cathode_pressure), add(in_anode_pressure);
      add(in_ambient_pressure), add(in_filter_differential_pressure);
      break;
    case CTL_GROUP_TEMPERATURES:
      add(in_ambient_temperature), add(in_plenum_temperature), add(in_compressor_temperature);
      add(in_preheater_temperature), add(in_housing_temperature);
      add(in_end_temperature, CTL_ENDS), add(in_zone_temperature, CTL_ZONES);
      break;
    case CTL_GROUP_FLOWS:
      add(in_feed_flow), add(in_product_flow), add(in_compressor_speed);
      break;
    case CTL_GROUP_ELECTRIC:
      add(in_stack_current), add(in_bus_voltage), add(in_bus_power), add(in_cell_voltage, CTL_CELLS);
      break;
    default:
      add(in_outlet_co_fraction), add(in_product_oxygen_fraction), add(in_bearing_vibration);
  }
  return mask;
}

struct GroupMasks {
  uint64_t mask[CTL_ALARM_GROUPS];
};
constexpr GroupMasks group_masks() {
  GroupMasks g{};
  for (uint32_t k = 0; k < CTL_ALARM_GROUPS; ++k) g.mask[k] = inputs_of(k);
  return g;
}
inline constexpr GroupMasks kGroups = group_masks();

/// The condition at this tick, dead-band included; `before`: as it was.
constexpr bool alarm_condition(const AlarmRow& row, const AlarmFacts& f, bool before) {
  switch (row.source) {
    case CTL_FROM_TRIP:
      return (f.tripped & row.argument) != 0;
    case CTL_FROM_CONDITION:
      return (f.standing & row.argument) != 0;
    case CTL_FROM_DIAGNOSIS:
      return (f.diagnosed & row.argument) != 0;
    case CTL_FROM_REFUSAL:
      return (f.unmet_permissives & row.argument) != 0;
    case CTL_FROM_DOUBT:
      return (f.suspect & kGroups.mask[row.argument]) != 0;
    default:
      break;
  }
  const float x = f.quantity[row.argument];
  if (!is_finite(x)) return before;
  const bool above = row.source == CTL_FROM_ABOVE;
  const float beyond = above ? x - row.limit : row.limit - x;
  return beyond > (before ? -row.dead_band : 0.0f);
}

constexpr void alarm_happens(AlarmMemory& m, uint32_t k, uint32_t event) {
  const uint8_t next = alarm_next(m.state[k], event, m.active[k] != 0, kAlarms[k].latched != 0);
  if (next != kNoTransition) m.state[k] = next;
}

/// The operator's action: one a tick. What cannot be carried out is counted.
constexpr void act_on_alarms(AlarmMemory& m, const ctl_params& p, const AlarmAction& a) {
  if (a.action == CTL_ALARM_NO_ACTION) return;
  if (a.action == CTL_ALARM_ACKNOWLEDGE_ALL) {
    for (uint32_t k = 0; k < CTL_ALARMS; ++k) alarm_happens(m, k, alarm_acknowledge);
    return;
  }
  constexpr uint32_t kEvents[CTL_ALARM_ACTIONS] = {kAlarmEvents, alarm_acknowledge, kAlarmEvents,
                                                   alarm_shelve, alarm_unshelve,    alarm_remove,
                                                   alarm_return, alarm_reset};
  bool legal = a.action < CTL_ALARM_ACTIONS && a.number < CTL_ALARMS;
  if (a.action == CTL_ALARM_SHELVE) legal = legal && a.shelve_time > 0.0f && a.shelve_time <= p.shelve_max;
  if (a.action == CTL_ALARM_REMOVE || a.action == CTL_ALARM_RETURN) legal = legal && a.maintenance == 1;
  const uint8_t next = legal ? alarm_next(m.state[a.number], kEvents[a.action], m.active[a.number] != 0,
                                          kAlarms[a.number].latched != 0)
                             : kNoTransition;
  if (next == kNoTransition) {
    if (m.ignored < 0xffffffffu) ++m.ignored;
    return;
  }
  m.state[a.number] = next;
  if (a.action == CTL_ALARM_SHELVE) m.shelved[a.number] = a.shelve_time;
}

/// One tick of all alarms.
constexpr void run_alarms(AlarmMemory& m, const ctl_params& p, const AlarmFacts& f, const AlarmAction& a) {
  for (uint32_t k = 0; k < CTL_ALARMS; ++k) {
    const AlarmRow& row = kAlarms[k];
    m.raw[k] = alarm_condition(row, f, m.raw[k] != 0) ? 1 : 0;
    const bool meaningless = f.mode < CTL_MODES && (row.suppressed & CTL_IN(f.mode)) != 0;
    // the delay of a limit begins when the limit means something
    const bool waits =
        meaningless && m.raw[k] != 0 && (row.source == CTL_FROM_ABOVE || row.source == CTL_FROM_BELOW);
    m.held[k] = m.raw[k] != m.active[k] && !waits ? min_of(m.held[k] + p.period, 1e6f) : 0.0f;
    // a delay of zero acts in the tick; one of d s when the condition has stood for more than d
    if (m.raw[k] != m.active[k] && m.held[k] > (m.raw[k] != 0 ? row.on_delay : row.off_delay)) {
      m.active[k] = m.raw[k];
      m.held[k] = 0.0f;
      alarm_happens(m, k, m.active[k] != 0 ? alarm_begins : alarm_clears);
    }
    if (m.state[k] == CTL_ALARM_SHELVED) {
      m.shelved[k] -= p.period;
      if (!(m.shelved[k] > 0.0f)) alarm_happens(m, k, alarm_unshelve);
    }
    alarm_happens(m, k, meaningless ? alarm_suppress : alarm_release);
  }
  act_on_alarms(m, p, a);
}

constexpr bool is_unacknowledged(uint8_t state) {
  return state == CTL_ALARM_UNACKNOWLEDGED || state == CTL_ALARM_RETURNED || state == CTL_ALARM_LATCHED;
}

/// What the controller knows, as the alarms see it.
inline AlarmFacts alarm_facts(const Facts& f, uint32_t observed, const Supervision& s, uint32_t tripped,
                              uint32_t diagnosed, uint64_t suspect) {
  const Signals& y = f.signals;
  const auto known = [&y](uint32_t input) { return y.has(input) ? y[input] : __builtin_nanf(""); };
  AlarmFacts a{s.mode, tripped, observed, diagnosed, s.unmet_permissives, suspect | y.lost, {}};
  a.quantity[CTL_WATCH_MARGIN] = f.applied_current > 0.0f ? f.coke.margin : 1.0f;  // no current, no coke
  a.quantity[CTL_WATCH_SPREAD] = f.thermal.hottest - f.thermal.coldest;
  a.quantity[CTL_WATCH_SHELL] = known(in_compressor_temperature);
  a.quantity[CTL_WATCH_CATHODE] = known(in_cathode_pressure);
  a.quantity[CTL_WATCH_BUS] = known(in_bus_voltage);
  a.quantity[CTL_WATCH_PURITY] = known(in_product_oxygen_fraction);
  a.quantity[CTL_WATCH_HOTTEST] = f.thermal.hottest;
  a.quantity[CTL_WATCH_VOLTAGE] = f.coke.highest_voltage;
  return a;
}

inline void write_alarms(ctl_outputs& out, const AlarmMemory& m) {
  for (uint32_t k = 0; k < CTL_ALARMS; ++k) {
    out.alarm_state[k] = m.state[k];
    if (is_unacknowledged(m.state[k])) ++out.alarms_unacknowledged;
    if (m.state[k] == CTL_ALARM_UNACKNOWLEDGED || m.state[k] == CTL_ALARM_ACKNOWLEDGED) ++out.alarms_active;
  }
  out.alarms_ignored = m.ignored;
}

}  // namespace duskline::controller
