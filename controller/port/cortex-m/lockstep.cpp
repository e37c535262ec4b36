// The controller on its own processor, stepped in lockstep: requests from the host's stream, answers to it. The
// controller's sources are those of every other target. Time stands still between two requests, so that no dead man's
// switch watches them.
#include "controller/port/board.hpp"
#include "controller/port/cortex-m/counter.hpp"
#include "controller/port/cortex-m/host_stream.hpp"

using namespace duskline::controller;
using namespace duskline::port;

namespace {
BoardOf<DUSKLINE_CONTROLLER> board;  // static: half of it would be most of a small stack
FrameDecoder decoder;
Frame frame;
uint8_t bytes[2048];
}  // namespace

extern "C" [[noreturn]] void fault_handler() {
  leave_host(false);
}

int main() {
  const Counter counter;
  const HostStream stream = open_host_stream();
  while (board.stopped == 0) {
    const uint32_t count = read_host(stream, bytes, sizeof bytes);
    if (count == 0) break;
    for (uint32_t i = 0; i < count && board.stopped == 0; ++i) {
      if (!take_byte(decoder, bytes[i], frame)) continue;
      const uint32_t answer = answer_request(board, frame, counter);
      if (answer != 0 && !write_host(stream, board.answer, answer)) leave_host(false);
    }
  }
  leave_host(true);
}
