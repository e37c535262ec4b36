// How fast a sol of closed loop runs, what recording adds, and what other methods would take for the same.
//
// Every row is the median of five runs, in random order with those of the other rows, in time of the
// processor. The rows of the half-hour replay what the loop did around sunrise, see replay.hpp. There every
// method starts anew at each tick: commands jump at the tick and are held until the next, so that a
// history of steps from before the jump is worth nothing. Each runs at the loosest tolerance at which its
// error is about that of ours; CVODE, which the goal names, also at the loosest that it can be used with.
// --benchmark_out=FILE --benchmark_out_format=json keeps all runs.
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <unistd.h>

#include <fstream>
#include <map>

#include "hil-harness/loop/recorder.hpp"
#include "tests/benchmark/methods.hpp"

namespace {

using namespace duskline;
using namespace duskline::tests;

constexpr double kSunrise = 22194;  // s: a quarter of a sol after midnight, at equinox
constexpr double kTight = 1e-6;     // relative tolerance of the reference in closed loop

struct Entry {
  Candidate candidate;
  double relative;
};
constexpr Entry kEntries[] = {
    {Candidate::ours, scenarios::Integrator{}.relative_tolerance},
    {Candidate::ours_each_tick, scenarios::Integrator{}.relative_tolerance},
    {Candidate::rosenbrock4, 5e-4},
    {Candidate::dormand_prince, 1e-7},
    {Candidate::cvode_differences, 3e-5},
    {Candidate::cvode_exact, 3e-5},
    {Candidate::cvode_fast, 3e-5},
    {Candidate::cvode_fast, 1e-2},
};

std::string name_of(const Entry& e) {
  return fmt::format("{} at {:.0e}", kCandidateWords[static_cast<std::size_t>(e.candidate)], e.relative);
}

/// The most memory of this process that was resident so far, MB.
double resident_at_most() {
  const std::string key = "VmHWM:";
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);)
    if (line.starts_with(key)) return std::stod(line.substr(key.size())) * 1024e-6;
  return std::nan("");
}

const std::vector<Voltages>& tight_voltages() {
  static const std::vector<Voltages> voltages = closed_loop(kSol, kTight).voltages;
  return voltages;
}

double deviation() {
  static const double worst =
      worst_voltage(closed_loop(kSol, scenarios::Integrator{}.relative_tolerance).voltages, tight_voltages());
  return worst;
}

void sol(benchmark::State& state) {
  const auto c = library_case(kSol);
  harness::RunRecord record;
  for (auto _ : state) {
    harness::InProcess link(c.scenario.controller);
    record = harness::run_loop(c, link);
  }
  state.counters["ticks"] = static_cast<double>(record.ticks);
  state.counters["evaluations"] = static_cast<double>(record.steps.evaluations);
  state.counters["error"] = 1e3 * deviation();
}

struct Recorded {
  harness::RunRecord record;
  double megabytes = 0;
};

/// A run with its trace, as `duskline run` makes it.
Recorded recorded_run(const scenarios::Case& c) {
  const auto path = std::filesystem::temp_directory_path() / fmt::format("duskline-bench-{}.nc", getpid());
  harness::InProcess link(c.scenario.controller);
  harness::Recorder recorder(path.string(), {}, c.scenario.record <= c.scenario.period);
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) { recorder.watch(s); };
  options.record = [&](const harness::Snapshot& s) { return recorder.row(s); };
  Recorded result;
  result.record = harness::run_loop(c, link, options);
  if (!recorder.close()) throw std::runtime_error(recorder.problem());
  result.megabytes = static_cast<double>(std::filesystem::file_size(path)) * 1e-6;
  std::filesystem::remove(path);
  return result;
}

void recorded_sol(benchmark::State& state) {
  const auto c = library_case(kSol);
  Recorded run;
  for (auto _ : state) run = recorded_run(c);
  state.counters["ticks"] = static_cast<double>(run.record.ticks);
  state.counters["evaluations"] = static_cast<double>(run.record.steps.evaluations);
  state.counters["MB"] = run.megabytes;
}

