// The linearly implicit stepper, its matrices, its rules for Jacobian and step, and its failures.
#include <array>
#include <atomic>
#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <set>
#include <string_view>
#include <vector>

#include "plant-model/integrate/advance.hpp"
#include "tests/support/ode_problems.hpp"
#include "tests/support/synthetic_plant.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

/// Numbers between -1 and 1 that look irregular and are the same everywhere.
double irregular(std::size_t i, std::size_t j) {
  return static_cast<double>((i * 7919 + j * 104729 + i * j * 31) % 2003) / 1001.0 - 1;
}

/// y' = rate y + input, with every call counted.
struct Linear {
  using State = std::array<double, 1>;
  double rate = -1;
  double input = 0;
  int derivatives = 0;
  int jacobians = 0;
  void operator()(const State& x, State& dxdt, double) {
    ++derivatives;
    dxdt[0] = rate * x[0] + input;
  }
  void jacobian(const State&, double, DenseMatrix& j) {
    ++jacobians;
    j(0, 0) = rate;
  }
};

/// y' = y^2 from y(0) = 1: y = 1 / (1 - t), which has no value from t = 1 on.
struct BlowUp {
  using State = std::array<double, 2>;
  void operator()(const State& x, State& dxdt, double) const { dxdt = {0, x[1] * x[1]}; }
  void jacobian(const State& x, double, DenseMatrix& j) const { j(1, 1) = 2 * x[1]; }
};

/// The third state has a derivative that is not a number after t = 0.5.
struct Breaks {
  using State = std::array<double, 3>;
  void operator()(const State& x, State& dxdt, double t) const {
    dxdt = {-x[0], -x[1], t > 0.5 ? std::numeric_limits<double>::quiet_NaN() : 0.0};
  }
  void jacobian(const State&, double, DenseMatrix& j) const { j(0, 0) = j(1, 1) = -1; }
};

}  // namespace

TEST_CASE("the packed product adds in column order, so its bits do not depend on vector registers") {
  for (const std::size_t rows : {1, 7, 8, 9, 68, 72, 97, 110}) {
    for (const std::size_t columns : {1, 5, 60}) {
      PackedMatrix matrix(rows, columns);
      std::vector<double> x(columns);
      for (std::size_t j = 0; j < columns; ++j) {
        x[j] = irregular(j, 3);
        for (std::size_t i = 0; i < rows; ++i) matrix(i, j) = irregular(i, j);
      }
      struct alignas(64) Line {
        std::array<double, 8> value;
      };
      std::vector<Line> storage(padded(rows) / 8);
      double* y = storage.front().value.data();
      multiply(matrix, x.data(), y);
      for (std::size_t i = 0; i < rows; ++i) {
        double sum = 0;
        for (std::size_t j = 0; j < columns; ++j) sum += matrix(i, j) * x[j];
        REQUIRE(y[i] == sum);  // equal to the last bit
      }
    }
  }
}

TEST_CASE("the inverse solves its matrix, needs row exchanges, and refuses a singular one") {
  for (const std::size_t n : {1, 2, 5, 60}) {
    std::vector<double> a(n * n);
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < n; ++j) a[i * n + j] = i == j ? 0 : irregular(i, j);  // zero diagonal
    }
    if (n == 1) a[0] = 4;
    std::vector<double> destroyed = a;
    std::vector<double> inverse;
    REQUIRE(invert(n, destroyed, inverse));
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < n; ++j) {
        double sum = 0;
        for (std::size_t k = 0; k < n; ++k) sum += a[i * n + k] * inverse[k * n + j];
        REQUIRE(sum == Approx(i == j ? 1 : 0).margin(1e-11));
      }
    }
  }
  std::vector<double> inverse;
  std::vector<double> singular = {1, 2, 2, 4};
  CHECK_FALSE(invert(2, singular, inverse));
  std::vector<double> infinite = {std::numeric_limits<double>::infinity()};
  CHECK_FALSE(invert(1, infinite, inverse));
}

