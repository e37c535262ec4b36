// Convergence orders: the error of every method falls as the stated power of the step, +- 0.1, whatever
// matrix the linearly implicit method is given and however often it is restarted. Exact solutions:
// tests/support/ode_problems.hpp.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>

#include "plant-model/integrate/advance.hpp"
#include "plant-model/integrate/events.hpp"
#include "tests/support/ode_problems.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

constexpr double kOrderMargin = 0.1;

/// Accepts every finite step, so that the step is what the test says.
template <std::size_t N>
Tolerances<N> no_error_control() {
  return uniform_tolerances<N>(1e30, 0);
}

double distance(std::span<const double> a, std::span<const double> b) {
  double largest = 0;
  for (std::size_t i = 0; i < a.size(); ++i) largest = std::max(largest, std::abs(a[i] - b[i]));
  return largest;
}

/// log2 of the ratio of the errors with `steps` and twice as many.
template <class Error>
double observed_order(Error&& error, std::size_t steps) {
  return std::log2(error(steps) / error(2 * steps));
}

/// Error at t = 2 after `steps` ticks, each one step of the linearly implicit method.
template <std::size_t I, std::size_t Q, std::size_t E, class System, class Exact>
double error_in_ticks(System system, Exact&& exact, std::size_t steps, double max_age) {
  StepControl control;
  control.max_age = max_age;
  LinearlyImplicit<I, Q, E> stepper(no_error_control<I + Q + E>(), control);
  auto x = exact(0.0);
  const double h = 2.0 / static_cast<double>(steps);
  for (std::size_t k = 0; k < steps; ++k) {
    const double t = static_cast<double>(k) * h;
    REQUIRE(stepper.advance(system, x, t, t + h).ok());
  }
  REQUIRE(stepper.statistics().steps == steps);
  return distance(x, exact(2.0));
}

}  // namespace

TEST_CASE("the linearly implicit method has order 2 for any matrix") {
  const auto exact = [](double t) { return Manufactured::exact(t); };
  // 1 is the exact Jacobian; 0 makes the method explicit; the others are wrong on purpose.
  for (const double scale : {1.0, 0.0, 0.3, 2.0, -0.5}) {
    for (const double max_age : {0.0, 0.5, 1e9}) {
      INFO("Jacobian times " << scale << ", renewed after " << max_age << " s");
      const auto error = [&](std::size_t steps) {
        return error_in_ticks<2, 0, 0>(Manufactured{scale}, exact, steps, max_age);
      };
      CHECK(observed_order(error, 400) == Approx(2).margin(kOrderMargin));
      CHECK(observed_order(error, 800) == Approx(2).margin(kOrderMargin));
    }
  }
}

TEST_CASE("the linearly implicit method has order 2 on non-autonomous problems with a wrong Jacobian") {
  for (const double wrong : {0.0, 4.0, -20.0}) {
    const double k = 10;
    const auto error = [&](std::size_t steps) {
      return error_in_ticks<1, 0, 0>(
          ProtheroRobinson{k, wrong}, [&](double t) { return ProtheroRobinson::exact(t, 1.5, k); }, steps, 0);
    };
    CHECK(observed_order(error, 400) == Approx(2).margin(kOrderMargin));
  }
}

TEST_CASE("quadratures and explicit states have order 2 beside the implicit ones") {
  const ThreeKinds system{5};
  const auto error = [&](std::size_t steps) {
    return error_in_ticks<1, 1, 1>(
        system, [&](double t) { return system.exact(t); }, steps, 1e9);
  };
  CHECK(observed_order(error, 100) == Approx(2).margin(kOrderMargin));
  CHECK(observed_order(error, 200) == Approx(2).margin(kOrderMargin));
}

