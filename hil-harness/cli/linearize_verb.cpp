#include <fmt/format.h>

#include <cmath>
#include <filesystem>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/table.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/linearize/results.hpp"
#include "hil-harness/links/open_link.hpp"
#include "hil-harness/loop/loop.hpp"
#include "hil-harness/verify/judge.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "scenarios/reader/quantity.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

scenarios::Problem problem(const char* option, const std::string& path, std::string message) {
  return {option, 1, 1, path, std::move(message)};
}

/// Seconds since the start: a duration, or the first time that the sun's clock shows what is asked for.
scenarios::Reading read_instant(const std::string& text, const scenarios::Scenario& s) {
  if (const auto hour = scenarios::read_quantity(text, {"h", 0.0, 24.0});
      hour.error.empty() && text.find(':') != std::string::npos) {
    const double wait = std::fmod(hour.value - s.start.local_time_h + 24.0, 24.0);
    return {wait / 24.0 * plant::kSolSeconds, {}};
  }
  scenarios::Reading reading = scenarios::read_quantity(text, {"s", 0.0, 1e9});
  if (!reading.error.empty())
    reading.error = fmt::format("'{}': {}; give a local time such as 12:00 or a duration such as 6 h", text,
                                reading.error);
  return reading;
}

std::string amount(double value, const char* unit) {
  return std::isfinite(value) ? fmt::format("{:.3g}{}", value, unit) : "inf";
}

/// A gain margin as a factor and in decibels.
std::string gain_words(double gain) {
  return std::isfinite(gain) ? fmt::format("{:.3g} ({:.1f} dB)", gain, 20.0 * std::log10(gain)) : "inf";
}

std::string summary_of(const LinearResults& r) {
  Table table{{"loop", "Ms", "gain margin", "phase margin", "crossover", "delay margin", "closed"}, {}};
  for (const LoopCurve& curve : r.loops) {
    const LoopMargins& l = curve.loop;
    const std::string name = l.in_charge ? l.name : l.name + " (as if)";
    if (!l.feedback) {
      table.rows.push_back({{name, "-", "-", "-", "-", "-", "no feedback"}});
      continue;
    }
    const Margins& m = l.margins;
    table.rows.push_back(
        {{name, fmt::format("{:.3f}", m.sensitivity), gain_words(m.gain), amount(m.phase, " deg"),
          amount(m.crossover, " rad/s"), amount(m.delay, " s"), l.stable ? "stable" : "unstable"}});
  }
  const std::string warning = warning_of(r);
  const int minutes = static_cast<int>(std::lround(r.local_time * 1440.0)) % 1440;
  return fmt::format(
      "{} (law {}, {}, active current limit {})\n  at               {:.0f} s after the start, {:02}:{:02} "
      "local "
      "time\n"
      "  plant            {} states, {} of them settle within a tick\n"
      "  controller       mean over {} ticks\n{}"
      "  largest S        {:.3f} at {:.3g} rad/s, all loops together\n{}",
      r.title, r.law, r.mode, r.limiter, r.time, minutes / 60, minutes % 60, r.plant.a.rows(),
      r.quasi_static.size(), r.ticks, warning.empty() ? "" : fmt::format("  warning          {}\n", warning),
      r.sensitivity_peak, r.sensitivity_peak_at, to_text(table));
}

}  // namespace

int linearize_verb(const LinearizeRequest& request) {
  std::vector<std::string> settings = request.settings;
  if (request.seed) settings.push_back("seed=" + std::to_string(*request.seed));
  const auto read =
      scenarios::read_case(scenario_file(request.scenario),
                           fs::path(home_folder()) / "plant-model" / "plants", settings, requirement_lists());
  std::vector<scenarios::Problem> problems = read.problems;
  if (read && read.value->plant.parameters.form.intake == plant::kFreezer)
    problems.push_back(
        problem(request.scenario.c_str(), "plant",
                "takes its air in by freezing it out, bed after bed: it has no operating point; "
                "linear models are of plants with a machine that turns"));
  double at = 0.0;
  std::shared_ptr<Link> controller;
  if (read) {
    if (!request.link.empty() && plant::has_headers(read.value->plant.parameters.form)) {
      problems.push_back(
          problem("--link", request.link,
                  "between headers the linear models are those of the controllers of this program"));
    } else if (!request.link.empty()) {
      auto opened = open_link(request.link, read.value->scenario.controller);
      problems.insert(problems.end(), opened.problems.begin(), opened.problems.end());
      if (opened) controller = std::move(*opened.value);
    }
    if (controller)
      if (std::string why = layout_problem(*controller); !why.empty())
        problems.push_back(problem("--link", request.link, std::move(why)));
    const scenarios::Reading instant = read_instant(request.at, read.value->scenario);
    at = instant.value;
    if (!instant.error.empty())
      problems.push_back(problem("--at", "", instant.error));
    else if (at + read.value->scenario.period > read.value->scenario.duration)
      problems.push_back(problem(
          "--at", "",
          fmt::format("{:.0f} s is not within the run of {:.0f} s", at, read.value->scenario.duration)));
  }
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  if (!read.value->weather_file.empty()) {
    const Surroundings around = surroundings(*read.value);
    for (const auto& error : around.problems) print_error(error + "\n");
    if (!around.problems.empty()) return kBadInput;
  }
  const fs::path folder = request.out.empty()
                              ? fs::path("runs") / fs::path(request.scenario).stem() / "linear"
                              : fs::path(request.out);
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");
  std::vector<fs::path> files;
  for (const std::string& name : linear_file_names()) files.push_back(folder / name);
  FolderLock lock;
  problems = make_room(folder, files, "linear models", request.force);
  if (problems.empty()) problems = open_folder(folder, lock);
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  listen_for_stop();
  Progress progress("run", request.quiet);
  std::string error;
  const auto point =
      operating_point(*read.value, at, error, {[&](double share) { progress.show(share); }, &stop_wanted()},
                      std::move(controller));
  progress.clear();
  if (!point) {
    print_error(fmt::format("not completed: {}\n", error));
    return kNotCompleted;
  }
  LinearResults results = results_of(*point, LinearLoop(*point));
  results.title = read.value->scenario.title;
  results.scenario = fs::path(request.scenario).filename().string();
  const std::string json = linear_json(results);
  bool well = true;
  for (const auto& [name, bytes] : linear_files(results)) well = write_whole(folder / name, bytes) && well;
  if (request.json)
    print(json);
  else if (!request.quiet)
    print(summary_of(results) + fmt::format("  written to       {}\n", folder.string()));
  return well ? kSuccess : kNotCompleted;
}

}  // namespace duskline::harness