TEST_CASE("one step of a linear equation is the stability function of the method") {
  // R(z) = (1 + (1 - 2 g) z + (1/2 - 2 g + g^2) z^2) / (1 - g z)^2 with g = 1 - 1/sqrt 2, for which the
  // coefficient of z^2 is zero: L-stable. Verwer et al. 1999, section 2.
  const double g = 1 - 1 / std::sqrt(2.0);
  CHECK(0.5 - 2 * g + g * g == Approx(0).margin(1e-15));
  for (const double z : {-0.01, -1.0, -30.0, -1e6, 0.5}) {
    Linear system{z};
    LinearlyImplicit<1> stepper(uniform_tolerances<1>(1, 0));
    Linear::State x = {1};
    REQUIRE(stepper.do_step(system, x, 0, 1));
    CHECK(x[0] == Approx((1 + (1 - 2 * g) * z) / ((1 - g * z) * (1 - g * z))).margin(1e-9));
  }
}

TEST_CASE("explicit states take a step of Heun's method and quadratures follow the implicit part") {
  const double k = 50;
  const double h = 0.1;
  ThreeKinds system{k};
  LinearlyImplicit<1, 1, 1> stepper(uniform_tolerances<3>(1, 0));
  ThreeKinds::State x = {0.2, 0, 1};
  REQUIRE(stepper.do_step(system, x, 0, h));
  CHECK(x[2] == Approx(1 - h + h * h / 2).epsilon(1e-14));
  // u' = k (s - u), q' = u: the first two stages by hand.
  const double g = 1 - 1 / std::sqrt(2.0);
  const double m = 1 / (1 + g * h * k);
  const double u1 = m * k * (1 - 0.2);
  const double q1 = 0.2 + g * h * u1;
  const double u2 = m * (k * ((1 - h) - (0.2 + h * u1)) - 2 * u1);
  const double q2 = (0.2 + h * u1) - 2 * q1 + g * h * u2;
  CHECK(x[0] == Approx(0.2 + h * (1.5 * u1 + 0.5 * u2)).epsilon(1e-13));
  CHECK(x[1] == Approx(h * (1.5 * q1 + 0.5 * q2)).epsilon(1e-13));
}

TEST_CASE("a linear invariant is conserved to round-off over ten thousand ticks") {
  // What is in the vessels minus what came in net; 60 at the start, while about 10 000 passes through.
  SyntheticPlant<60, 8, 42> system;
  LinearlyImplicit<60, 8, 42> stepper(uniform_tolerances<110>(1e-3, 1e-3));
  auto x = system.start();
  const auto invariant = [&] {
    double sum = -x[60];
    for (std::size_t i = 0; i < 60; ++i) sum += x[i];
    return sum;
  };
  const double before = invariant();
  for (int tick = 0; tick < 10000; ++tick) {
    system.feed = 1 + 0.3 * (tick % 7 == 0);  // jumps of the input between ticks
    REQUIRE(stepper.advance(system, x, tick, tick + 1).ok());
  }
  // 1e-16 relative for each of the 10 000 ticks, a hundred terms each, is 1e-10 of 60 at the very worst.
  CHECK(std::abs(invariant() - before) < 1e-9);
  const auto dense = stepper.dense_output();
  const auto middle = dense(9999.5);
  double sum = -middle[60];
  for (std::size_t i = 0; i < 60; ++i) sum += middle[i];
  CHECK(std::abs(sum - before) < 1e-9);
}

