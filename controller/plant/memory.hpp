/// All that the plant controller remembers between ticks, and what of it a loss of power leaves.
///
/// What it is   one plain struct, copied in and out of the opaque ctl_plant_state
/// Validity     trivially copyable, no pointers, no padding; a change of layout raises CTL_PLANT_ABI_VERSION
/// Left out     conversion of states of an older layout (they are refused)
#pragma once

#include "controller/crc32.hpp"
#include "controller/plant/alarms.hpp"
#include "controller/plant/supervise.hpp"
#include "controller/plant/surge.hpp"

namespace duskline::controller {

struct PlantMemory {
  PlantSignalMemory signals;
  SurgeMemory surge;
  HeaderMemory headers;
  SharingMemory sharing;
  PowerMemory power;
  ModulesMemory modules;
  PlantModeMemory mode;
  PlantAlarmMemory alarms;
  float nickel_ratio;  // 1, of the last tick
  float surge_margin;  // 1, likewise
  Returned returned;   // to the suction
  uint32_t surged;     // 1: the guard asks for a trip
  uint32_t running;    // 1: the compressor was asked to turn
  uint32_t started;    // 1 after the first tick
  float full_time;     // s that the product header has not emptied through its open valve
  uint32_t liquefies;  // 1: the liquefier was asked to run
  uint32_t vents;      // 1: the product goes to the vent until the operator asks anew
};
static_assert(__is_trivially_copyable(PlantMemory));
static_assert(sizeof(PlantMemory) <= sizeof(ctl_plant_state::words));

inline PlantMemory initial_plant_memory() {
  PlantMemory m{};
  m.signals = initial_plant_signals();
  return m;
}

/// False when a word that is a word of a list is none: the state has been damaged.
constexpr bool plausible(const PlantMemory& m) {
  bool good = m.mode.mode < CTL_PLANT_MODES && m.mode.last_request < CTL_PLANT_MODES;
  for (const uint8_t state : m.alarms.state) good = good && state < CTL_ALARM_STATES;
  return good && (m.sharing.producing | m.modules.started | m.modules.stopped | m.modules.leaks) >>
                         CTL_PLANT_MODULES ==
                     0;
}

inline PlantMemory load(const ctl_plant_state& state) {
  PlantMemory m;
  __builtin_memcpy(&m, state.words, sizeof m);
  return m;
}
inline void store(ctl_plant_state& state, const PlantMemory& m) {
  __builtin_memcpy(state.words, &m, sizeof m);
}

inline uint32_t checksum_of(const ctl_plant_state& state) {
  return crc32(reinterpret_cast<const unsigned char*>(&state), sizeof state);
}

/// Loops and filters begin again from what is measured; what was learnt, decided and said by the operator is kept.
inline PlantMemory warm_restart(const PlantMemory& before) {
  PlantMemory m = initial_plant_memory();
  m.surge.guard.shift = clamp(before.surge.guard.shift, 0.0f, SurgeGuardSettings{}.shift_max);
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    m.sharing.weight[k] = clamp(before.sharing.weight[k], 0.0f, 1.0f);
    m.sharing.capacity[k] = clamp(before.sharing.capacity[k], 0.0f, 1.0f);
    m.modules.service[k] = before.modules.service[k];
  }
  m.modules.stopped = before.modules.stopped;
  m.modules.leaks = before.modules.leaks;
  m.modules.spare_in = before.modules.spare_in;
  m.alarms = before.alarms;
  m.vents = before.vents;
  if (before.mode.mode == CTL_PLANT_SAFE) m.mode = before.mode;
  m.mode.last_request = before.mode.last_request;
  return m;
}

}  // namespace duskline::controller
