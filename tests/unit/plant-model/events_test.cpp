// Guards on the interpolant: where they trigger, on which side the state ends, and that each crossing counts
// once.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "plant-model/integrate/events.hpp"
#include "tests/support/synthetic_plant.hpp"

using namespace duskline::plant;
using duskline::tests::SyntheticPlant;

namespace {

/// A stone thrown upwards: height and speed. Both are at most quadratic in time, so every step is exact.
struct Stone {
  using State = std::array<double, 2>;
  void operator()(const State& x, State& dxdt, double) const { dxdt = {x[1], -2}; }
  void jacobian(const State&, double, DenseMatrix& j) const { j(0, 1) = 1; }
};
using StoneGuards = std::vector<Guard<2>>;

double height(const Stone::State& x, double) {
  return x[0];
}

EventAdvance throw_stone(Stone::State& x, double t, double end, const StoneGuards& guards,
                         EventControl control = {}) {
  Stone stone;
  LinearlyImplicit<2> stepper(uniform_tolerances<2>(1e30, 0));  // whole steps
  return advance_to_event(stepper, stone, x, t, end, std::span<const Guard<2>>(guards), control);
}

}  // namespace

TEST_CASE("an event is found at its time, and the state ends just after it") {
  Stone::State x = {3, 2};  // h = 3 + 2 t - t^2 meets zero at t = 3 (analytic)
  const auto event = throw_stone(x, 0, 10, {{height, Crossing::falling}});
  REQUIRE(event.advance.ok());
  REQUIRE(event.fired == std::vector<std::size_t>{0});
  CHECK(event.advance.time == Approx(3).margin(2e-9));
  CHECK(x[0] < 0);
  CHECK(x[0] > -1e-7);
  CHECK(x[1] == Approx(-4).margin(1e-8));
}

TEST_CASE("direction is respected") {
  // h = 2 t - t^2 - 0.75 rises through zero at 0.5 and falls through it at 1.5 (analytic).
  const Stone::State start = {-0.75, 2};
  Stone::State x = start;
  CHECK(throw_stone(x, 0, 1, {{height, Crossing::falling}}).fired.empty());
  x = start;
  CHECK(throw_stone(x, 0, 1, {{height, Crossing::rising}}).advance.time == Approx(0.5).margin(2e-9));
  CHECK(x[0] >= 0);
  const auto second = throw_stone(x, 0.5, 2, {{height, Crossing::either}});
  REQUIRE(second.fired.size() == 1);
  CHECK(second.advance.time == Approx(1.5).margin(1e-7));
  CHECK(x[0] < 0);
}

TEST_CASE("a step covers the half-open interval from just after its start to its end") {
  // h = -1 + t from -1: exactly zero at t = 1, which is the end of the first stretch.
  struct Ramp {
    using State = std::array<double, 1>;
    void operator()(const State&, State& dxdt, double) const { dxdt = {1}; }
    void jacobian(const State&, double, DenseMatrix&) const {}
  } ramp;
  LinearlyImplicit<1> stepper(uniform_tolerances<1>(1, 1));
  const std::array guards = {Guard<1>{[](const auto& x, double) { return x[0]; }, Crossing::either}};
  std::array<double, 1> x = {-1};
  const auto at_end = advance_to_event(stepper, ramp, x, 0, 1, std::span<const Guard<1>>(guards));
  CHECK(at_end.fired.size() == 1);
  CHECK(at_end.advance.time == Approx(1).margin(2e-9));
  CHECK(x[0] >= 0);
  const auto at_start = advance_to_event(stepper, ramp, x, 1, 2, std::span<const Guard<1>>(guards));
  CHECK(at_start.fired.empty());
  CHECK(at_start.advance.time == 2);
}

TEST_CASE("a long run triggers once for every crossing, whatever the ticks") {
  // x = cos t, v = -sin t: x crosses zero at pi/2 + n pi, 31 times in (0, 100) (floor(100/pi - 1/2) + 1 = 32
  // below 100.53; pi/2 + 31 pi = 98.96 is the last, n = 0..31).
  struct Oscillator {
    using State = std::array<double, 2>;
    void operator()(const State& x, State& dxdt, double) const { dxdt = {x[1], -x[0]}; }
    void jacobian(const State&, double, DenseMatrix& j) const { j(0, 1) = 1, j(1, 0) = -1; }
  } oscillator;
  const double pi = std::acos(-1.0);
  const std::array guards = {Guard<2>{[](const auto& x, double) { return x[0]; }, Crossing::either}};
  for (const double tick : {0.05, 0.3, 1.0, 100.0}) {
    LinearlyImplicit<2> stepper(uniform_tolerances<2>(1e-8, 1e-8), {.max_step = 1});
    std::array<double, 2> x = {1, 0};
    std::vector<double> times;
    double t = 0;
    for (long n = 1; t < 100; ++n) {
      const double end = std::min(static_cast<double>(n) * tick, 100.0);
      while (t < end) {
        const auto event =
            advance_to_event(stepper, oscillator, x, t, end, std::span<const Guard<2>>(guards));
        REQUIRE(event.advance.ok());
        t = event.advance.time;
        if (!event.fired.empty()) times.push_back(t);
      }
    }
    INFO("tick " << tick);
    REQUIRE(times.size() == 32);
    for (std::size_t n = 0; n < times.size(); ++n) {
      CHECK(times[n] == Approx(pi / 2 + static_cast<double>(n) * pi).margin(1e-4));
    }
  }
}