/// The whole sol open loop: the plant alone, with the surroundings and commands of the closed loop.
void plant_alone(benchmark::State& state) {
  static const Recording recording = record_loop(kSol, 0.0, library_case(kSol).scenario.duration);
  Replay run;
  for (auto _ : state)
    run = replay_with(Candidate::ours, recording, scenarios::Integrator{}.relative_tolerance);
  state.counters["ticks"] = static_cast<double>(recording.ticks.size());
  state.counters["evaluations"] = run.evaluations;
}

/// The controller alone, with the inputs of the closed loop.
void controller_alone(benchmark::State& state) {
  static const auto c = library_case(kSol, {"record=1 s"});
  static const std::vector<ctl_inputs> inputs = [] {
    std::vector<ctl_inputs> all;
    harness::InProcess link(c.scenario.controller);
    harness::LoopOptions options;
    options.watch = [&](const harness::Snapshot& s) { all.push_back(s.measured); };
    harness::run_loop(c, link, options);
    return all;
  }();
  ctl_outputs out{};
  for (auto _ : state) {
    harness::InProcess link(c.scenario.controller);
    for (const ctl_inputs& in : inputs) benchmark::DoNotOptimize(link.step(in, out));
  }
  state.counters["ticks"] = static_cast<double>(inputs.size());
}

void half_hour(benchmark::State& state, const Entry& entry) {
  static const Recording recording = record_loop(kSol, kSunrise - 900, kSunrise + 900);
  static const Replay reference = replay_with(Candidate::cvode_exact, recording, 1e-9);
  Replay run;
  for (auto _ : state) run = replay_with(entry.candidate, recording, entry.relative);
  state.counters["ticks"] = static_cast<double>(recording.ticks.size());
  state.counters["evaluations"] = run.evaluations;
  state.counters["error"] = 1e3 * worst_voltage(run.voltages, reference.voltages);
}

/// Keeps the medians and prints a table at the end.
class Table : public benchmark::BenchmarkReporter {
 public:
  struct Row {
    double seconds = 0, ticks = 1, evaluations = 0, error = std::nan(""), megabytes = 0;
    double microseconds() const { return 1e6 * seconds / ticks; }
  };

  bool ReportContext(const Context&) override { return true; }
  void ReportRuns(const std::vector<Run>& runs) override {
    for (const Run& run : runs) {
      if (run.error_occurred) fmt::print("{}: {}\n", run.benchmark_name(), run.error_message);
      if (run.aggregate_name != "median") continue;
      Row row;
      row.seconds = run.GetAdjustedCPUTime() / benchmark::GetTimeUnitMultiplier(run.time_unit);
      for (const auto& [name, counter] : run.counters) {
        if (name == "ticks") row.ticks = counter;
        if (name == "evaluations") row.evaluations = counter;
        if (name == "error") row.error = counter;
        if (name == "MB") row.megabytes = counter;
      }
      rows_[run.run_name.function_name] = row;
    }
  }
  const Row* find(const std::string& name) const {
    const auto found = rows_.find(name);
    return found == rows_.end() ? nullptr : &found->second;
  }

 private:
  std::map<std::string, Row> rows_;
};

const std::string kPlain = "closed loop";
const std::string kPlant = "  of this the plant, replayed alone";
const std::string kController = "  of this the controller, replayed alone";
const std::string kRecorded = "closed loop, all signals recorded every 10 s";

void print_row(const Table& table, const std::string& name, const Table::Row* base) {
  const auto* row = table.find(name);
  if (row == nullptr) return;
  fmt::print("  {:58} {:>8.3f} {:>10.2f} {:>8.2f} {:>10} {:>8}\n", name, row->seconds, row->microseconds(),
             row->evaluations / row->ticks, std::isnan(row->error) ? "" : fmt::format("{:.2g}", row->error),
             base == nullptr ? "" : fmt::format("{:.2f}", row->seconds / base->seconds));
}

void print_goal(const std::string& what, const std::string& asked, const std::string& measured, bool met) {
  fmt::print("  {:58} {:>16} {:>16}  {}\n", what, asked, measured, met ? "MET" : "NOT MET");
}

