// Prints the tables behind docs/decisions/stepper.md as CSV: what accuracy costs, method by method.
//
//   work_precision methods   every method at a sweep of tolerances, in two windows of the sol
//   work_precision ages      our method with Jacobians kept for longer and shorter
//   work_precision loop      the closed loop over a sol against itself at a tight tolerance (takes some
//   minutes)
//
// Times are of the processor, medians of interleaved runs; errors are of any cell voltage at any tick.
#include <fmt/format.h>

#include <exception>
#include <string>

#include "tests/benchmark/methods.hpp"

namespace {

using namespace duskline;
using namespace duskline::tests;

constexpr int kRuns = 3;
constexpr double kDawn = 21600;  // s: a little before sunrise, six hours after midnight

struct Window {
  const char* name;
  double begin, end;  // s
};
constexpr Window kWindows[] = {{"dawn", kDawn, kDawn + 180}, {"first minutes", 0, 180}};

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

void methods() {
  fmt::print("window,method,relative tolerance,voltage error (mV),time (us/tick),evaluations (1/tick)\n");
  for (const Window& window : kWindows) {
    const Recording recording = record_loop(kSol, window.begin, window.end);
    const Replay reference = replay_with(Candidate::cvode_exact, recording, 1e-10);
    for (const double relative : {1e-2, 3e-3, 1e-3, 5e-4, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6, 1e-7}) {
      std::vector<double> times[kCandidateWords.size()];
      Replay last[kCandidateWords.size()];
      for (int run = 0; run < kRuns; ++run)
        for (std::size_t m = 0; m < kCandidateWords.size(); ++m) {
          try {
            last[m] = replay_with(static_cast<Candidate>(m), recording, relative);
            times[m].push_back(last[m].microseconds_per_tick());
          } catch (const std::exception&) {
            times[m].clear();  // did not come to the end: no row
          }
        }
      for (std::size_t m = 0; m < kCandidateWords.size(); ++m)
        if (!times[m].empty())
          fmt::print("{},\"{}\",{:.0e},{:.3g},{:.3g},{:.3g}\n", window.name, kCandidateWords[m], relative,
                     1e3 * worst_voltage(last[m].voltages, reference.voltages), median(times[m]),
                     last[m].evaluations / static_cast<double>(recording.ticks.size()));
    }
  }
}

void ages() {
  fmt::print("window,age (s),relative tolerance,voltage error (mV),time (us/tick),rejected (1/1000 ticks)\n");
  const Window windows[] = {{"dawn", kDawn, kDawn + 7200}, {"first half hour", 0, 1800}};
  for (const Window& window : windows) {
    const Recording recording = record_loop(kSol, window.begin, window.end);
    const Replay reference = replay_ours(recording, 1e-6, {});
    const double relative = scenarios::Integrator{}.relative_tolerance;
    for (const double age : {0.5, 10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0}) {
      std::vector<double> times;
      Replay last;
      for (int run = 0; run < kRuns; ++run) {
        last = replay_ours(recording, relative, {.max_age = age});
        times.push_back(last.microseconds_per_tick());
      }
      fmt::print("{},{},{:.0e},{:.3g},{:.3g},{:.3g}\n", window.name, age, relative,
                 1e3 * worst_voltage(last.voltages, reference.voltages), median(times),
                 1e3 * last.rejected / static_cast<double>(recording.ticks.size()));
    }
  }
}

void loop() {
  fmt::print(
      "relative tolerance,voltage deviation (mV),without least moves (mV),time (us/tick),steps (1/tick)\n");
  const ClosedLoop reference = closed_loop(kSol, 1e-6), smooth = closed_loop(kSol, 1e-6, false);
  for (const double relative : {1e-2, 3e-3, 1e-3, 5e-4, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6}) {
    const ClosedLoop run = closed_loop(kSol, relative), other = closed_loop(kSol, relative, false);
    fmt::print("{:.0e},{:.2g},{:.2g},{:.3g},{:.3g}\n", relative,
               1e3 * worst_voltage(run.voltages, reference.voltages),
               1e3 * worst_voltage(other.voltages, smooth.voltages), run.microseconds_per_tick(),
               run.steps_per_tick());
  }
}

}  // namespace

int main(int argc, char** argv) {
  const std::string table = argc == 2 ? argv[1] : "";
  if (table == "methods") {
    methods();
  } else if (table == "ages") {
    ages();
  } else if (table == "loop") {
    loop();
  } else {
    fmt::print(stderr, "usage: work_precision methods|ages|loop\n");
    return 2;
  }
}
