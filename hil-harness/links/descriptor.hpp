/// Bytes through a file descriptor: a serial device, a pseudo-terminal or a socket.
#pragma once

#include <cstdint>
#include <span>

namespace duskline::harness {

/// Writes all bytes, waiting up to `seconds` for room; what finds none is lost, as on any line whose other side does not
/// read. False when the other side is gone (a broken pipe is no signal).
bool write_all(int descriptor, std::span<const std::uint8_t> bytes, double seconds);

/// Waits up to `seconds` for bytes and returns how many came; 0: none in that time; -1: the other side is gone.
long read_some(int descriptor, std::span<std::uint8_t> bytes, double seconds);

}  // namespace duskline::harness
