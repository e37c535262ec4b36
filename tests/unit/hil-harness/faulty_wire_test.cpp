// A wire with faults: what the plant's side does without a valid answer, and that no damaged, old or foreign frame ever
// moves anything.
#include "hil-harness/links/faulty_wire.hpp"

#include <catch2/catch.hpp>
#include <cstring>

using namespace duskline;
using harness::FaultyWire;
using harness::kBlindTicks;
using harness::WireState;

namespace {

constexpr float kPerTick = 1e-3F;  // A

/// Answers with a current that tells which readings it has seen.
class Counter final : public harness::Link {
 public:
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    CHECK(static_cast<std::int64_t>(in.tick) > latest);  // never the same or older readings
    latest = in.tick;
    ++steps;
    out = {};
    out.mode = CTL_PRODUCTION;
    out.stack_current = kPerTick * static_cast<float>(in.tick);
    return CTL_OK;
  }
  ctl_status restart(bool intact) override {
    CHECK(intact);
    ++restarts;
    return CTL_OK;
  }
  std::int64_t latest = -1;
  int steps = 0, restarts = 0;
};

/// A plant and a wire; `go` moves one tick on and gives what is in force.
struct Bench {
  explicit Bench(std::uint64_t seed = 1) : wire(counter, seed) {}
  ctl_outputs go() {
    ctl_inputs in{};
    in.tick = ++tick;
    ctl_outputs out{};
    REQUIRE(wire.step(in, out) == CTL_OK);
    if (out.mode == CTL_OFF) {
      CHECK(out.stack_current == 0.0F);
      CHECK(std::isnan(out.coke_margin));  // nobody estimates it
      return out;
    }
    // what is in force was made for readings as old as the wire says
    CHECK(out.stack_current == kPerTick * static_cast<float>(tick - static_cast<std::uint32_t>(wire.age())));
    CHECK(wire.age() <= kBlindTicks);
    CHECK(wire.armed());
    return out;
  }
  void go(int ticks) {
    for (int n = 0; n < ticks; ++n) go();
  }
  Counter counter;
  FaultyWire wire;
  std::uint32_t tick = 0;
};

WireState with(double WireState::*member, double value) {
  WireState state;
  state.*member = value;
  return state;
}
WireState with(bool WireState::*member) {
  WireState state;
  state.*member = true;
  return state;
}

}  // namespace

TEST_CASE("A wire without faults changes no bit") {
  ctl_params params;
  ctl_default_params(&params);
  harness::InProcess direct(params), behind(params);
  FaultyWire wire(behind, 1);
  for (std::uint32_t n = 0; n < 2000; ++n) {
    ctl_inputs in{};
    in.tick = n;
    in.requested_mode = CTL_WARM_UP;
    in.ambient_pressure = 700.0F + static_cast<float>(n % 5);
    ctl_outputs a, b;
    std::memset(&a, 0, sizeof a);
    std::memset(&b, 0, sizeof b);
    REQUIRE(direct.step(in, a) == CTL_OK);
    REQUIRE(wire.step(in, b) == CTL_OK);
    REQUIRE(std::memcmp(&a, &b, sizeof a) == 0);
  }
}

TEST_CASE("Without answers commands are held for five ticks, then off, they act again after one arm step") {
  for (const WireState& fault : {with(&WireState::cut), with(&WireState::one_way)}) {
    Bench b;
    b.go(10);
    b.wire.set(fault);
    for (int n = 1; n <= kBlindTicks; ++n) {
      CHECK(b.go().stack_current == 10 * kPerTick);
      CHECK(b.wire.age() == n);
    }
    for (int n = 0; n < 100; ++n) CHECK(b.go().mode == CTL_OFF);
    CHECK_FALSE(b.wire.armed());
    // one way: readings still arrive, and are not sent any more once the outputs are off
    CHECK(b.counter.steps == (fault.cut ? 10 : 10 + kBlindTicks + 1));
    b.wire.set({});
    CHECK(b.go().mode == CTL_OFF);  // an answer has come: the controller is started again
    CHECK(b.counter.restarts == 1);
    CHECK(b.go().mode == CTL_PRODUCTION);
    b.go(50);
    CHECK(b.wire.age() == 0);
    CHECK(b.counter.restarts == 1);
  }
}

