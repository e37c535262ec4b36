/// Watchdog of the board: resets it unless it is refreshed in time.
///
/// What it is   a counter that falls from LOAD at the clock of the peripherals; at zero it asks for an interrupt, at the
///              next zero it resets the processor
/// Symbols      LOAD 0x0, CTRL 0x8 (bit 0 counts and interrupts, bit 1 resets), INTCLR 0xC (any value: from LOAD again),
///              LOCK 0xC00 (0x1ACCE551 opens the registers, anything else closes them)
/// Validity     a reset comes between one and two periods after the last feeding
/// Source       Arm DDI 0479, Cortex-M System Design Kit, APB watchdog; address: Arm application note AN386
/// Left out     the interrupt at the first zero: it is not enabled in the processor
#pragma once

#include "controller/port/cortex-m/uart.hpp"

namespace duskline::port {

class Watchdog {
 public:
  explicit Watchdog(uint32_t milliseconds) {
    peripheral(kBase + 0xC00) = 0x1ACCE551;
    peripheral(kBase) = kClock / 1000 * milliseconds;
    peripheral(kBase + 0x8) = 3;
    peripheral(kBase + 0xC00) = 0;
  }
  void feed() const {
    peripheral(kBase + 0xC00) = 0x1ACCE551;
    peripheral(kBase + 0xC) = 1;
    peripheral(kBase + 0xC00) = 0;
  }

 private:
  static constexpr uint32_t kBase = 0x40008000;
};

}  // namespace duskline::port
