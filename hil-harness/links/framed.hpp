/// A controller behind a stream of bytes that speaks frames.
///
/// What it is   the host's side of controller/port/frame.hpp: each call is a request that waits for its answer
/// Equation     a request without an answer within the time limit is repeated with the same sequence, a stated number
///              of times; the other side answers a repeated request as before, so it acts once
///              its outputs are armed after start and restart; a board that fell silent and switched them off says so at
///              the next step, and is armed again. The outputs of a module are off here too for that step; the plant
///              controller takes the step again, so that no module is stopped by the silence
/// Symbols      C: which controller answers
/// Validity     a board of the same interface version and the same sizes of its structs; else it is refused
/// Left out     real time
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
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
  /// Writes all bytes that find room within `seconds`; false: the other side is gone.
  virtual bool write(std::span<const std::uint8_t> bytes, double seconds) = 0;
  /// Waits up to `seconds` for bytes and returns how many came; 0: none in that time; -1: the other side is gone.
  virtual long read(std::span<std::uint8_t> bytes, double seconds) = 0;
  /// What the other side said in its own words, for a message; empty: nothing.
  virtual std::string last_words() { return {}; }
};

/// How long an answer may take, and how often a request is sent at most.
struct AnswerLimit {
  double seconds;
  int tries;
};

template <class C>
class FramedLinkOf final : public LinkOf<C> {
 public:
  using typename LinkOf<C>::Params, typename LinkOf<C>::Inputs, typename LinkOf<C>::Outputs;

  /// `name` stands in messages.
  FramedLinkOf(std::unique_ptr<ByteStream> stream, std::string name, AnswerLimit limit);
  ~FramedLinkOf() override;

  /// Asks who answers and starts its controller; what is wrong, or nothing.
  std::string start(const Params& params);

  ctl_status step(const Inputs& in, Outputs& out) override;
  ctl_status restart(bool intact) override;
  std::string name() const override { return name_; }
  std::string error() const override { return error_; }
  plant::RunEnd end() const override { return end_; }
  int repeated() const override { return repeated_; }

  /// What the board says of itself; none: it does not answer that.
  std::optional<controller::BoardReportOf<C>> report();

 private:
  enum class Received { answer, nothing, closed };
  bool ask(controller::FrameKind kind);
  ctl_status arm();
  Received receive(std::uint8_t kind);
  ctl_status fail(std::string what);

  std::unique_ptr<ByteStream> stream_;
  std::string name_, error_;
  AnswerLimit limit_;
  plant::RunEnd end_ = plant::RunEnd::link_lost;
  int repeated_ = 0;
  controller::Frame frame_{};
  controller::FrameDecoder decoder_{};
  std::uint32_t sequence_ = 0;
};
using FramedLink = FramedLinkOf<ModuleController>;

}  // namespace duskline::harness