TEST_CASE("Odeint drives the stepper") {
  namespace odeint = boost::numeric::odeint;
  ProtheroRobinson system{1000};
  ProtheroRobinson::State x = {1};
  LinearlyImplicit<1> stepper(uniform_tolerances<1>(1e-8, 1e-8));
  int seen = 0;
  const std::size_t steps =
      odeint::integrate_adaptive(std::ref(stepper), std::ref(system), x, 0.0, 10.0, 0.01,
                                 [&](const ProtheroRobinson::State&, double) { ++seen; });
  CHECK(steps == stepper.statistics().steps);
  CHECK(seen == static_cast<int>(steps) + 1);
  CHECK(x[0] == Approx(std::cos(10.0)).margin(1e-7));  // exact solution

  ProtheroRobinson::State y = {1};  // by value: the library works on copies
  CHECK(odeint::integrate_adaptive(LinearlyImplicit<1>(uniform_tolerances<1>(1e-8, 1e-8)), system, y, 0.0,
                                   10.0, 0.01) == steps);
  CHECK(y == x);
}

TEST_CASE("the Jacobian is renewed on first use, by age, by use, on request and after a rejection") {
  Linear system;
  Linear::State x = {1};
  StepControl control;
  control.max_age = 10;
  LinearlyImplicit<1> stepper(uniform_tolerances<1>(1, 1), control);
  for (int tick = 0; tick < 10; ++tick) REQUIRE(stepper.advance(system, x, tick, tick + 1).ok());
  CHECK(system.jacobians == 1);  // first use, then kept across ticks
  CHECK(stepper.statistics().factorisations == 1);
  REQUIRE(stepper.advance(system, x, 10, 11).ok());
  CHECK(system.jacobians == 1);  // 10 s old is not yet older than 10 s
  REQUIRE(stepper.advance(system, x, 11, 12).ok());
  CHECK(system.jacobians == 2);
  stepper.request_jacobian();
  REQUIRE(stepper.advance(system, x, 12, 13).ok());
  CHECK(system.jacobians == 3);
  REQUIRE(stepper.advance(system, x, 5, 6).ok());  // time went back: another run
  CHECK(system.jacobians == 4);

  control.max_uses = 2;
  LinearlyImplicit<1> worn(uniform_tolerances<1>(1, 1), control);
  for (int tick = 0; tick < 6; ++tick) REQUIRE(worn.advance(system, x, tick, tick + 1).ok());
  CHECK(worn.statistics().jacobians == 3);

  LinearlyImplicit<1> strict(uniform_tolerances<1>(1e-4, 0), {.max_age = 1e9});
  Linear steady{-1, 1};
  Linear::State y = {1};  // at rest: any step is exact
  REQUIRE(strict.advance(steady, y, 0, 1).ok());
  CHECK(strict.statistics().rejected == 0);
  steady.input = 2;  // a jump of the input between ticks
  REQUIRE(strict.advance(steady, y, 1, 2).ok());
  CHECK(strict.statistics().jacobians == 2);  // once, though several attempts were rejected
  CHECK(strict.statistics().rejected > 2);
  CHECK(y[0] == Approx(2 - std::exp(-1.0)).margin(1e-3));
}

TEST_CASE("inverses are kept for the step sizes in use") {
  Linear system;
  Linear::State x = {1};
  LinearlyImplicit<1> stepper(uniform_tolerances<1>(1, 1), {.max_age = 1e9});
  double t = 0;
  for (int i = 0; i < 100; ++i) {
    const double h = std::ldexp(1.0, -(i % 8));
    REQUIRE(stepper.advance(system, x, t, t + h).ok());
    t += h;
  }
  CHECK(stepper.statistics().factorisations == 8);
}

TEST_CASE("a derivative supplied by the caller saves one evaluation and changes no bit") {
  SyntheticPlant<60, 8, 42> system;
  const auto tolerances = uniform_tolerances<110>(1e-2, 1e-2);
  LinearlyImplicit<60, 8, 42> plain(tolerances);
  LinearlyImplicit<60, 8, 42> given(tolerances);
  auto x = system.start();
  auto y = x;
  for (int tick = 0; tick < 20; ++tick) {
    REQUIRE(plain.advance(system, x, tick, tick + 1).ok());
    auto f0 = y;
    system(y, f0, tick);
    REQUIRE(given.advance_with(system, y, f0, tick, tick + 1).ok());
  }
  CHECK(x == y);
  CHECK(plain.statistics().evaluations == given.statistics().evaluations + 20);
}

