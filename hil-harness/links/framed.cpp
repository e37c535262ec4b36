#include "hil-harness/links/framed.hpp"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <type_traits>

#include "hil-harness/links/answer.hpp"

namespace duskline::harness {

using controller::FrameKind;

namespace {

template <class C>
constexpr const char* kLongName =
    std::is_same_v<C, PlantController> ? "plant controller" : "module controller";

}  // namespace

template <class C>
FramedLinkOf<C>::FramedLinkOf(std::unique_ptr<ByteStream> stream, std::string name, AnswerLimit limit)
    : stream_(std::move(stream)), name_(std::move(name)), limit_(limit) {}

template <class C>
FramedLinkOf<C>::~FramedLinkOf() {
  if (!stream_) return;
  frame_.kind = static_cast<std::uint8_t>(FrameKind::stop);
  frame_.sequence = ++sequence_;
  frame_.bytes = 0;
  std::array<std::uint8_t, controller::kFrameBytes> wire;
  stream_->write(std::span(wire).first(encode_frame(frame_, wire.data())), limit_.seconds);
}

template <class C>
ctl_status FramedLinkOf<C>::fail(std::string what) {
  if (error_.empty()) {
    error_ = fmt::format("{}: {}", name_, what);
    if (const std::string words = stream_->last_words(); !words.empty())
      error_ += fmt::format(" ({})", words);
  }
  return CTL_BAD_ARGUMENT;
}

/// Sends what frame_ holds and waits for its answer, which is in frame_ then.
template <class C>
bool FramedLinkOf<C>::ask(FrameKind kind) {
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

template <class C>
typename FramedLinkOf<C>::Received FramedLinkOf<C>::receive(std::uint8_t kind) {
  using Clock = std::chrono::steady_clock;
  std::array<std::uint8_t, 4096> bytes;
  const auto begin = Clock::now();
  double left = limit_.seconds;  // for the whole answer, however many bytes come meanwhile
  do {
    const long count = stream_->read(bytes, left);
    if (count <= 0) return count < 0 ? Received::closed : Received::nothing;
    bool found = false;
    for (long i = 0; i < count && !found; ++i)
      // an answer to another request is one that came late: it is passed over
      found = take_byte(decoder_, bytes[static_cast<std::size_t>(i)], frame_) && frame_.kind == kind &&
              frame_.sequence == sequence_;
    if (found) return Received::answer;
    left = limit_.seconds - std::chrono::duration<double>(Clock::now() - begin).count();
  } while (left > 0.0);
  return Received::nothing;
}

template <class C>
std::string FramedLinkOf<C>::start(const Params& params) {
  fill_frame(frame_, 0, 0, controller::kGreeting<C>);
  if (!ask(FrameKind::hello)) return error_;
  controller::Greeting who{};
  if (!take_content(frame_, who)) return fmt::format("{}: its greeting has another size", name_);
  constexpr auto same = [](const controller::Greeting& a, const controller::Greeting& b) {
    return a.params_bytes == b.params_bytes && a.inputs_bytes == b.inputs_bytes &&
           a.outputs_bytes == b.outputs_bytes && a.state_bytes == b.state_bytes;
  };
  using Other = std::conditional_t<std::is_same_v<C, PlantController>, ModuleController, PlantController>;
  if (same(who, controller::kGreeting<Other>))
    return fmt::format("{}: is a {}, and a {} is wanted here", name_, kLongName<Other>, kLongName<C>);
  constexpr auto kOurs = controller::kGreeting<C>;
  static_assert(!same(kOurs, controller::kGreeting<Other>),
                "the greetings of the two controllers are the same");
  if (who.abi_version != kOurs.abi_version)
    return fmt::format(
        "{}: speaks version {} of the interface, this program version {}; build the image again", name_,
        who.abi_version, kOurs.abi_version);
  if (!same(who, kOurs))
    return fmt::format("{}: its structs have other sizes; build the image from these sources", name_);
  fill_frame(frame_, 0, 0, params);
  controller::Answer answer{};
  if (!ask(FrameKind::start)) return error_;
  if (!take_content(frame_, answer) || answer.status != CTL_OK)
    return fmt::format("{}: refuses the parameters of the scenario (status {})", name_, answer.status);
  return arm() == CTL_OK ? std::string() : error_;
}

/// The board's outputs follow the steps from now on.
template <class C>
ctl_status FramedLinkOf<C>::arm() {
  controller::Answer answer{};
  frame_.bytes = 0;
  if (!ask(FrameKind::arm)) return CTL_BAD_ARGUMENT;
  if (!take_content(frame_, answer)) return fail("its answer has another size");
  if (answer.status != CTL_OK)
    return fail(fmt::format("does not arm its outputs (status {})", answer.status));
  return CTL_OK;
}

template <class C>
std::optional<controller::BoardReportOf<C>> FramedLinkOf<C>::report() {
  controller::BoardReportOf<C> report{};
  frame_.bytes = 0;
  if (!ask(FrameKind::report) || !take_content(frame_, report)) return std::nullopt;
  return report;
}

template <class C>
ctl_status FramedLinkOf<C>::step(const Inputs& in, Outputs& out) {
  struct {
    controller::Answer answer;
    Outputs out;
  } content;
  fill_frame(frame_, 0, 0, in);
  if (!ask(FrameKind::step)) return CTL_BAD_ARGUMENT;
  if (!take_content(frame_, content)) return fail("its answer has another size");
  if (content.answer.status == controller::kDisarmed) {
    if (arm() != CTL_OK) return CTL_BAD_ARGUMENT;
    out = unwritten_outputs<C>();
    if constexpr (std::is_same_v<C, ModuleController>) return CTL_OK;
    // safe orders would stop every module for good: the step that was refused moved nothing, and is sent again
    fill_frame(frame_, 0, 0, in);
    if (!ask(FrameKind::step)) return CTL_BAD_ARGUMENT;
    if (!take_content(frame_, content)) return fail("its answer has another size");
  }
  out = content.out;
  const auto status = static_cast<ctl_status>(content.answer.status);
  if (status != CTL_OK) {
    end_ = plant::RunEnd::controller_failed;
    return fail(fmt::format("its controller ended with status {}", content.answer.status));
  }
  return status;
}

template <class C>
ctl_status FramedLinkOf<C>::restart(bool intact) {
  fill_frame(frame_, 0, 0, std::uint32_t{intact ? 1u : 0u});
  controller::Answer answer{};
  if (!ask(FrameKind::restart)) return CTL_BAD_ARGUMENT;
  if (!take_content(frame_, answer)) return fail("its answer has another size");
  const auto status = static_cast<ctl_status>(answer.status);
  if (status != CTL_OK && status != CTL_NOT_RETAINED) return status;
  return arm() == CTL_OK ? status : CTL_BAD_ARGUMENT;
}

template class FramedLinkOf<ModuleController>;
template class FramedLinkOf<PlantController>;

}  // namespace duskline::harness
