/// What a loss of power leaves: a checksum over the state, and the memory with which the next start begins.
///
/// What it is   the retained copy of the state and the choice of what of it still counts
/// Equation     CRC-32 of IEEE 802.3: reflected, polynomial 0xEDB88320, start and end 0xFFFFFFFF
/// Symbols      none
/// Validity     a copy of this layout; anything else is refused
/// Source       IEEE 802.3; check value 0xCBF43926 of "123456789"
/// Left out     correction of damaged copies
#pragma once

#include "controller/memory.hpp"

namespace duskline::controller {

inline uint32_t crc32(const unsigned char* bytes, uint32_t count) {
  uint32_t crc = 0xffffffffu;
  for (uint32_t i = 0; i < count; ++i) {
    crc ^= bytes[i];
    for (uint32_t bit = 0; bit < 8; ++bit) crc = (crc >> 1) ^ ((crc & 1u) != 0 ? 0xedb88320u : 0u);
  }
  return crc ^ 0xffffffffu;
}

inline uint32_t checksum_of(const ctl_state& state) {
  return crc32(reinterpret_cast<const unsigned char*>(&state), sizeof state);
}

/// Loops and filters start again; what was learnt about the plant is kept.
inline Memory begin_again(const Memory& before) {
  Memory m = memory_at_rest();
  m.mode.tripped = before.mode.tripped;
  m.coke.resistance = take_up(before.coke.resistance);
  m.density = take_up(before.density);
  m.health = before.health;
  m.gas.recycle_factor = before.gas.recycle_factor;
  return m;
}

}  // namespace duskline::controller