TEST_CASE("a copy of the stepper goes on with the same bits") {
  SyntheticPlant<60, 8, 42> system;
  LinearlyImplicit<60, 8, 42> stepper(uniform_tolerances<110>(1e-4, 1e-4));
  auto x = system.start();
  REQUIRE(stepper.advance(system, x, 0, 3).ok());
  auto copy = stepper;
  auto y = x;
  REQUIRE(stepper.advance(system, x, 3, 20).ok());
  REQUIRE(copy.advance(system, y, 3, 20).ok());
  CHECK(x == y);
  CHECK(copy.statistics() == stepper.statistics());
  CHECK(copy.dense_output().slope == stepper.dense_output().slope);
}

TEST_CASE("each state has its own tolerance") {
  ThreeKinds system{2};
  Tolerances<3> tolerances = uniform_tolerances<3>(1e3, 0);
  tolerances.absolute[2] = 1e-7;
  LinearlyImplicit<1, 1, 1> careful(tolerances);
  LinearlyImplicit<1, 1, 1> careless(uniform_tolerances<3>(1e3, 0));
  auto x = system.exact(0);
  auto y = x;
  REQUIRE(careful.advance(system, x, 0, 1).ok());
  REQUIRE(careless.advance(system, y, 0, 1).ok());
  CHECK(careless.statistics().steps == 1);
  CHECK(careful.statistics().steps > 100);
  CHECK(x[2] == Approx(std::exp(-1.0)).margin(1e-6));
}

TEST_CASE("no step is longer than allowed, and a stretch ends exactly at its end") {
  Linear system;
  Linear::State x = {1};
  LinearlyImplicit<1> stepper(uniform_tolerances<1>(1, 1), {.max_step = 0.3});
  std::vector<double> times;
  Linear::State f0 = {-1};
  const Advance advance = stepper.march(system, x, f0, 0.1, 1.3, [&](double t) {
    times.push_back(t);
    return true;
  });
  REQUIRE(advance.ok());
  CHECK(advance.time == 1.3);
  REQUIRE(times.size() == 4);  // 1.2 s in halves until 0.3 s
  CHECK(times.back() == 1.3);
  CHECK(times.front() == Approx(0.4));
  CHECK(stepper.advance(system, x, 2, 2).ok());  // nothing to do
  CHECK(stepper.statistics().steps == 4);
}

TEST_CASE("failures are values that name time and state") {
  SECTION("tolerance out of reach") {
    BlowUp system;
    BlowUp::State x = {0, 1};
    LinearlyImplicit<2> stepper(uniform_tolerances<2>(1e-9, 1e-9), {.min_step = 1e-6});
    const Advance advance = stepper.advance(system, x, 0, 2);
    CHECK(advance.reason == RunEnd::step_too_small);
    CHECK(advance.time > 0.9);
    CHECK(advance.time < 1.0);
    CHECK(advance.state == 1);
    CHECK(x[1] == Approx(1 / (1 - advance.time)).epsilon(0.01));  // the last good state is kept
  }
  SECTION("a derivative that is not a number") {
    Breaks system;
    Breaks::State x = {1, 1, 1};
    LinearlyImplicit<2, 0, 1> stepper(uniform_tolerances<3>(1e-3, 1e-3));
    const Advance advance = stepper.advance(system, x, 0, 1);
    CHECK(advance.reason == RunEnd::solver_failed);
    CHECK(advance.time == Approx(0.5).margin(1e-8));
    CHECK(advance.state == 2);
    const Advance again = stepper.advance(system, x, 0.75, 1);  // already at the start
    CHECK(again.reason == RunEnd::solver_failed);
    CHECK(again.time == 0.75);
    CHECK(again.state == 2);
  }
  SECTION("under Odeint's loop the reason can be asked for") {
    BlowUp system;
    BlowUp::State x = {0, 1};
    LinearlyImplicit<2> stepper(uniform_tolerances<2>(1e-9, 1e-9), {.min_step = 1e-6});
    double t = 0;
    double dt = 1;
    for (int i = 0; i < 1000000 && stepper.outcome().ok(); ++i) stepper.try_step(std::ref(system), x, t, dt);
    CHECK(stepper.outcome().reason == RunEnd::step_too_small);
    CHECK(stepper.outcome().time == Approx(1).margin(0.1));
  }
  SECTION("the library methods report in the same words") {
    for (const Method method : {Method::rosenbrock4, Method::dormand_prince}) {
      BlowUp system;
      BlowUp::State x = {0, 1};
      Integrator<2> integrator(method, uniform_tolerances<2>(1e-9, 1e-9), {.min_step = 1e-6});
      const Advance advance = integrator.advance(system, x, 0, 2);
      CHECK(advance.reason == RunEnd::step_too_small);
      CHECK(advance.time == Approx(1).margin(0.1));

      Breaks broken;
      Breaks::State y = {1, 1, 1};
      Integrator<2, 0, 1> other(method, uniform_tolerances<3>(1e-3, 1e-3));
      const Advance start = other.advance(broken, y, 0.75, 1);
      CHECK(start.reason == RunEnd::solver_failed);
      CHECK(start.state == 2);
    }
  }
}

