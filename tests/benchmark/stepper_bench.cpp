// Cost of one tick of 1 s on a synthetic stiff system of plant size, with every method, in the same run.
// "Size" runs use 60 implicit, 8 coupled and 42 explicit states; "linear" runs 60 implicit states alone.
#include <benchmark/benchmark.h>

#include <cstddef>

#include "plant-model/integrate/advance.hpp"
#include "tests/support/cvode.hpp"
#include "tests/support/synthetic_plant.hpp"

namespace {

using duskline::plant::Advance;
using duskline::plant::Integrator;
using duskline::plant::LinearlyImplicit;
using duskline::plant::Method;
using duskline::plant::uniform_tolerances;
using duskline::tests::Cvode;
using duskline::tests::CvodeJacobian;
using duskline::tests::SyntheticPlant;

constexpr double kTick = 1;          // s
constexpr double kTolerance = 1e-4;  // absolute and relative; contents are of order one

/// Costs nothing but the copy of two values: what is left is the stepper.
template <std::size_t I, std::size_t Q, std::size_t E>
struct Idle : SyntheticPlant<I, Q, E> {
  using State = typename SyntheticPlant<I, Q, E>::State;
  State rate_of_change{};
  void operator()(const State& x, State& dxdt, double) const {
    dxdt = rate_of_change;
    dxdt[0] = -x[0];
  }
};

void stepper_alone(benchmark::State& state) {
  Idle<60, 8, 42> system;
  LinearlyImplicit<60, 8, 42> stepper(uniform_tolerances<110>(kTolerance, kTolerance), {.max_age = 1e12});
  auto x = system.start();
  auto f0 = x;
  system(x, f0, 0);
  double t = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(stepper.advance_with(system, x, f0, t, t + kTick));
    t += kTick;
    f0[0] = -x[0];
  }
  state.counters["steps/tick"] =
      static_cast<double>(stepper.statistics().steps) / static_cast<double>(state.iterations());
}
BENCHMARK(stepper_alone)->Name("size/stepper without right-hand side");

void right_hand_side(benchmark::State& state) {
  SyntheticPlant<60, 8, 42> system;
  auto x = system.start();
  auto f = x;
  double t = 0;
  for (auto _ : state) {
    system(x, f, t);
    benchmark::DoNotOptimize(f);
    t += kTick;
  }
}
BENCHMARK(right_hand_side)->Name("size/right-hand side");

void tick_of_plant_size(benchmark::State& state) {
  SyntheticPlant<60, 8, 42> system;
  LinearlyImplicit<60, 8, 42> stepper(uniform_tolerances<110>(kTolerance, kTolerance));
  auto x = system.start();
  double t = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(stepper.advance(system, x, t, t + kTick));
    t += kTick;
  }
  state.counters["steps/tick"] =
      static_cast<double>(stepper.statistics().steps) / static_cast<double>(state.iterations());
}
BENCHMARK(tick_of_plant_size)->Name("size/tick, linearly implicit");

void factorisation(benchmark::State& state) {
  SyntheticPlant<60, 8, 42> system;
  duskline::plant::DenseMatrix jacobian(68, 60);
  system.jacobian(system.start(), 0, jacobian);
  duskline::plant::PackedMatrix packed;
  for (auto _ : state) {
    benchmark::DoNotOptimize(duskline::plant::pack_iteration_matrix(jacobian, 0.3, packed));
  }
}
BENCHMARK(factorisation)->Name("size/factorisation");

void product(benchmark::State& state) {
  duskline::plant::PackedMatrix packed(68, 60);
  alignas(64) std::array<double, 72> y{};
  std::array<double, 60> x{};
  for (auto _ : state) {
    duskline::plant::multiply(packed, x.data(), y.data());
    benchmark::DoNotOptimize(y);
  }
}
BENCHMARK(product)->Name("size/product with a vector");

void linear(benchmark::State& state, Method method) {
  SyntheticPlant<60, 0, 0> system;
  Integrator<60> integrator(method, uniform_tolerances<60>(kTolerance, kTolerance));
  auto x = system.start();
  double t = 0;
  for (auto _ : state) {
    const Advance advance = integrator.advance(system, x, t, t + kTick);
    if (!advance.ok()) state.SkipWithError("the integration failed");
    t += kTick;
  }
  state.counters["steps/tick"] =
      static_cast<double>(integrator.statistics().steps) / static_cast<double>(state.iterations());
}
BENCHMARK_CAPTURE(linear, "", Method::linearly_implicit)->Name("linear/tick, linearly implicit");
BENCHMARK_CAPTURE(linear, "", Method::rosenbrock4)
    ->Name("linear/tick, Rosenbrock 4")
    ->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(linear, "", Method::dormand_prince)
    ->Name("linear/tick, Dormand-Prince")
    ->Unit(benchmark::kMicrosecond);

void linear_cvode(benchmark::State& state) {
  SyntheticPlant<60, 0, 0> system;
  auto x = system.start();
  decltype(x) absolute;
  absolute.fill(kTolerance);
  Cvode<SyntheticPlant<60, 0, 0>, 60> cvode(system, x, 0, kTolerance, absolute, CvodeJacobian::from_system);
  double t = 0;
  long steps = 0;
  for (auto _ : state) {
    cvode.restart(x, t);
    x = cvode.integrate(t + kTick);
    steps += cvode.steps();
    t += kTick;
  }
  state.counters["steps/tick"] = static_cast<double>(steps) / static_cast<double>(state.iterations());
}
BENCHMARK(linear_cvode)->Name("linear/tick, CVODE BDF restarted")->Unit(benchmark::kMicrosecond);

}  // namespace

BENCHMARK_MAIN();
