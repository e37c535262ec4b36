// What recording costs: a row of about 110 values, a sol at 1 s, and the rewriting as columns.
#include <benchmark/benchmark.h>

#include <filesystem>

#include "hil-harness/trace/trace_writer.hpp"

using namespace duskline::harness;

namespace {

std::vector<SignalInfo> signals() {
  std::vector<SignalInfo> result;
  for (int i = 0; i < 40; ++i) result.push_back({"s" + std::to_string(i), "1", "", "", 1, "", {}, false});
  for (int i = 0; i < 14; ++i) result.push_back({"c" + std::to_string(i), "V", "", "cell", 8, "", {}, false});
  return result;
}

/// Of a trace that is not there.
std::string path() {
  const auto path = std::filesystem::temp_directory_path() / "duskline-bench.nc";
  std::filesystem::remove(path);
  return path.string();
}

void append(benchmark::State& state) {
  TraceWriter writer(path(), signals());
  std::vector<double> row(row_width(signals()), 1.25);
  double time = 0.0;
  for (auto _ : state) {
    row[0] = time;
    writer.append(time += 1.0, row);
    if (writer.rows_written() > 100000) {
      state.PauseTiming();
      writer = TraceWriter(path(), signals());
      state.ResumeTiming();
    }
  }
}
BENCHMARK(append);

void close_a_sol(benchmark::State& state) {
  for (auto _ : state) {
    state.PauseTiming();
    TraceOptions options;
    options.deflate = static_cast<int>(state.range(0));
    const std::string file = path();
    TraceWriter writer(file, signals(), {}, options);
    std::vector<double> row(row_width(signals()));
    for (int k = 0; k < 88775; ++k) {
      for (std::size_t i = 0; i < row.size(); ++i) row[i] = 1.0 + 1e-5 * k * static_cast<double>(i % 7);
      writer.append(k, row);
    }
    state.ResumeTiming();
    writer.close();
    state.counters["MB"] = static_cast<double>(std::filesystem::file_size(file)) / 1e6;
  }
}
BENCHMARK(close_a_sol)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond)->Iterations(2);

}  // namespace

BENCHMARK_MAIN();
