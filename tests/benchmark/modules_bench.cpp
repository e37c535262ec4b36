// What a tick of N stack modules behind shared headers costs, by blocks and by one dense matrix, in steady production.
//
// Each row is a plant of N modules behind a filter, a compressor and a plenum N times as large. A tick is what the loop does with
// the plant: observe, correct for the commands, integrate 1 s; a Jacobian every 300 of them is in the time. "per module"
// is the time of the processor for a module, over that of the plant of one in the same run: 1.2 is the bound that a plant is held to.
#include <benchmark/benchmark.h>

#include <ctime>

#include "tests/support/modules.hpp"

namespace {

using namespace duskline;
using namespace duskline::tests;

double of_one = 0.0;  // s a tick

void tick(benchmark::State& state, bool bordered) {
  const auto modules = static_cast<std::size_t>(state.range(0));
  plant::Plant one = bench_plant(rated());
  plant::Plant plant(scaled(modules), modules);
  plant.set_boundary(afternoon(), 0.0);
  plant.set_commands(rated());
  plant::State x = repeated(production_state(one), plant.layout(), modules), f;
  plant::PlantOutputs out;
  auto stepper = module_integrator(plant.layout(), bordered);
  double t = 0;
  const auto next = [&] {
    plant.observe(x, f, out);
    plant.command_rates(x, f);
    if (!stepper.advance_with(plant, x, f, t, t + 1).ok()) state.SkipWithError("the integration ended");
    t += 1;
  };
  for (int n = 0; n < 300; ++n) next();
  const std::clock_t began = std::clock();
  for (auto _ : state) next();
  const double each =
      static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC / static_cast<double>(state.iterations());
  if (modules == 1 && bordered) of_one = each;
  if (of_one > 0) state.counters["per module"] = each / of_one / static_cast<double>(modules);
}
BENCHMARK_CAPTURE(tick, "", true)->Name("tick, by blocks")->Arg(1)->Arg(2)->Arg(6)->Arg(12)->Iterations(3000);
BENCHMARK_CAPTURE(tick, "", false)->Name("tick, one matrix")->Arg(2)->Arg(6)->Iterations(3000);

void jacobian(benchmark::State& state, bool bordered) {
  const auto modules = static_cast<std::size_t>(state.range(0));
  plant::Plant one = bench_plant(rated());
  plant::Plant plant(scaled(modules), modules);
  plant.set_boundary(afternoon(), 0.0);
  plant.set_commands(rated());
  const plant::State x = repeated(production_state(one), plant.layout(), modules);
  plant::Division division = plant.layout().division();
  if (!bordered) division.modules.clear();
  plant::BorderedJacobian j(division);
  plant::BorderedSolution solution;
  for (auto _ : state) {
    j.set_zero();
    plant.block_jacobian(x, 0.0, j);
    benchmark::DoNotOptimize(solution.make(j, 0.3));
  }
}
BENCHMARK_CAPTURE(jacobian, "", true)
    ->Name("Jacobian and inverse, by blocks")
    ->Arg(1)
    ->Arg(6)
    ->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(jacobian, "", false)
    ->Name("Jacobian and inverse, one matrix")
    ->Arg(6)
    ->Unit(benchmark::kMicrosecond);

}  // namespace

BENCHMARK_MAIN();
