#include "hil-harness/links/faulty_wire.hpp"

#include <algorithm>
#include <cmath>

#include "hil-harness/links/answer.hpp"

namespace duskline::harness {
namespace {

constexpr auto kStep = static_cast<std::uint8_t>(controller::FrameKind::step);
constexpr auto kHello = static_cast<std::uint8_t>(controller::FrameKind::hello);
constexpr std::size_t kBuffer = 32;  // frames that a wire holds; the sender loses what does not fit
constexpr std::size_t kBabble = 64;  // bytes of another sender, at most

/// Whether sequence a was given after b.
bool newer(std::uint32_t a, std::uint32_t b) {
  return static_cast<std::int32_t>(a - b) > 0;
}

}  // namespace

Wire::Wire(std::uint64_t seed, const std::string& name)
    : chance_(seed, name), bytes_chance_(seed, name + "/bytes") {}

void Wire::put(InTransit frame) {
  if (in_transit_.size() >= kBuffer) return;
  const auto after = std::find_if(in_transit_.begin(), in_transit_.end(),
                                  [&](const InTransit& other) { return other.due > frame.due; });
  in_transit_.insert(after, std::move(frame));
}

void Wire::send(std::int64_t tick, const controller::Frame& frame, const WireState& state, bool passes) {
  if (!passes) return;
  enum Draw : std::int64_t { duplicated, reordered, corrupted, babbled, draws };
  const auto happens = [&](Draw what, double share) { return chance_.uniform(draws * tick + what) < share; };
  std::vector<std::uint8_t> bytes(controller::kFrameBytes);
  bytes.resize(encode_frame(frame, bytes.data()));
  const plant::PhiloxCounter random = bytes_chance_.words(2 * tick);
  if (happens(corrupted, state.corrupt)) {
    const std::size_t bit = random[0] % (8 * bytes.size());
    bytes[bit / 8] = static_cast<std::uint8_t>(bytes[bit / 8] ^ 1U << bit % 8);
  }
  if (happens(babbled, state.babble)) {
    const plant::NoiseStream noise(random[1], "babble");
    std::vector<std::uint8_t> other(1 + random[2] % kBabble);
    for (std::size_t k = 0; k < other.size(); ++k)
      other[k] = static_cast<std::uint8_t>(noise.words(static_cast<std::int64_t>(k))[0]);
    bytes.insert(bytes.begin(), other.begin(), other.end());
  }
  // one that is held back comes after the next, which is a tick later
  const std::int64_t late = happens(reordered, state.reorder) ? 2 : 0;
  const std::int64_t due = tick + std::llround(state.delay) + late;
  if (happens(duplicated, state.duplicate)) put({due, bytes});
  put({due, std::move(bytes)});
}

FaultyWire::FaultyWire(Link& controller, std::uint64_t seed)
    : controller_(controller),
      down_(seed, "wire/readings"),
      up_(seed, "wire/commands"),
      held_(unwritten_outputs<ModuleController>()) {}

void FaultyWire::begin(std::int64_t tick, const ctl_outputs& in_force) {
  tick_ = tick;
  taken_ = answered_ = static_cast<std::uint32_t>(tick);
  held_ = in_force;
}

/// The controller's side: the newest readings that have come, stepped once.
ctl_status FaultyWire::serve_controller() {
  if (state_.board_off) {
    down_.clear();
    up_.clear();
    rebooted_ = true;
    return CTL_OK;
  }
  looks_ += 1.0 / (1.0 + state_.drift);
  if (looks_ < 1.0) return CTL_OK;  // not in this tick
  looks_ -= std::floor(looks_);
  std::uint8_t asked = 0;  // by the newest request
  down_.read(tick_, state_, [&](const controller::Frame& frame) {
    if (!newer(frame.sequence, taken_)) return;
    if (frame.kind != kHello && (frame.kind != kStep || !take_content(frame, read_))) return;
    taken_ = frame.sequence;
    asked = frame.kind;
  });
  if (asked == 0) return CTL_OK;
  const auto kind = static_cast<std::uint8_t>(asked | controller::kFrameAnswer);
  if (asked == kStep) {
    if (const ctl_status status = controller_.step(read_, answer_); status != CTL_OK) return status;
    fill_frame(frame_, kind, taken_, answer_);
  } else {
    fill_frame(frame_, kind, taken_, controller::kGreeting<ModuleController>);
  }
  up_.send(tick_, frame_, state_, !state_.cut && !state_.one_way);
  return CTL_OK;
}

/// The plant's side: the newest answer that is valid; true when one has come.
bool FaultyWire::take_answers() {
  const auto now = static_cast<std::uint32_t>(tick_);
  bool fresh = false;
  up_.read(tick_, state_, [&](const controller::Frame& frame) {
    const bool greets = frame.kind == (kHello | controller::kFrameAnswer);
    if (!greets && frame.kind != (kStep | controller::kFrameAnswer)) return;
    if (!newer(frame.sequence, answered_) || newer(frame.sequence, now)) return;
    if (now - frame.sequence > static_cast<std::uint32_t>(kBlindTicks)) return;
    ctl_outputs content = held_;
    if (!greets && (!take_content(frame, content) || !unusable(content).empty())) return;
    answered_ = frame.sequence;
    held_ = content;
    fresh = true;
  });
  age_ = static_cast<int>(std::min(now - answered_, std::uint32_t{1} << 30U));
  return fresh;
}

/// The controller starts again and takes over the plant as it finds it; what it answers from the next tick on acts.
ctl_status FaultyWire::arm() {
  const ctl_status status = controller_.restart(true);
  if (status != CTL_OK && status != CTL_NOT_RETAINED) return status;
  if (!armed_) armed_from_ = static_cast<std::uint32_t>(tick_) + 1;
  armed_ = true;
  rebooted_ = false;
  return CTL_OK;
}

ctl_status FaultyWire::step(const ctl_inputs& in, ctl_outputs& out) {
  ++tick_;
  // while the outputs are off it is asked whether it is there, and not moved
  if (armed_)
    fill_frame(frame_, kStep, static_cast<std::uint32_t>(tick_), in);
  else
    fill_frame(frame_, kHello, static_cast<std::uint32_t>(tick_), controller::kGreeting<ModuleController>);
  down_.send(tick_, frame_, state_, !state_.cut);
  if (const ctl_status status = serve_controller(); status != CTL_OK) return status;
  const bool fresh = take_answers();
  if (age_ > kBlindTicks) armed_ = false;
  if (fresh && (!armed_ || rebooted_))
    if (const ctl_status status = arm(); status != CTL_OK) return status;
  const bool acts = armed_ && (armed_from_ == 0 || !newer(armed_from_, answered_));
  out = acts ? held_ : unwritten_outputs<ModuleController>();
  return CTL_OK;
}

}  // namespace duskline::harness
