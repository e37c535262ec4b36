/// All that the controller remembers between ticks.
///
/// What it is   one plain struct, copied in and out of the opaque ctl_state
/// Symbols      as in the parts
/// Validity     trivially copyable, no pointers, no padding; a change of layout raises CTL_ABI_VERSION
/// Left out     conversion of states of an older layout (they are refused)
#pragma once

#include "controller/detect/calibrate.hpp"
#include "controller/detect/substitute.hpp"
#include "controller/estimate/health.hpp"
#include "controller/heat.hpp"
#include "controller/laws/law.hpp"
#include "controller/supervise/alarms.hpp"

namespace duskline::controller {

struct Memory {
  SignalMemory signals;
  ThermalMemory thermal;
  ModeMemory mode;
  GasMemory gas;
  LawMemory law;
  HeatMemory heat;
  Pi recycle;
  AlarmMemory alarms;
  Detection detection;
  Calibration calibration;
  DensityMemory density;
  CokeMemory coke;
  HealthMemory health;
  Consistency consistency;
  float feed_flow;           // kg/s, filtered
  float applied_feed;        // command of the feed device, in its unit
  float recent_feed;         // likewise, highest of about the last minute: enough for the current that flowed
  float applied_current;     // A
  float applied_opening;     // 1
  float current_trim;        // share by which the converter is asked for less than is wanted
  float one_cell_time;       // s for which one cell alone has been short of margin
  float safe_time;           // s in safe
  float flow_integral_time;  // s since the flow began
  float margin_kept;         // V, coke margin that the override keeps
  uint32_t law_in_force;     // ctl_law that set feed and current at the last tick
  uint32_t selected;         // ctl_limiter that the law selected at the last tick
  uint32_t warm;             // 1 while the stack is warm enough for protective flow and current
  uint32_t started;          // 1 after the first tick
  float derated;             // share of the wanted current that is held back
  float restarted;           // s that the restart is still reported
  uint32_t trims;            // history of a current a little above its command
  uint32_t locked_out;       // 1: a reason came back in safe, no current any more
  uint32_t diagnosed;        // ctl_diagnosis bits that stand
  uint32_t response;         // ctl_response in force
};

static_assert(__is_trivially_copyable(Memory));
static_assert(sizeof(Memory) <= sizeof(ctl_state::words));

constexpr Memory initial_memory() {
  Memory m{};
  m.signals = initial_signals();
  m.gas = initial_gas();
  m.density = initial_density();
  m.coke = initial_coke();
  m.health = initial_health();
  m.consistency = kConsistentAtRest;
  m.heat = initial_heat(250.0f);
  m.law_in_force = CTL_LAW_CASCADE;
  return m;
}

/// False when a word that is a word of a list is none: the state has been damaged.
constexpr bool plausible(const Memory& m) {
  bool good = m.mode.mode < CTL_MODES && m.law_in_force < CTL_LAWS && m.selected < CTL_LIMITERS &&
              m.response < CTL_RESPONSES;
  for (const uint8_t state : m.alarms.state) good = good && state < CTL_ALARM_STATES;
  return good && suspect_mask(m.detection) >> kInputs == 0;
}

inline Memory load(const ctl_state& state) {
  Memory m;
  __builtin_memcpy(&m, state.words, sizeof m);
  return m;
}

inline void store(ctl_state& state, const Memory& m) {
  __builtin_memcpy(state.words, &m, sizeof m);
}

}  // namespace duskline::controller