void print(const Table& table, double memory) {
  const std::string head =
      fmt::format("{:>8} {:>10} {:>8} {:>10} {:>8}\n", "time", "time/tick", "f/tick", "error", "ratio");
  const std::string units =
      fmt::format("  {:58} {:>8} {:>10} {:>8} {:>10} {:>8}\n", "", "s", "us", "1", "mV", "");
  const auto* plain = table.find(kPlain);
  fmt::print("  {:58} {}{}", "one sol at equinox, tick 1 s", head, units);
  print_row(table, kPlain, plain);
  const auto* plant = table.find(kPlant);
  const auto* controller = table.find(kController);
  print_row(table, kPlant, plain);
  print_row(table, kController, plain);
  if (plain != nullptr && plant != nullptr && controller != nullptr) {
    const double rest = plain->seconds - plant->seconds - controller->seconds;
    fmt::print("  {:58} {:>8.3f} {:>10.2f} {:>8} {:>10} {:>8.2f}\n",
               "  the rest: instruments, air, audit, log", rest, 1e6 * rest / plain->ticks, "", "",
               rest / plain->seconds);
  }
  print_row(table, kRecorded, plain);
  fmt::print("\n  {:58} {}{}", "half an hour around sunrise, open loop, tick 1 s", head, units);
  const auto* ours = table.find(name_of(kEntries[0]));
  double best = std::numeric_limits<double>::infinity();
  for (const Entry& e : kEntries) {
    print_row(table, name_of(e), ours);
    const auto* row = table.find(name_of(e));
    if (row != nullptr && ours != nullptr && e.candidate >= Candidate::cvode_differences)
      best = std::min(best, row->seconds / ours->seconds);
  }
  fmt::print(
      "  time: of the processor, medians of interleaved runs; f: evaluations of the right-hand side by the\n"
      "  method, besides the one with which the loop observes the plant; error: largest of any cell voltage\n"
      "  at any tick, against the loop at 1e-6 above and against CVODE at 1e-9 below.\n\n");
  fmt::print("  {:58} {:>16} {:>16}\n", "goal", "asked", "measured");
  if (plain != nullptr) {
    const double speed = plain->ticks / plain->seconds;
    print_goal("times real time", ">= 100 000", fmt::format("{:.0f}", speed), speed >= 1e5);
    if (plant != nullptr) {
      const double ratio = plain->seconds / plant->seconds;
      print_goal("loop over the plant's own time", "<= 1.7", fmt::format("{:.2f}", ratio), ratio <= 1.7);
      print_goal("the same, next", "<= 1.4", fmt::format("{:.2f}", ratio), ratio <= 1.4);
    }
    print_goal("cell voltage against the tight reference", "<= 1 mV", fmt::format("{:.2f} mV", plain->error),
               plain->error <= 1);
  }
  if (std::isfinite(best))
    print_goal("faster than CVODE BDF, in its fastest form above", ">= 5 times",
               fmt::format("{:.0f} times", best), best >= 5);
  print_goal("resident memory, after a sol with recording", "< 100 MB", fmt::format("{:.0f} MB", memory),
             memory < 100);
  if (const auto* recorded = table.find(kRecorded); recorded != nullptr && plain != nullptr) {
    const double extra = 100 * (recorded->seconds / plain->seconds - 1);
    print_goal(fmt::format("recording ({:.1f} MB)", recorded->megabytes), "<= 15 %",
               fmt::format("{:.0f} %", extra), extra <= 15);
  }
}

}  // namespace

int main(int argc, char** argv) {
  std::vector<char*> arguments(argv, argv + argc);
  std::string interleaved = "--benchmark_enable_random_interleaving=true";
  arguments.insert(arguments.begin() + 1, interleaved.data());
  int count = static_cast<int>(arguments.size());
  benchmark::Initialize(&count, arguments.data());

  const auto add = [](const std::string& name, auto&& function) {
    benchmark::RegisterBenchmark(name.c_str(), function)->Iterations(1)->Repetitions(5);
  };
  add(kPlain, sol);
  add(kPlant, plant_alone);
  add(kController, controller_alone);
  add(kRecorded, recorded_sol);
  for (const Entry& e : kEntries) add(name_of(e), [&e](benchmark::State& state) { half_hour(state, e); });

  recorded_run(library_case(kSol));  // for the memory, before the references of the benchmarks fill it
  const double memory = resident_at_most();
  Table table;
  benchmark::RunSpecifiedBenchmarks(&table);
  print(table, memory);
  benchmark::Shutdown();
}
