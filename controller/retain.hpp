/// What a loss of power leaves: a checksum over the state, and the memory with which the next start begins.
///
/// What it is   the retained copy of the state and the choice of what of it still counts
/// Equation     CRC-32 of crc32.hpp over the whole state
/// Symbols      none
/// Validity     a copy of this layout; anything else is refused
/// Source       IEEE 802.3
/// Left out     correction of damaged copies
#pragma once

#include "controller/crc32.hpp"
#include "controller/memory.hpp"

namespace duskline::controller {

inline uint32_t checksum_of(const ctl_state& state) {
  return crc32(reinterpret_cast<const unsigned char*>(&state), sizeof state);
}

inline constexpr float kRestartTold = 600.0f;  // s

/// Where the modes begin again: in safe if a trip stood or if it happens too often, else off, from where the first
/// tick takes a running plant over or goes to what the operator asks for.
inline ModeMemory mode_after_restart(const ModeMemory& before, const ctl_params& p) {
  ModeMemory m = before;
  m.since_restart = 0.0f;
  if (m.restarts < 1000u) ++m.restarts;
  if (m.mode != CTL_SAFE && static_cast<float>(m.restarts) > p.restarts_max)
    enter_safe(m, CTL_RESTARTS_MANY, before.last_request);
  if (m.mode != CTL_SAFE) m.mode = CTL_OFF;
  for (uint32_t& count : m.counts) count = 0;
  return m;
}

/// Loops and filters start again; what was learnt about the plant is kept.
inline Memory warm_restart(const Memory& before, const ctl_params& p) {
  Memory m = initial_memory();
  m.mode = mode_after_restart(before.mode, p);
  m.alarms = before.alarms;
  m.restarted = kRestartTold;
  m.coke.resistance = restore(before.coke.resistance);
  m.density = restore(before.density);
  m.health = before.health;
  m.gas.recycle_factor = before.gas.recycle_factor;
  m.calibration = before.calibration;
  m.calibration.rest_time = 0.0f;
  for (uint32_t i = 0; i < kResiduals; ++i)
    m.detection.residuals.as_built[i] = before.detection.residuals.as_built[i];
  m.detection.residuals.commissioned = before.detection.residuals.commissioned;
  m.detection.residuals.built_at = before.detection.residuals.built_at;
  m.detection.residuals.built_leak = before.detection.residuals.built_leak;
  return m;
}

}  // namespace duskline::controller