TEST_CASE(
    "of several guards the earliest ends the stretch, those that cross together are reported together") {
  const auto at = [](double level) {
    return Guard<2>{[level](const Stone::State& x, double) { return x[0] - level; }, Crossing::either};
  };
  Stone::State x = {3, 0};  // h = 3 - t^2
  auto event = throw_stone(x, 0, 5, {at(-1), at(2), at(-6), at(2)});
  CHECK(event.fired == std::vector<std::size_t>{1, 3});
  CHECK(event.advance.time == Approx(1).margin(2e-9));
  event = throw_stone(x, event.advance.time, 5, {at(-1), at(2), at(-6), at(2)});
  CHECK(event.fired == std::vector<std::size_t>{0});
  CHECK(event.advance.time == Approx(2).margin(1e-8));
  event = throw_stone(x, event.advance.time, 5, {at(-1), at(2), at(-6), at(2)});
  CHECK(event.fired == std::vector<std::size_t>{2});
  CHECK(event.advance.time == Approx(3).margin(1e-8));
  event = throw_stone(x, event.advance.time, 5, {at(-1), at(2), at(-6), at(2)});
  CHECK(event.fired.empty());
  CHECK(event.advance.time == 5);
}

TEST_CASE("looks inside a step find a crossing there and back") {
  // h = -1 + 3 t - t^2 is above zero from 0.382 to 2.618 only (roots (3 -+ sqrt 5) / 2) and below at 0 and 3.
  const StoneGuards guards = {{height, Crossing::either}};
  Stone::State x = {-1, 3};
  CHECK(throw_stone(x, 0, 3, guards).fired.empty());  // one step, ends on the same side
  x = {-1, 3};
  const auto event = throw_stone(x, 0, 3, guards, {.looks = 3});
  REQUIRE(event.fired.size() == 1);
  CHECK(event.advance.time == Approx((3 - std::sqrt(5.0)) / 2).margin(2e-9));
}

TEST_CASE("locating a crossing needs no smoothness and ends on the far side") {
  const auto jump = [](double t) { return t < 0.3 ? -1.0 : 1e6; };
  const double found = locate_crossing(jump, 0, 1, -1, 1e6, 1e-12);
  CHECK(found >= 0.3);
  CHECK(found < 0.3 + 1e-12);
  int calls = 0;
  const auto flat = [&](double t) {
    ++calls;
    return std::pow(t - 0.7, 9);
  };
  CHECK(locate_crossing(flat, 0, 1, flat(0), flat(1), 1e-12) == Approx(0.7).margin(2e-12));
  CHECK(calls < 130);  // a bisection in every third look bounds the work at 3 log2(1e12) = 120
}

TEST_CASE("stopping at an event keeps linear invariants") {
  SyntheticPlant<60, 8, 42> system;
  LinearlyImplicit<60, 8, 42> stepper(uniform_tolerances<110>(1e-4, 1e-4));
  auto x = system.start();
  const auto invariant = [&] {
    double sum = -x[60];
    for (std::size_t i = 0; i < 60; ++i) sum += x[i];
    return sum;
  };
  const double before = invariant();
  const std::array guards = {
      Guard<110>{[](const auto&, double t) { return std::sin(3 * t); }, Crossing::either}};
  double t = 0;
  std::size_t events = 0;
  while (t < 50) {
    const auto event =
        advance_to_event(stepper, system, x, t, 50, std::span<const Guard<110>>(guards), {.looks = 40});
    REQUIRE(event.advance.ok());
    t = event.advance.time;
    events += event.fired.size();
  }
  // sin 3t changes sign at n pi / 3; it starts at zero, which counts as above: n = 1 .. 47 in (0, 50].
  CHECK(events == 47);
  CHECK(std::abs(invariant() - before) < 1e-11);
}

TEST_CASE("a failure before the event is reported as the failure") {
  struct BlowUp {
    using State = std::array<double, 1>;
    void operator()(const State& x, State& dxdt, double) const { dxdt[0] = x[0] * x[0]; }
    void jacobian(const State& x, double, DenseMatrix& j) const { j(0, 0) = 2 * x[0]; }
  } system;
  LinearlyImplicit<1> stepper(uniform_tolerances<1>(1e-6, 1e-6), {.min_step = 1e-4});
  std::array<double, 1> x = {1};
  const std::array guards = {Guard<1>{[](const auto&, double t) { return t - 1.5; }, Crossing::rising}};
  const auto event = advance_to_event(stepper, system, x, 0, 2, std::span<const Guard<1>>(guards));
  CHECK(event.advance.reason == RunEnd::step_too_small);
  CHECK(event.fired.empty());
  CHECK(event.advance.time < 1);
}