TEST_CASE("A gap of five ticks passes without a trace") {
  Bench b;
  b.go(10);
  b.wire.set(with(&WireState::cut));
  b.go(kBlindTicks);
  b.wire.set({});
  CHECK(b.go().stack_current == 16 * kPerTick);
  CHECK(b.counter.restarts == 0);
}

TEST_CASE("A delay is known to the tick, one of more than five ticks there and back is blindness") {
  Bench b;
  b.wire.set(with(&WireState::delay, 2.0));
  b.go(20);
  CHECK(b.wire.age() == 4);
  CHECK(b.counter.restarts == 0);
  Bench slow;
  slow.go(10);
  slow.wire.set(with(&WireState::delay, 3.0));
  slow.go(50);
  CHECK_FALSE(slow.wire.armed());
  CHECK(slow.wire.age() == 50);
  slow.wire.set({});
  slow.go(8);  // what is under way has arrived
  CHECK(slow.go().mode == CTL_PRODUCTION);
}

TEST_CASE("Each frame twice moves the controller once") {
  Bench b;
  b.wire.set(with(&WireState::duplicate, 1.0));
  b.go(200);
  CHECK(b.counter.steps == 200);
  CHECK(b.wire.age() == 0);
}

TEST_CASE("Frames out of order, damaged or amid foreign bytes never bring an older or another command") {
  for (const auto member : {&WireState::reorder, &WireState::corrupt, &WireState::babble}) {
    Bench b(3);
    b.wire.set(with(member, 0.3));
    int fresh = 0;
    float before = 0.0F;
    for (int n = 0; n < 5000; ++n) {
      const ctl_outputs out = b.go();  // checks that what is in force is what was answered
      if (out.mode == CTL_OFF) continue;
      CHECK(out.stack_current >= before);
      before = out.stack_current;
      fresh += b.wire.age() == 0 ? 1 : 0;
    }
    // both ways whole: 0.7 * 0.7 of the ticks, a little less where outputs were off
    CHECK(fresh > 2100);
    CHECK(fresh < 2600);
  }
}

TEST_CASE("A slow reader falls behind, and the plant's side knows it") {
  Bench b;
  b.wire.set(with(&WireState::slow, 0.5));
  b.go(100);
  CHECK_FALSE(b.wire.armed());
  b.wire.set({});
  b.go(3);
  CHECK(b.go().mode == CTL_PRODUCTION);
}

TEST_CASE("A board that is off is not stepped, and is started again when it is back") {
  for (const int off : {3, 20}) {
    Bench b;
    b.go(10);
    b.wire.set(with(&WireState::board_off));
    b.go(off);
    CHECK(b.counter.steps == 10);
    b.wire.set({});
    b.go(2);
    CHECK(b.counter.restarts == 1);
    CHECK(b.go().mode == CTL_PRODUCTION);
    b.go(20);
    CHECK(b.counter.restarts == 1);
  }
}

TEST_CASE(
    "A controller whose clock is slow passes over a frame now and then, a fast one finds none and waits") {
  for (const double drift : {0.01, -0.01}) {
    Bench b;
    b.wire.set(with(&WireState::drift, drift));
    int age = 0, held = 0;
    for (int n = 0; n < 10100; ++n) {
      b.go();
      age = std::max(age, b.wire.age());
      held += b.wire.age();
    }
    // 10100 periods of the plant are 10000 of a clock that is 1 % slow
    CHECK(b.counter.steps == (drift > 0.0 ? 10000 : 10100));
    CHECK(held == (drift > 0.0 ? 100 : 0));
    CHECK(age == (drift > 0.0 ? 1 : 0));
    CHECK(b.counter.restarts == 0);
  }
}

TEST_CASE("The same seed corrupts the same frames") {
  const auto ages = [](std::uint64_t seed) {
    Bench b(seed);
    b.wire.set(with(&WireState::corrupt, 0.5));
    std::vector<int> all;
    for (int n = 0; n < 200; ++n) b.go(), all.push_back(b.wire.age());
    return all;
  };
  CHECK(ages(1) == ages(1));
  CHECK(ages(1) != ages(2));
}
