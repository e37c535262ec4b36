/// Counter of the board, 25 million a second, which no frame moves.
///
/// What it is   the first timer of the design kit: it falls from RELOAD at the clock of the peripherals and begins again
/// Symbols      CTRL 0x0 (bit 0 counts), VALUE 0x4, RELOAD 0x8
/// Validity     differences of less than 2^32 counts, 171 s
/// Source       Arm DDI 0479, Cortex-M System Design Kit, APB timer; address: Arm application note AN386
/// Left out     its interrupt
#pragma once

#include "controller/port/cortex-m/uart.hpp"

namespace duskline::port {

class Counter {
 public:
  Counter() {
    peripheral(kBase + 0x8) = 0xFFFFFFFFu;
    peripheral(kBase + 0x4) = 0xFFFFFFFFu;
    peripheral(kBase) = 1;
  }
  uint32_t operator()() const { return ~peripheral(kBase + 0x4); }

 private:
  static constexpr uint32_t kBase = 0x40000000;
};

}  // namespace duskline::port