TEST_CASE("the library methods keep their order when a new stepper starts at every tick") {
  using Step = void (*)(const SystemView&, std::span<double>, double, double, std::size_t);
  Manufactured system;
  const auto error_with = [&](const SystemView& view, Step step, std::size_t ticks,
                              std::size_t steps_in_tick) {
    auto x = Manufactured::exact(0);
    const double tick = 2.0 / static_cast<double>(ticks);
    for (std::size_t k = 0; k < ticks; ++k) {
      step(view, x, static_cast<double>(k) * tick, tick / static_cast<double>(steps_in_tick), steps_in_tick);
    }
    return distance(x, Manufactured::exact(2));
  };
  ViewedSystem<Manufactured::State, Manufactured> viewed{&system, {}, {}};
  const SystemView exact_jacobian = view_whole(viewed);
  const SystemView differences = view_derivative(viewed);
  for (const std::size_t steps_in_tick : {1, 4}) {
    const auto order = [&](const SystemView& view, Step step, std::size_t ticks) {
      return observed_order([&](std::size_t n) { return error_with(view, step, n, steps_in_tick); }, ticks);
    };
    CHECK(order(exact_jacobian, step_rosenbrock4, 40 / steps_in_tick) == Approx(4).margin(kOrderMargin));
    CHECK(order(differences, step_rosenbrock4, 40 / steps_in_tick) == Approx(4).margin(kOrderMargin));
    CHECK(order(exact_jacobian, step_dormand_prince, 40 / steps_in_tick) == Approx(5).margin(kOrderMargin));
  }
}

TEST_CASE("restarting at ticks does not change the error at a given step") {
  const auto exact = [](double t) { return Manufactured::exact(t); };
  Manufactured system;
  StepControl control;
  control.max_step = 0.0125;
  control.max_age = 0;
  LinearlyImplicit<2> whole(no_error_control<2>(), control);
  auto x = exact(0);
  REQUIRE(
      whole.advance(system, x, 0, 2).ok());  // one stretch, 256 steps: the power of two that fits max_step
  REQUIRE(whole.statistics().steps == 256);
  const double in_ticks = error_in_ticks<2, 0, 0>(system, exact, 256, 0);
  CHECK(distance(x, exact(2)) == Approx(in_ticks).epsilon(1e-6));
}

TEST_CASE("the interpolant has local order 3 for any matrix") {
  for (const double scale : {1.0, 0.0, 0.3, 2.0}) {
    const auto error = [&](std::size_t steps) {
      Manufactured system{scale};
      LinearlyImplicit<2> stepper(no_error_control<2>());
      const double start = 0.4;
      const double h = 2.0 / static_cast<double>(steps);
      auto x = Manufactured::exact(start);
      REQUIRE(stepper.advance(system, x, start, start + h).ok());
      const auto dense = stepper.dense_output();
      double largest = 0;
      for (int i = 0; i <= 10; ++i) {
        const double t = start + 0.1 * i * h;
        largest = std::max(largest, distance(dense(t), Manufactured::exact(t)));
      }
      return largest;
    };
    INFO("Jacobian times " << scale);
    CHECK(observed_order(error, 800) == Approx(3).margin(kOrderMargin));
  }
}

TEST_CASE("the time of an event converges with order 2") {
  // First state 1 + sin(t) / 2 falls through 0.75 at t = pi + pi / 6 = 7 pi / 6 (analytic).
  const double expected = 7 * std::acos(-1.0) / 6;
  const std::array guards = {Guard<2>{[](const auto& x, double) { return x[0] - 0.75; }, Crossing::falling}};
  const auto error = [&](std::size_t steps) {
    Manufactured system;
    LinearlyImplicit<2> stepper(no_error_control<2>(), {.max_age = 0});
    auto x = Manufactured::exact(0);
    const double h = 4.0 / static_cast<double>(steps);
    for (std::size_t k = 0; k < steps; ++k) {
      const double t = static_cast<double>(k) * h;
      const auto event = advance_to_event(stepper, system, x, t, t + h, std::span<const Guard<2>>(guards),
                                          {.time_tolerance = 1e-13});
      REQUIRE(event.advance.ok());
      if (!event.fired.empty()) return std::abs(event.advance.time - expected);
    }
    return std::numeric_limits<double>::quiet_NaN();
  };
  // Over a factor of 8, because where in its step the event falls moves the error of one step about.
  CHECK(std::log2(error(500) / error(4000)) / 3 == Approx(2).margin(kOrderMargin));
}

