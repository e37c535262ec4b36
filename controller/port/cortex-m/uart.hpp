/// Serial port of the board, polled.
///
/// What it is   bytes out and in through the first UART of the design kit for Cortex-M
/// Equation     baud rate = clock / BAUDDIV
/// Symbols      DATA 0x0, STATE 0x4 (bit 0 transmitter full, bit 1 receiver full), CTRL 0x8 (bit 0 transmitter on, bit 1
///              receiver on), BAUDDIV 0x10
/// Validity     the other side sends nothing while the board is at work on an answer: the receiver holds one byte
/// Source       Arm DDI 0479, Cortex-M System Design Kit, APB UART; addresses: Arm application note AN386
/// Left out     interrupts, parity, flow control: a frame that was corrupted is dropped by its checksum and sent again
#pragma once

#include <stdint.h>

namespace duskline::port {

inline constexpr uint32_t kClock = 25000000;  // Hz, of the peripherals

inline volatile uint32_t& peripheral(uint32_t address) {
  return *reinterpret_cast<volatile uint32_t*>(address);
}

class Uart {
 public:
  explicit Uart(uint32_t baud_rate) {
    peripheral(kBase + 0x10) = kClock / baud_rate;
    peripheral(kBase + 0x8) = 3;
  }
  bool waiting() const { return (peripheral(kBase + 0x4) & 2u) != 0; }
  uint8_t take() const { return static_cast<uint8_t>(peripheral(kBase)); }
  void send(const uint8_t* bytes, uint32_t count) const {
    for (uint32_t i = 0; i < count; ++i) {
      while ((peripheral(kBase + 0x4) & 1u) != 0) {
      }
      peripheral(kBase) = bytes[i];
    }
  }

 private:
  static constexpr uint32_t kBase = 0x40004000;
};

}  // namespace duskline::port
