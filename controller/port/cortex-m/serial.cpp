// The controller on its own processor, at the end of a serial line: requests in, answers out, a watchdog that resets the
// board when either the controller or the line's code stops, and a dead man's switch that turns the outputs off when the
// other side falls silent. After a reset nothing is started: its answers say so, and the other side starts the controller.
#include "controller/port/board.hpp"
#include "controller/port/cortex-m/counter.hpp"
#include "controller/port/cortex-m/uart.hpp"
#include "controller/port/cortex-m/watchdog.hpp"

using namespace duskline::controller;
using namespace duskline::port;

namespace {
BoardOf<DUSKLINE_CONTROLLER> board;  // static: half of it would be most of a small stack
FrameDecoder decoder;
Frame frame;
constexpr uint32_t kBaudRate = 921600;
constexpr uint32_t kWatchdogPeriod = 500;  // ms, half a tick of the plant
}  // namespace

// No feeding here: the watchdog resets the board.
extern "C" [[noreturn]] void fault_handler() {
  for (;;) asm volatile("");
}

int main() {
  const Uart line(kBaudRate);
  const Watchdog watchdog(kWatchdogPeriod);
  const Counter counter;
  for (;;) {
    watchdog.feed();
    watch_silence(board, counter(), kClock);
    if (!line.waiting()) continue;
    if (!take_byte(decoder, line.take(), frame)) continue;
    line.send(board.answer, answer_request(board, frame, counter));
  }
}
