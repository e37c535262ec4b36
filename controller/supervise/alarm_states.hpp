/// The states of alarms, whatever raises them.
///
/// What it is   one state machine for each row of a list of alarms, and the operator's actions upon them
/// Equation     a condition must stand for on_delay to count and be gone for off_delay to be gone; what needs a repair
///              (off_delay of kRepairDelay or more) and comes back within a sol must be gone for a sol
/// Symbols      states A to I as 0 to 8, delays [s]
/// Validity     any condition, any action: what cannot be carried out is ignored and counted
/// Source       ANSI/ISA-18.2-2016, IEC 62682:2014 (states, transitions, priority from severity and time)
/// Left out     re-alarm of an acknowledged alarm that stays; one-shot shelving; messages (they are the
///              console's)
#pragma once

#include "controller/include/controller.h"
#include "controller/math.hpp"

namespace duskline::controller {

inline constexpr float kRepairDelay = 600.0f;     // s
inline constexpr float kRepairSpan = 88775.244f;  // s, a sol: wear and drift show by the hour of the sol

struct AlarmRow {
  float minutes, on_delay, off_delay, limit, dead_band;
  uint32_t severity, priority, latched, source, argument, suppressed;
};

/// From a row of a list of alarms.
#define CTL_ALARM_ROW(identifier, number, word, severity, minutes, priority, latched, on_delay, off_delay, \
                      source, argument, limit, dead_band, suppressed, consequence, cause, action)          \
  {minutes, on_delay, off_delay, limit, dead_band, severity, priority, latched, source, argument, suppressed},

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
template <uint32_t N>
constexpr bool alarms_agree(const AlarmRow (&rows)[N]) {
  for (const AlarmRow& a : rows) {
    if (a.priority != priority_of(a.severity, a.minutes)) return false;
    // the delay is no more than a third of the time to respond
    if (a.on_delay > a.minutes * 60.0f / 3.0f || a.dead_band < 0.0f || a.latched > 1) return false;
  }
  return true;
}

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

/// What is remembered of N alarms; their number rounded up to whole words is the capacity.
template <uint32_t N, uint32_t Capacity>
struct AlarmBank {
  static_assert(N <= Capacity && Capacity % 4 == 0);
  uint8_t state[Capacity];
  uint8_t raw[Capacity];     // the condition with its dead-band
  uint8_t active[Capacity];  // the condition after its delays
  float held[N];             // s that raw has differed from active
  float shelved[N];          // s that are left
  float again[N];  // s that are left in which it would be the same alarm; of an active one: it came again
  uint32_t ignored;
};

struct AlarmAction {
  uint32_t action, number, maintenance;
  float shelve_time;
};

template <uint32_t N, uint32_t Capacity>
constexpr void alarm_happens(AlarmBank<N, Capacity>& m, const AlarmRow (&rows)[N], uint32_t k,
                             uint32_t event) {
  const uint8_t next = alarm_next(m.state[k], event, m.active[k] != 0, rows[k].latched != 0);
  if (next != kNoTransition) m.state[k] = next;
}

/// The operator's action: one a tick. What cannot be carried out is counted.
template <uint32_t N, uint32_t Capacity>
constexpr void act_on_alarms(AlarmBank<N, Capacity>& m, const AlarmRow (&rows)[N], float shelve_max,
                             const AlarmAction& a) {
  if (a.action == CTL_ALARM_NO_ACTION) return;
  if (a.action == CTL_ALARM_ACKNOWLEDGE_ALL) {
    for (uint32_t k = 0; k < N; ++k) alarm_happens(m, rows, k, alarm_acknowledge);
    return;
  }
  constexpr uint32_t kEvents[CTL_ALARM_ACTIONS] = {kAlarmEvents, alarm_acknowledge, kAlarmEvents,
                                                   alarm_shelve, alarm_unshelve,    alarm_remove,
                                                   alarm_return, alarm_reset};
  bool legal = a.action < CTL_ALARM_ACTIONS && a.number < N;
  if (a.action == CTL_ALARM_SHELVE) legal = legal && a.shelve_time > 0.0f && a.shelve_time <= shelve_max;
  if (a.action == CTL_ALARM_REMOVE || a.action == CTL_ALARM_RETURN) legal = legal && a.maintenance == 1;
  const uint8_t next = legal ? alarm_next(m.state[a.number], kEvents[a.action], m.active[a.number] != 0,
                                          rows[a.number].latched != 0)
                             : kNoTransition;
  if (next == kNoTransition) {
    if (m.ignored < 0xffffffffu) ++m.ignored;
    return;
  }
  m.state[a.number] = next;
  if (a.action == CTL_ALARM_SHELVE) m.shelved[a.number] = a.shelve_time;
}

/// One tick of all alarms; `condition(row, before)`: whether it stands, dead-band included. `mode`: bit of the mode.
template <uint32_t N, uint32_t Capacity, class Condition>
constexpr void run_alarm_bank(AlarmBank<N, Capacity>& m, const AlarmRow (&rows)[N], float period,
                              uint32_t mode, const Condition& condition) {
  for (uint32_t k = 0; k < N; ++k) {
    const AlarmRow& row = rows[k];
    m.raw[k] = condition(row, m.raw[k] != 0) ? 1 : 0;
    const bool meaningless = (row.suppressed & mode) != 0;
    // the delay of a limit begins when the limit means something
    const bool waits =
        meaningless && m.raw[k] != 0 && (row.source == CTL_FROM_ABOVE || row.source == CTL_FROM_BELOW);
    m.held[k] = m.raw[k] != m.active[k] && !waits ? min_of(m.held[k] + period, 1e6f) : 0.0f;
    // a delay of zero acts in the tick; one of d s when the condition has stood for more than d
    if (m.active[k] == 0) m.again[k] = max_of(0.0f, m.again[k] - period);
    const float off_delay = m.again[k] > 0.0f ? kRepairSpan : row.off_delay;
    if (m.raw[k] != m.active[k] && m.held[k] > (m.raw[k] != 0 ? row.on_delay : off_delay)) {
      m.active[k] = m.raw[k];
      m.held[k] = 0.0f;
      if (m.active[k] == 0)
        m.again[k] = m.again[k] > 0.0f || row.off_delay < kRepairDelay ? 0.0f : kRepairSpan;
      alarm_happens(m, rows, k, m.active[k] != 0 ? alarm_begins : alarm_clears);
    }
    if (m.state[k] == CTL_ALARM_SHELVED) {
      m.shelved[k] -= period;
      if (!(m.shelved[k] > 0.0f)) alarm_happens(m, rows, k, alarm_unshelve);
    }
    alarm_happens(m, rows, k, meaningless ? alarm_suppress : alarm_release);
  }
}

constexpr bool is_unacknowledged(uint8_t state) {
  return state == CTL_ALARM_UNACKNOWLEDGED || state == CTL_ALARM_RETURNED || state == CTL_ALARM_LATCHED;
}

/// States and counts into the outputs of a controller.
template <class Outputs, uint32_t N, uint32_t Capacity>
constexpr void write_alarms(Outputs& out, const AlarmBank<N, Capacity>& m) {
  for (uint32_t k = 0; k < N; ++k) {
    out.alarm_state[k] = m.state[k];
    if (is_unacknowledged(m.state[k])) ++out.alarms_unacknowledged;
    if (m.state[k] == CTL_ALARM_UNACKNOWLEDGED || m.state[k] == CTL_ALARM_ACKNOWLEDGED) ++out.alarms_active;
  }
  out.alarms_ignored = m.ignored;
}

}  // namespace duskline::controller
