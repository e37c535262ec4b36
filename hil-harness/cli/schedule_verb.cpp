#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <thread>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/schedule/schedule.hpp"
#include "hil-harness/verify/verify.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "scenarios/reader/quantity.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;
using scenarios::Problem;

constexpr double kLeastShare = 0.4, kMostShare = 1.8;  // of the scenario's demand, when nothing else is said
constexpr double kStepShare = 0.05;                    // of the same, before it is rounded
constexpr double kMostDemand = 1.0;                    // kg/s
constexpr std::size_t kMostGrid = 1000;

struct ScheduleFolder {
  explicit ScheduleFolder(fs::path f)
      : folder(std::move(f)),
        scenario(folder / "schedule.yaml"),
        result(folder / "schedule.json"),
        page(folder / "schedule.html") {}
  fs::path folder, scenario, result, page;
  std::vector<fs::path> files() const { return {scenario, result, page}; }
};

/// A rate of oxygen from an option, or what it is without.
double rate(const std::string& text, const char* option, double otherwise, std::vector<Problem>& problems) {
  if (text.empty()) return otherwise;
  const auto read = scenarios::read_quantity(text, {"kg/s", 1e-9, kMostDemand});
  if (!read.error.empty()) problems.push_back({"command line", 1, 1, option, read.error});
  return read.value;
}

/// The greatest of 1, 2, 5, 10, ... g/h and their tenths, hundredths, ... that is not above a rate, in kg/s.
double round_step(double most) {
  const double grams = most * kGramsPerHour * (1.0 + 1e-9);
  const double decade = std::pow(10.0, std::floor(std::log10(grams)));
  const double digit = grams >= 5.0 * decade ? 5.0 : grams >= 2.0 * decade ? 2.0 : 1.0;
  return digit * decade / kGramsPerHour;
}

std::vector<Problem> read_task(const ScheduleRequest& request, ScheduleTask& task) {
  std::vector<std::string> settings = request.settings;
  auto read = read_whole_case(scenario_file(request.scenario),
                              fs::path(home_folder()) / "plant-model" / "plants", settings);
  if (!read) return read.problems;
  task.base = std::move(*read.value);
  const scenarios::Scenario& s = task.base.scenario;
  std::vector<Problem> problems;
  const auto wrong = [&](const char* path, std::string message) {
    problems.push_back({request.scenario, 1, 1, path, std::move(message)});
  };
  if (s.duration < plant::kSolSeconds)
    wrong("duration", "is less than a sol; a schedule is made for longer runs");
  if (!s.weather.empty())
    wrong("weather", "is measured, which covers a few sols; a schedule takes the climate of the site");
  if (s.requirements.empty()) wrong("requirements", "is missing: they say which set-points are allowed");
  double demand = 0.0;
  for (const scenarios::Command& command : s.commands)
    if (command.mode == CTL_PRODUCTION) demand = std::max(demand, command.oxygen_demand);
  if (!(demand > 0.0)) wrong("commands", "never ask for production with a demand");
  const double step = demand > 0.0 ? round_step(kStepShare * demand) : 1.0 / kGramsPerHour;
  task.least = rate(request.least, "--least", std::max(step, step * std::round(kLeastShare * demand / step)),
                    problems);
  task.most = rate(request.most, "--most", step * std::round(kMostShare * demand / step), problems);
  task.step = rate(request.step, "--step", step, problems);
  if (problems.empty() && task.most < task.least)
    problems.push_back({"command line", 1, 1, "--most", "is less than --least"});
  if (problems.empty() && task.grid() > kMostGrid)
    problems.push_back({"command line", 1, 1, "--step",
                        fmt::format("makes {} set-points; at most {}", task.grid(), kMostGrid)});
  if (request.seasons == 0 || request.seasons > 1000)
    problems.push_back({"command line", 1, 1, "--seasons", "is not in [1, 1000]"});
  task.seasons = request.seasons;
  task.threads = request.jobs > 0 ? static_cast<unsigned>(std::min<std::uint64_t>(request.jobs, 256))
                                  : std::max(1U, std::thread::hardware_concurrency());
  return problems;
}

std::string text_of(const ScheduleTask& task, const Schedule& schedule) {
  std::string text = task.base.scenario.title + "\n";
  text += fmt::format("  {:<12} {:>5} {:>10} {:>10} {:>8} {:>12}\n", "sols", "Ls", "set-point", "oxygen",
                      "kWh/kg", "coke margin");
  for (const SeasonSchedule& s : schedule.seasons) {
    const TriedSol* sol = s.best ? s.at(*s.best) : nullptr;
    text += fmt::format("  {:<12} {:>3.0f}°  ", fmt::format("{} to {}", s.first_sol + 1, s.end_sol),
                        s.season / plant::kDegree);
    text += sol == nullptr
                ? "no set-point holds\n"
                : fmt::format("{:>6.2f} g/h {:>6.0f} g {:>10.1f} {:>9.1f} mV\n", sol->demand * kGramsPerHour,
                              sol->oxygen * 1e3, sol->energy / kJoulePerKilowattHour / sol->oxygen,
                              sol->coke_margin * 1e3);
  }
  if (!schedule.constant) return text;
  const double by_season = schedule.total([](const SeasonSchedule& s) { return *s.best; }).oxygen;
  const double constant = schedule.total([&](const SeasonSchedule&) { return *schedule.constant; }).oxygen;
  return text + fmt::format(
                    "  predicted        {:.2f} kg by season; {:.2f} kg at {:.2f} g/h, the greatest that "
                    "holds in all\n",
                    by_season, constant, *schedule.constant * kGramsPerHour);
}

}  // namespace

int schedule_verb(const ScheduleRequest& request) {
  ScheduleTask task;
  if (const auto problems = read_task(request, task); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  const ScheduleFolder out{request.out.empty()
                               ? fs::path("runs") / "schedule" / fs::path(request.scenario).stem()
                               : fs::path(request.out)};
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");
  listen_for_stop();
  FolderLock lock;
  auto problems = make_room(out.folder, out.files(), "a schedule", request.force);
  if (problems.empty()) problems = open_folder(out.folder, lock);
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  std::error_code error;
  for (const fs::path& path : out.files()) fs::remove(path, error);
  task.interrupted = &stop_wanted();
  Progress progress("schedule", request.quiet);
  task.progress = [&](double share) { progress.show(share); };
  const Schedule schedule = make_schedule(task);
  progress.clear();
  if (schedule.interrupted) {
    const bool kept = write_whole(out.result, schedule_json(task, schedule));
    print_error(kept ? fmt::format("not completed: interrupted; the sols that were run are in {}\n",
                                   out.result.string())
                     : "not completed: interrupted\n");
    return kNotCompleted;
  }
  const bool well =
      write_whole(out.scenario,
                  scenarios::write_resolved(scheduled(task.base, schedule, task.least), task.base.plant)) &&
      write_whole(out.page, schedule_page(task, schedule)) &&
      write_whole(out.result, schedule_json(task, schedule));
  if (!well) return kNotCompleted;
  if (request.json)
    print(schedule_json(task, schedule));
  else if (!request.quiet)
    print(text_of(task, schedule) + fmt::format("  written to       {}\n", out.folder.string()));
  return schedule.holds() ? kSuccess : kViolated;
}

}  // namespace duskline::harness
