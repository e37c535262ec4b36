// Cost of the environment per tick: with turbulence, without, and of the smooth climate behind the table.
#include <benchmark/benchmark.h>

#include "plant-model/environment/environment.hpp"

using namespace duskline::plant;

static void one_tick(benchmark::State& state) {
  EnvironmentSettings settings;
  settings.turbulence = state.range(0) != 0 ? 1.0 : 0.0;
  Environment environment(settings, 1.0);
  std::int64_t tick = 0;
  for (auto _ : state) benchmark::DoNotOptimize(environment.at(tick++));
}
BENCHMARK(one_tick)->Arg(0)->Arg(1)->MinTime(0.3);

static void smooth_climate(benchmark::State& state) {
  const Climate climate{EnvironmentSettings{}};
  double t = 0.0;
  for (auto _ : state) benchmark::DoNotOptimize(climate.at(t += 60.0));
}
BENCHMARK(smooth_climate)->MinTime(0.3);

BENCHMARK_MAIN();
