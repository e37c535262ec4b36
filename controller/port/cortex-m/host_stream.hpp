/// Bytes to and from the machine that runs the emulator or holds the debugger.
///
/// What it is   semihosting: a request number in r0, its arguments behind r1, a breakpoint that the host answers
/// Equation     SYS_OPEN 1, SYS_WRITE 5, SYS_READ 6, SYS_EXIT 0x18; read and write return the bytes NOT moved
/// Validity     a debugger or an emulator with semihosting on; without one the breakpoint is a fault
/// Source       Arm, Semihosting for AArch32 and AArch64, 2.0
/// Left out     files other than standard input and output
#pragma once

#include <stdint.h>

namespace duskline::port {

inline uint32_t host_request(uint32_t number, const void* arguments) {
  register uint32_t r0 asm("r0") = number;
  register const void* r1 asm("r1") = arguments;
  asm volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
  return r0;
}

struct HostStream {
  uint32_t in, out;
};

inline HostStream open_host_stream() {
  static constexpr char kConsole[] = ":tt";
  const struct {
    const char* name;
    uint32_t mode, length;
  } read{kConsole, 0, 3}, write{kConsole, 4, 3};
  return {host_request(1, &read), host_request(1, &write)};
}

/// Waits for bytes; 0: the other side has closed the stream.
inline uint32_t read_host(const HostStream& s, uint8_t* bytes, uint32_t capacity) {
  const struct {
    uint32_t handle;
    uint8_t* bytes;
    uint32_t count;
  } request{s.in, bytes, capacity};
  const uint32_t left = host_request(6, &request);
  return left > capacity ? 0 : capacity - left;
}

/// False when not all bytes were taken.
inline bool write_host(const HostStream& s, const uint8_t* bytes, uint32_t count) {
  const struct {
    uint32_t handle;
    const uint8_t* bytes;
    uint32_t count;
  } request{s.out, bytes, count};
  return host_request(5, &request) == 0;
}

[[noreturn]] inline void leave_host(bool well) {
  for (;;) host_request(0x18, reinterpret_cast<const void*>(well ? 0x20026u : 0x20023u));
}

}  // namespace duskline::port
