/// The checksum of retained memory and of frames on a wire.
///
/// What it is   CRC-32 of IEEE 802.3, four bits at a time
/// Equation     reflected, polynomial 0xEDB88320, start and end 0xFFFFFFFF
/// Symbols      bytes without unit
/// Validity     any number of bytes; detects every burst of errors up to 32 bits
/// Source       IEEE 802.3; check value 0xCBF43926 of "123456789"
#pragma once

#include <stdint.h>

namespace duskline::controller {

namespace crc {
/// Remainders of the sixteen values of four bits.
struct Table {
  uint32_t of[16];
};
constexpr Table table() {
  Table t{};
  for (uint32_t value = 0; value < 16; ++value) {
    uint32_t r = value;
    for (uint32_t bit = 0; bit < 4; ++bit) r = (r >> 1) ^ ((r & 1u) != 0 ? 0xedb88320u : 0u);
    t.of[value] = r;
  }
  return t;
}
inline constexpr Table kTable = table();
}  // namespace crc

inline uint32_t crc32(const unsigned char* bytes, uint32_t count) {
  uint32_t r = 0xffffffffu;
  for (uint32_t i = 0; i < count; ++i) {
    r ^= bytes[i];
    r = (r >> 4) ^ crc::kTable.of[r & 15u];
    r = (r >> 4) ^ crc::kTable.of[r & 15u];
  }
  return r ^ 0xffffffffu;
}

}  // namespace duskline::controller
