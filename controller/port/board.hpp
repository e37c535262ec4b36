/// The board's side of a wire: one controller that answers frames.
///
/// What it is   a request in, the bytes of its answer out; nothing else touches the controller
/// Equation     hello -> Greeting; start -> ctl_init; step -> ctl_step; restart -> ctl_restart from the retained copy
/// Symbols      as in frame.hpp
/// Validity     any frame: what is not understood gets no answer; a request that is repeated (same kind and sequence)
///              gets the answer that it got before, so that a lost answer moves the controller once only
/// Left out     outputs of the board itself: the commands travel in the answer
#pragma once

#include "controller/port/frame.hpp"

namespace duskline::controller {

struct Board {
  ctl_params params;
  ctl_state state;
  ctl_retained retained;  // what a loss of power would leave
  uint32_t started;       // 1: params and state are those of a start
  uint32_t stopped;       // 1: the other side has ended the run
  uint8_t last_kind;
  uint32_t last_sequence;
  uint32_t answer_bytes;
  uint8_t answer[kFrameBytes];  // as sent last
};

inline uint32_t send_status(Board& b, Frame& frame, ctl_status status) {
  fill_frame(frame, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence,
             Answer{static_cast<uint32_t>(status)});
  return encode_frame(frame, b.answer);
}

inline ctl_status board_step(Board& b, const Frame& request, ctl_outputs& out) {
  ctl_inputs in;
  if (!take_content(request, in)) return CTL_BAD_ARGUMENT;
  return b.started != 0 ? ctl_step(&b.state, &b.params, &in, &out) : CTL_BAD_VERSION;
}

inline ctl_status board_restart(Board& b, const Frame& request) {
  uint32_t intact = 0;
  if (!take_content(request, intact) || b.started == 0) return CTL_BAD_ARGUMENT;
  ctl_retain(&b.state, &b.retained);
  if (intact == 0) b.retained.checksum ^= 1u;
  return ctl_restart(&b.state, &b.params, &b.retained);
}

/// Answers a request; the bytes to send are in b.answer, their number is returned (0: no answer).
inline uint32_t answer_request(Board& b, Frame& request) {
  if (request.kind == b.last_kind && request.sequence == b.last_sequence && b.answer_bytes != 0)
    return b.answer_bytes;
  b.last_kind = request.kind;
  b.last_sequence = request.sequence;
  b.answer_bytes = 0;
  switch (static_cast<FrameKind>(request.kind)) {
    case FrameKind::hello:
      fill_frame(request, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence, kGreeting);
      b.answer_bytes = encode_frame(request, b.answer);
      break;
    case FrameKind::start: {
      ctl_status status = CTL_BAD_ARGUMENT;
      if (take_content(request, b.params)) status = ctl_init(&b.state, &b.params);
      b.started = status == CTL_OK ? 1u : 0u;
      b.answer_bytes = send_status(b, request, status);
      break;
    }
    case FrameKind::step: {
      struct {
        Answer answer;
        ctl_outputs out;
      } content{};
      content.answer.status = static_cast<uint32_t>(board_step(b, request, content.out));
      fill_frame(request, static_cast<uint8_t>(b.last_kind | kFrameAnswer), b.last_sequence, content);
      b.answer_bytes = encode_frame(request, b.answer);
      break;
    }
    case FrameKind::restart:
      b.answer_bytes = send_status(b, request, board_restart(b, request));
      break;
    case FrameKind::stop:
      b.stopped = 1u;
      break;
    default:
      break;
  }
  return b.answer_bytes;
}

}  // namespace duskline::controller
