#include "hil-harness/links/framed.hpp"

#include <fmt/format.h>

#include <array>

#include "hil-harness/links/answer.hpp"

namespace duskline::harness {

using controller::FrameKind;

FramedLink::FramedLink(std::unique_ptr<ByteStream> stream, std::string name, AnswerLimit limit)
    : stream_(std::move(stream)), name_(std::move(name)), limit_(limit) {}

FramedLink::~FramedLink() {
  if (!stream_) return;
  frame_.kind = static_cast<std::uint8_t>(FrameKind::stop);
  frame_.sequence = ++sequence_;
  frame_.bytes = 0;
  std::array<std::uint8_t, controller::kFrameBytes> wire;
  stream_->write(std::span(wire).first(encode_frame(frame_, wire.data())), limit_.seconds);
}

ctl_status FramedLink::fail(std::string what) {
  if (error_.empty()) {
    error_ = fmt::format("{}: {}", name_, what);
    if (const std::string words = stream_->last_words(); !words.empty())
      error_ += fmt::format(" ({})", words);
  }
  return CTL_BAD_ARGUMENT;
}

/// Sends what frame_ holds and waits for its answer, which is in frame_ then.
bool FramedLink::ask(FrameKind kind) {
  std::array<std::uint8_t, controller::kFrameBytes> wire;
  frame_.kind = static_cast<std::uint8_t>(kind);
  frame_.sequence = ++sequence_;
  const auto request = std::span(wire).first(encode_frame(frame_, wire.data()));
  const auto answer = static_cast<std::uint8_t>(frame_.kind | controller::kFrameAnswer);
  for (int tried = 0; tried < limit_.tries; ++tried) {
    repeated_ += tried > 0 ? 1 : 0;
    const Received got = stream_->write(request, limit_.seconds) ? receive(answer) : Received::closed;
    if (got == Received::answer) return true;
    if (got == Received::closed) {
      fail("has closed the stream");
      return false;
    }
  }
  fail(fmt::format("no answer within {:.3g} s{}", limit_.seconds,
                   limit_.tries > 1 ? fmt::format(", asked {} times", limit_.tries) : ""));
  return false;
}

FramedLink::Received FramedLink::receive(std::uint8_t kind) {
  std::array<std::uint8_t, 4096> bytes;
  for (;;) {
    const long count = stream_->read(bytes, limit_.seconds);
    if (count <= 0) return count < 0 ? Received::closed : Received::nothing;
    bool found = false;
    for (long i = 0; i < count && !found; ++i)
      // an answer to another request is one that came late: it is passed over
      found = take_byte(decoder_, bytes[static_cast<std::size_t>(i)], frame_) && frame_.kind == kind &&
              frame_.sequence == sequence_;
    if (found) return Received::answer;
  }
}

std::string FramedLink::start(const ctl_params& params) {
  fill_frame(frame_, 0, 0, controller::kGreeting);
  if (!ask(FrameKind::hello)) return error_;
  controller::Greeting who{};
  if (!take_content(frame_, who)) return fmt::format("{}: its greeting has another size", name_);
  constexpr auto kOurs = controller::kGreeting;
  if (who.abi_version != kOurs.abi_version)
    return fmt::format(
        "{}: speaks version {} of the interface, this program version {}; build the image again", name_,
        who.abi_version, kOurs.abi_version);
  if (who.params_bytes != kOurs.params_bytes || who.inputs_bytes != kOurs.inputs_bytes ||
      who.outputs_bytes != kOurs.outputs_bytes || who.state_bytes != kOurs.state_bytes)
    return fmt::format("{}: its structs have other sizes; build the image from these sources", name_);
  fill_frame(frame_, 0, 0, params);
  controller::Answer answer{};
  if (!ask(FrameKind::start)) return error_;
  if (!take_content(frame_, answer) || answer.status != CTL_OK)
    return fmt::format("{}: refuses the parameters of the scenario (status {})", name_, answer.status);
  return arm() == CTL_OK ? std::string() : error_;
}

/// The board's outputs follow the steps from now on.
ctl_status FramedLink::arm() {
  controller::Answer answer{};
  frame_.bytes = 0;
  if (!ask(FrameKind::arm)) return CTL_BAD_ARGUMENT;
  if (!take_content(frame_, answer)) return fail("its answer has another size");
  if (answer.status != CTL_OK)
    return fail(fmt::format("does not arm its outputs (status {})", answer.status));
  return CTL_OK;
}

std::optional<controller::BoardReport> FramedLink::report() {
  controller::BoardReport report{};
  frame_.bytes = 0;
  if (!ask(FrameKind::report) || !take_content(frame_, report)) return std::nullopt;
  return report;
}

ctl_status FramedLink::step(const ctl_inputs& in, ctl_outputs& out) {
  struct {
    controller::Answer answer;
    ctl_outputs out;
  } content;
  fill_frame(frame_, 0, 0, in);
  if (!ask(FrameKind::step)) return CTL_BAD_ARGUMENT;
  if (!take_content(frame_, content)) return fail("its answer has another size");
  if (content.answer.status == controller::kDisarmed) {
    out = no_estimates();
    return arm();
  }
  out = content.out;
  const auto status = static_cast<ctl_status>(content.answer.status);
  if (status != CTL_OK) {
    end_ = plant::RunEnd::controller_failed;
    return fail(fmt::format("its controller ended with status {}", content.answer.status));
  }
  return status;
}

ctl_status FramedLink::restart(bool intact) {
  fill_frame(frame_, 0, 0, std::uint32_t{intact ? 1u : 0u});
  controller::Answer answer{};
  if (!ask(FrameKind::restart)) return CTL_BAD_ARGUMENT;
  if (!take_content(frame_, answer)) return fail("its answer has another size");
  const auto status = static_cast<ctl_status>(answer.status);
  if (status != CTL_OK && status != CTL_NOT_RETAINED) return status;
  return arm() == CTL_OK ? status : CTL_BAD_ARGUMENT;
}

}  // namespace duskline::harness
