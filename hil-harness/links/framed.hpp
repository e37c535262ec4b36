/// A controller behind a stream of bytes that speaks frames.
///
/// What it is   the host's side of controller/port/frame.hpp: each call is a request that waits for its answer
/// Equation     a request without an answer within the time limit ends the run; no request is repeated in lockstep,
///              where nothing is lost
/// Validity     a board of the same interface version and the same sizes of its structs; else it is refused
/// Left out     real time, repetition of requests over a wire that loses bytes
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>

#include "controller/port/frame.hpp"
#include "hil-harness/links/link.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

/// A two-way stream of bytes.
class ByteStream {
 public:
  virtual ~ByteStream() = default;
  /// Writes all bytes; false: the other side is gone.
  virtual bool write(std::span<const std::uint8_t> bytes) = 0;
  /// Waits up to `seconds` for bytes and returns how many came; 0: none in that time; -1: the other side is gone.
  virtual long read(std::span<std::uint8_t> bytes, double seconds) = 0;
  /// What the other side said in its own words, for a message; empty: nothing.
  virtual std::string last_words() { return {}; }
};

class FramedLink final : public Link {
 public:
  /// `name` stands in messages; `limit` [s] is how long an answer may take.
  FramedLink(std::unique_ptr<ByteStream> stream, std::string name, double limit);
  ~FramedLink() override;

  /// Asks who answers and starts its controller; what is wrong, or nothing.
  std::string start(const ctl_params& params);

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override;
  ctl_status restart(bool intact) override;
  std::string error() const override { return error_; }

 private:
  bool ask(controller::FrameKind kind);
  bool receive(std::uint8_t kind);
  ctl_status fail(std::string what);

  std::unique_ptr<ByteStream> stream_;
  std::string name_, error_;
  double limit_;
  controller::Frame frame_{};
  controller::FrameDecoder decoder_{};
  std::uint32_t sequence_ = 0;
};

}  // namespace duskline::harness
