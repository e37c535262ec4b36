/// The board's side of a wire: one controller that answers frames, and the outputs that the board drives.
///
/// What it is   a request in, the bytes of its answer out; nothing else touches the controller
/// Equation     hello -> Greeting; start -> init; step -> step; restart -> restart from the retained copy;
///              arm -> outputs follow the steps from now on; report -> BoardReport
/// Symbols      as in frame.hpp; C: which controller (interface.hpp); counts: of the board's own counter, which `now` reads
/// Validity     any frame: what is not understood gets no answer; a request that is repeated (same kind and sequence)
///              gets the answer that it got before, so that a lost answer moves the controller once only. The outputs
///              are off until they are armed, after start, restart, and kDeadManPeriods control periods of the board's
///              own counter without a new step; a step that finds them disarmed is refused. Arming after silence
///              restarts the controller from the retained copy: it takes over the plant as it finds it
/// Left out     drivers of outputs: `driven` is what they would take
#pragma once

#include "controller/port/frame.hpp"

namespace duskline::controller {

inline constexpr uint32_t kDeadManPeriods = 5;

template <class C>
struct BoardOf {
  typename C::Params params;
  typename C::State state;
  typename C::Retained retained;  // what a loss of power would leave
  BoardReportOf<C> now;           // what it says of itself, with the outputs that it drives
  uint32_t started;               // 1: params and state are those of a start
  uint32_t moved;                 // 1: the controller was stepped since start or restart
  uint32_t last_step;             // counter at the last new step, or at arming
  uint32_t stopped;               // 1: the other side has ended the run
  uint8_t last_kind;
  uint32_t last_sequence;
  uint32_t answer_bytes;
  uint8_t answer[kFrameBytes];  // as sent last
};
using Board = BoardOf<ModuleController>;

/// Counter of a board that has none.
struct NoCounter {
  uint32_t operator()() const { return 0; }
};

template <class C>
void disarm(BoardOf<C>& b) {
  b.now.armed = 0;
  b.now.driven = C::safe_outputs();
}

/// The dead man's switch, to be called again and again: outputs off when no new step came for kDeadManPeriods.
/// `rate`: counts in a second. Silence is known up to 2^31 counts.
template <class C>
void watch_silence(BoardOf<C>& b, uint32_t counts, uint32_t rate) {
  if (b.now.armed == 0) return;
  const float most = static_cast<float>(kDeadManPeriods) * b.params.period * static_cast<float>(rate);
  const uint32_t limit = most < 2147483648.0f ? static_cast<uint32_t>(most) : 2147483648u;
  if (counts - b.last_step <= limit) return;
  disarm(b);
  ++b.now.expired;
}

template <class C>
uint32_t send_status(BoardOf<C>& b, Frame& frame, uint32_t status) {
  fill_frame(frame, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence, Answer{status});
  return encode_frame(frame, b.answer);
}

template <class C>
uint32_t board_start(BoardOf<C>& b, const Frame& request) {
  disarm(b);
  b.moved = 0;
  ctl_status status = CTL_BAD_ARGUMENT;
  if (take_content(request, b.params)) status = C::init(&b.state, &b.params);
  b.started = status == CTL_OK ? 1u : 0u;
  return status;
}

template <class C>
uint32_t board_arm(BoardOf<C>& b, uint32_t counts) {
  if (b.started == 0) return CTL_BAD_VERSION;
  if (b.now.armed == 0 && b.moved != 0) {
    C::retain(&b.state, &b.retained);
    const ctl_status status = C::restart(&b.state, &b.params, &b.retained);
    if (status != CTL_OK && status != CTL_NOT_RETAINED) return status;
    b.moved = 0;
  }
  b.now.armed = 1;
  b.last_step = counts;
  return CTL_OK;
}

template <class C, class Now>
uint32_t board_step(BoardOf<C>& b, const Frame& request, typename C::Outputs& out, Now now) {
  typename C::Inputs in;
  if (!take_content(request, in)) return CTL_BAD_ARGUMENT;
  if (b.started == 0) return CTL_BAD_VERSION;
  if (b.now.armed == 0) return kDisarmed;
  const uint32_t before = now();
  const ctl_status status = C::step(&b.state, &b.params, &in, &out);
  const uint32_t taken = now() - before;
  b.last_step = before;
  b.moved = 1;
  b.now.driven = out;
  ++b.now.steps;
  b.now.counts = taken;
  if (taken > b.now.max_counts) {
    b.now.max_counts = taken;
    b.now.max_tick = in.tick;
  }
  return status;
}

template <class C>
uint32_t board_restart(BoardOf<C>& b, const Frame& request) {
  uint32_t intact = 0;
  if (!take_content(request, intact) || b.started == 0) return CTL_BAD_ARGUMENT;
  disarm(b);
  b.moved = 0;
  C::retain(&b.state, &b.retained);
  if (intact == 0) b.retained.checksum ^= 1u;
  return C::restart(&b.state, &b.params, &b.retained);
}

/// Answers a request; the bytes to send are in b.answer, their number is returned (0: no answer).
template <class C, class Now = NoCounter>
uint32_t answer_request(BoardOf<C>& b, Frame& request, Now now = {}) {
  if (request.kind == b.last_kind && request.sequence == b.last_sequence && b.answer_bytes != 0)
    return b.answer_bytes;
  const uint32_t begun = now();
  b.last_kind = request.kind;
  b.last_sequence = request.sequence;
  b.answer_bytes = 0;
  switch (static_cast<FrameKind>(request.kind)) {
    case FrameKind::hello:
      fill_frame(request, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence, kGreeting<C>);
      b.answer_bytes = encode_frame(request, b.answer);
      break;
    case FrameKind::start:
      b.answer_bytes = send_status(b, request, board_start(b, request));
      break;
    case FrameKind::step: {
      struct {
        Answer answer;
        typename C::Outputs out;
      } content{};
      content.answer.status = board_step(b, request, content.out, now);
      fill_frame(request, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence, content);
      b.answer_bytes = encode_frame(request, b.answer);
      const uint32_t taken = now() - begun;
      if (taken > b.now.max_answer_counts) b.now.max_answer_counts = taken;
      break;
    }
    case FrameKind::restart:
      b.answer_bytes = send_status(b, request, board_restart(b, request));
      break;
    case FrameKind::stop:
      disarm(b);
      b.stopped = 1u;
      break;
    case FrameKind::report:
      fill_frame(request, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence, b.now);
      b.answer_bytes = encode_frame(request, b.answer);
      break;
    case FrameKind::arm:
      b.answer_bytes = send_status(b, request, board_arm(b, begun));
      break;
    default:
      break;
  }
  return b.answer_bytes;
}

}  // namespace duskline::controller
