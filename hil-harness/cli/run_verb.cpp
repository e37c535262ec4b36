#include <fmt/format.h>

#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>

#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/loop/loop.hpp"
#include "hil-harness/loop/signals.hpp"
#include "hil-harness/loop/summary_json.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/trace/trace_writer.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

std::atomic<bool> interrupted{false};

void on_interrupt(int) {
  interrupted.store(true, std::memory_order_relaxed);
}

/// Writes a whole file or says why not.
bool write_file(const fs::path& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  file.close();
  if (file) return true;
  fmt::print(stderr, "{}: cannot be written: {}\n", path.string(), std::strerror(errno));
  return false;
}

std::vector<SignalInfo> recorded_signals() {
  std::vector<SignalInfo> infos;
  for (const Signal& s : signal_table()) infos.push_back(s.info);
  return infos;
}

struct Recorded {
  RunRecord record;
  bool trace_well = true;
};

/// One run with its trace at `path` (empty: none).
Recorded recorded_run(const scenarios::Case& c, const std::string& path, const std::string& label,
                      bool quiet) {
  InProcess link(c.scenario.controller);
  LoopOptions options;
  options.interrupted = &interrupted;
  Progress progress(label, quiet);
  options.progress = [&](double share) { progress.show(share); };
  Recorded result;
  if (path.empty()) {
    result.record = run_loop(c, link, options);
    return result;
  }
  const auto signals = recorded_signals();
  // compression costs more than the run saves on disk; a sol at 10 s takes a few megabytes without
  TraceWriter trace(
      path, signals,
      {{"title", c.scenario.title}, {"plant", c.plant.name}, {"seed", std::to_string(c.scenario.seed)}},
      {600, 0});
  std::vector<double> row(row_width(signals));
  options.record = [&](const Snapshot& s) {
    read_signals(s, row);
    return trace.append(s.time, row);
  };
  result.record = run_loop(c, link, options);
  progress.clear();
  if (!trace.close() || !trace.problem().empty()) {
    fmt::print(stderr, "{}: {}\n", path, trace.problem());
    result.trace_well = false;
  }
  return result;
}

}  // namespace

int run_verb(const RunRequest& request) {
  std::vector<std::string> settings = request.settings;
  if (request.seed) settings.push_back("seed=" + std::to_string(*request.seed));
  const fs::path plants = fs::path(home_folder()) / "plant-model" / "plants";
  auto read = scenarios::read_case(request.scenario, plants, settings);
  if (!read) {
    fmt::print(stderr, "{}", scenarios::to_text(read.problems));
    return kBadInput;
  }
  const scenarios::Case& c = *read.value;
  const Surroundings around = surroundings(c);
  if (!around.problems.empty()) {
    for (const auto& problem : around.problems) fmt::print(stderr, "{}\n", problem);
    return kBadInput;
  }
  std::optional<scenarios::Case> baseline;
  if (!request.baseline.empty()) {
    settings.push_back("controller.law=" + request.baseline);
    auto other = scenarios::read_case(request.scenario, plants, settings);
    if (!other) {
      fmt::print(stderr, "{}", scenarios::to_text(other.problems));
      return kBadInput;
    }
    baseline = *other.value;
  }

  const fs::path out =
      request.out.empty() ? fs::path("runs") / fs::path(request.scenario).stem() : fs::path(request.out);
  std::error_code error;
  const fs::path trace = out / "trace.nc", summary = out / "summary.json", report = out / "report.html";
  if (!request.force && (fs::exists(trace, error) || fs::exists(summary, error))) {
    fmt::print(stderr, "{}: holds a run already; give --force to overwrite it, or another --out\n",
               out.string());
    return kBadInput;
  }
  fs::create_directories(out, error);
  if (error) {
    fmt::print(stderr, "{}: cannot be made: {}\n", out.string(), error.message());
    return kBadInput;
  }
  for (const fs::path& old : {trace, summary, report}) fs::remove(old, error);
  if (!write_file(out / "scenario.resolved.yaml", scenarios::write_resolved(c.scenario, c.plant)))
    return kNotCompleted;

  interrupted = false;
  std::signal(SIGINT, on_interrupt);
  std::signal(SIGTERM, on_interrupt);
  std::signal(SIGXFSZ, SIG_IGN);  // a file that hits its limit is an error to report, not a reason to die
  Recorded run = recorded_run(c, request.record ? trace.string() : "", "run", request.quiet);
  run.record.notes.insert(run.record.notes.end(), around.notes.begin(), around.notes.end());
  if (!run.trace_well) run.record.end = {plant::RunEnd::disk_full, run.record.end.time, "trace"};

  std::optional<std::string> baseline_trace;
  if (baseline && request.record && !interrupted) {
    const fs::path path = out / "baseline.nc";
    const Recorded other = recorded_run(*baseline, path.string(), "baseline", request.quiet);
    if (other.trace_well) baseline_trace = path.string();
    if (!request.quiet && !request.json) fmt::print("{}", summary_text(*baseline, other.record));
    if (!write_file(out / "baseline.json", summary_json(*baseline, other.record))) return kNotCompleted;
  }

  const std::string text = summary_json(c, run.record);
  bool well = write_file(summary, text);
  if (request.record) {
    ReportInfo info{c.scenario.title, c.scenario.purpose};
    if (baseline) {
      info.run_name = "this run";
      info.baseline_name = request.baseline + " law";
    }
    const Outcome drawn = write_report(trace.string(), text, info, report.string(), baseline_trace);
    if (!drawn) {
      fmt::print(stderr, "{}: {}\n", report.string(), drawn.problem);
      well = false;
    }
  }
  if (request.json)
    fmt::print("{}", text);
  else if (!request.quiet)
    fmt::print("{}  written to       {}\n", summary_text(c, run.record), out.string());
  if (run.record.end.reason != plant::RunEnd::reached_end) {
    fmt::print(stderr, "run not completed: {} at {:.3f} s{}{}; what was recorded is in {}\n",
               plant::word(run.record.end.reason), run.record.end.time,
               run.record.end.who.empty() ? "" : ": ", run.record.end.who, out.string());
    return kNotCompleted;
  }
  return well ? kWell : kNotCompleted;
}

std::string home_folder() {
  if (const char* home = std::getenv("DUSKLINE_HOME")) return home;
  return DUSKLINE_SOURCE_DIR;
}

}  // namespace duskline::harness