TEST_CASE("all methods agree with the exact solution tick by tick") {
  for (const Method method : {Method::linearly_implicit, Method::rosenbrock4, Method::dormand_prince}) {
    INFO(kMethodWords[static_cast<std::size_t>(method)]);
    ThreeKinds system{30};
    Integrator<1, 1, 1> integrator(method, uniform_tolerances<3>(1e-8, 1e-8));
    auto x = system.exact(0);
    for (int tick = 0; tick < 5; ++tick) REQUIRE(integrator.advance(system, x, tick, tick + 1).ok());
    const auto exact = system.exact(5);
    for (std::size_t i = 0; i < 3; ++i) CHECK(x[i] == Approx(exact[i]).margin(1e-6));
    CHECK(integrator.statistics().steps >= 5);
    CHECK(integrator.statistics().evaluations > integrator.statistics().steps);
  }
}

TEST_CASE("every end of a run has a word and a meaning of its own") {
  std::set<std::string_view> words;
  for (std::size_t i = 0; i < kRunEnds.size(); ++i) {
    CHECK(static_cast<std::size_t>(kRunEnds[i].reason) == i);
    CHECK_FALSE(kRunEnds[i].meaning.empty());
    words.insert(kRunEnds[i].word);
  }
  CHECK(words.size() == kRunEnds.size());
  CHECK(word(RunEnd::state_out_of_range) == "state out of range");
  CHECK(RunResult{}.reason == RunEnd::reached_end);
}

TEST_CASE("a stop ends a stretch between two steps, whatever the method") {
  struct Stopping {
    using State = std::array<double, 1>;
    std::atomic<bool>* stop;
    void operator()(const State& x, State& dxdt, double t) const {
      if (t > 0.5) *stop = true;
      dxdt[0] = -x[0];
    }
    void jacobian(const State&, double, DenseMatrix& j) const { j(0, 0) = -1; }
  };
  for (const Method method : {Method::linearly_implicit, Method::rosenbrock4, Method::dormand_prince}) {
    INFO(kMethodWords[static_cast<std::size_t>(method)]);
    std::atomic<bool> stop = false;
    Stopping system{&stop};
    StepControl control;
    control.max_step = 0.01;
    Integrator<1> integrator(method, uniform_tolerances<1>(1e-6, 1e-6), control);
    integrator.stop_when(&stop);
    Stopping::State x = {1};
    const Advance advance = integrator.advance(system, x, 0, 1000);
    CHECK(advance.reason == RunEnd::interrupted);
    CHECK(advance.time < 0.6);
    CHECK(x[0] == Approx(std::exp(-advance.time)).epsilon(1e-3));  // exact solution at where it stopped
  }
}