TEST_CASE("following slow states keeps order 2 and makes it hold for slaved states too") {
  StepControl control;
  control.max_age = 1e9;
  control.follow_slow_states = true;
  const auto error = [&](double k, std::size_t steps) {
    ThreeKinds system{k};
    LinearlyImplicit<1, 1, 1> stepper(no_error_control<3>(), control);
    auto x = system.exact(0);
    x[0] = 1;  // on the slow solution but for 1 / k, when k is large
    double largest = 0;
    const double h = 2.0 / static_cast<double>(steps);
    for (std::size_t n = 0; n < steps; ++n) {
      const double t = static_cast<double>(n) * h;
      REQUIRE(stepper.advance(system, x, t, t + h).ok());
      const auto dense = stepper.dense_output();
      const auto exact = [&](double at) {  // of the slaved state alone: a exp(-t), rest decayed
        return k / (k - 1) * std::exp(-at);
      };
      if (n > 0) largest = std::max(largest, std::abs(dense(t + 0.5 * h)[0] - exact(t + 0.5 * h)));
      if (n > 0) largest = std::max(largest, std::abs(x[0] - exact(t + h)));
    }
    return largest;
  };
  CHECK(std::log2(error(1e7, 50) / error(1e7, 100)) == Approx(2).margin(kOrderMargin));
  const auto mild = [&](std::size_t steps) {
    const ThreeKinds system{5};
    LinearlyImplicit<1, 1, 1> stepper(no_error_control<3>(), control);
    ThreeKinds copy = system;
    auto x = system.exact(0);
    for (std::size_t n = 0; n < steps; ++n) {
      const double h = 2.0 / static_cast<double>(steps);
      REQUIRE(stepper.advance(copy, x, static_cast<double>(n) * h, static_cast<double>(n + 1) * h).ok());
    }
    return distance(x, system.exact(2));
  };
  CHECK(observed_order(mild, 200) == Approx(2).margin(kOrderMargin));
}

TEST_CASE("a state much faster than the step is damped at once") {
  // L-stability: with an equilibrium that is held over the step, as inputs are, a state that was off it by 1
  // is off by R(-1e8) = 5e-8 (stability function, checked in stepper_test) after one step.
  struct Held {
    using State = std::array<double, 1>;
    void operator()(const State& x, State& dxdt, double) const { dxdt[0] = -1e8 * (x[0] - 3); }
    void jacobian(const State&, double, DenseMatrix& j) const { j(0, 0) = -1e8; }
  } system;
  LinearlyImplicit<1> stepper(no_error_control<1>());
  Held::State x = {4};
  REQUIRE(stepper.advance(system, x, 0, 1).ok());
  CHECK(x[0] == Approx(3).margin(1e-7));
  const auto dense = stepper.dense_output();  // a parabola through f0 itself would leave by 1e7
  for (int i = 0; i <= 10; ++i) CHECK(std::abs(dense(0.1 * i)[0] - 3) < 3);
}

TEST_CASE("a slaved state leads what it takes from slow states by 0.7 of their change in a step") {
  // x1 - phi(t + h) = (1 / (2 g) - 1) (phi(t + h) - phi(t)) = 0.7071 of the change, from the limit of the
  // stages for an infinitely fast state (derived in docs/models/integrate.md). It is no cumulative error.
  ProtheroRobinson system{1e9};
  LinearlyImplicit<1> stepper(no_error_control<1>());
  const double h = 0.01;
  ProtheroRobinson::State x = {std::cos(1.0)};
  for (int n = 0; n < 50; ++n) {
    const double t = 1 + n * h;
    REQUIRE(stepper.advance(system, x, t, t + h).ok());
    const double change = std::cos(t + h) - std::cos(t);
    CHECK((x[0] - std::cos(t + h)) / change == Approx(1 / std::sqrt(2.0)).margin(0.01));
  }
}
