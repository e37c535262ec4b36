#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <thread>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/tune/relay_run.hpp"
#include "hil-harness/tune/tune_json.hpp"
#include "hil-harness/tune/tune_page.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

struct TuneFolder {
  explicit TuneFolder(fs::path f)
      : folder(std::move(f)),
        journal(folder / "journal.jsonl"),
        controller(folder / "controller.yaml"),
        result(folder / "tune.json"),
        relay(folder / "relay.json"),
        report(folder / "report.html") {}
  fs::path folder, journal, controller, result, relay, report;
  std::vector<fs::path> files(bool of_relay) const {
    return of_relay ? std::vector{relay, controller} : std::vector{result, controller, report, journal};
  }
};

/// The folder may be written: nothing that a search or an experiment writes is in it, or it may go. A journal without a
/// result is that of an interrupted search, which goes on.
std::vector<scenarios::Problem> prepare(const TuneFolder& out, bool of_relay, bool force, FolderLock& lock) {
  std::vector<fs::path> results{out.result, out.relay, out.controller};
  if (!of_relay) results.push_back(out.report);
  if (auto problems = make_room(out.folder, results, "a result", force); !problems.empty()) return problems;
  if (auto problems = open_folder(out.folder, lock); !problems.empty()) return problems;
  std::error_code error;
  if (force)
    for (const fs::path& path : out.files(of_relay)) fs::remove(path, error);
  return {};
}

/// The scenario and the further ones that it names, under the controller of the first.
std::vector<scenarios::Problem> read_task(const TuneRequest& request, TuneTask& task) {
  std::vector<std::string> settings = request.settings;
  if (request.seed) settings.push_back("tuning.seed=" + std::to_string(*request.seed));
  const fs::path plants = fs::path(home_folder()) / "plant-model" / "plants";
  auto read = scenarios::read_case(scenario_file(request.scenario), plants, settings, requirement_lists());
  if (!read) return read.problems;
  task.cases.push_back(std::move(*read.value));
  const scenarios::Tuning t = task.tuning();
  const plant::PlantForm form = task.cases.front().plant.parameters.form;
  const auto names = requirement_lists().of(form);
  if (t.vary.empty() && !request.relay)
    return {{request.scenario, 1, 1, "tuning",
             "is missing: it says which gains move and what is better (docs/how-to/tune-the-gains.md)"}};
  std::vector<scenarios::Problem> problems;
  if (plant::has_headers(form) && request.relay)
    problems.push_back(
        {"--relay", 1, 1, "", "breaks the loops of one module with apertures; this plant has several"});
  if (plant::has_headers(form) && !t.operating_points.empty())
    problems.push_back(
        {request.scenario, 1, 1, "tuning.operating_points",
         "margins of loops are worked out for one module with apertures; this plant has several"});
  std::erase_if(settings, [](const std::string& s) { return s.starts_with("tuning."); });
  for (std::size_t i = 0; i < t.cases.size(); ++i) {
    auto other =
        scenarios::read_case(fs::path(scenario_file(request.scenario)).parent_path() / t.cases[i].file,
                             plants, settings, requirement_lists());
    if (!other) {
      problems.insert(problems.end(), other.problems.begin(), other.problems.end());
      continue;
    }
    const float period = other.value->scenario.controller.period;
    other.value->scenario.controller = task.cases.front().scenario.controller;
    other.value->scenario.controller.period = period;
    other.value->scenario.plant_controller = task.cases.front().scenario.plant_controller;
    task.cases.push_back(std::move(*other.value));
  }
  for (const auto& c : task.cases)
    for (const auto& problem : surroundings(c).problems)
      problems.push_back({request.scenario, 1, 1, "weather", problem});
  for (const auto& aim : t.objectives)
    task.objectives.push_back(scenarios::parse_objective(aim.aim, names).objective);
  task.starts.push_back(values_of(t.vary, task.cases.front()));
  for (const std::string& file : request.starts) {
    auto start = scenarios::read_controller(file);
    problems.insert(problems.end(), start.problems.begin(), start.problems.end());
    if (!start) continue;
    scenarios::Case with = task.cases.front();
    with.scenario.controller = start.value->controller;
    with.scenario.plant_controller = start.value->plant_controller;
    task.starts.push_back(values_of(t.vary, with));
  }
  return problems;
}

std::string page_of(const TuneTask& task, const TuneResult& result, const scenarios::Case& after) {
  return tune_page(task, result, sample_run(task.cases.front()), sample_run(after));
}

bool write_results(const TuneTask& task, const TuneResult& result, const Journal& journal,
                   const TuneFolder& out) {
  const auto with = [&](std::size_t candidate) {
    scenarios::Case c = task.cases.front();
    put_values(task.tuning().vary, result.candidates[candidate].values, c.scenario);
    return c;
  };
  const scenarios::Scenario s = with(kept_candidate(result)).scenario;
  return write_whole(out.controller, scenarios::write_controller({s.controller, s.plant_controller},
                                                                 "Tuned for: " + s.title)) &&
         write_whole(out.journal, journal.text(result.candidates)) &&
         write_whole(out.report, page_of(task, result, with(result.best))) &&
         write_whole(out.result, tune_json(task, result));
}

int relay_verb(const TuneRequest& request, const TuneTask& task, const TuneFolder& out) {
  Progress progress("relay", request.quiet);
  const auto all =
      relay_experiments(task.cases.front(), &stop_wanted(), [&](double share) { progress.show(share); });
  progress.clear();
  const std::string json = relay_json(all);
  if (stop_wanted()) {
    const bool kept = !all.empty() && write_whole(out.relay, json);
    print_error(kept ? fmt::format("not completed: interrupted; {} finished {} in {}\n", all.size(),
                                   all.size() == 1 ? "experiment is" : "experiments are", out.relay.string())
                     : "not completed: interrupted\n");
    return kNotCompleted;
  }
  const scenarios::Scenario& s = task.cases.front().scenario;
  const scenarios::ControllerFile file{proposed(s.controller, all), s.plant_controller};
  if (!write_whole(out.relay, json) ||
      !write_whole(out.controller,
                   scenarios::write_controller(file, "Proposed by relay experiments: " + s.title)))
    return kNotCompleted;
  if (request.json) print(json);
  if (!request.json && !request.quiet)
    print(fmt::format("{}  proposed in      {}\n", relay_text(all), out.controller.string()));
  const bool good = std::any_of(all.begin(), all.end(), [](const auto& e) { return e.result.good; });
  if (!good) print_error("not completed: no experiment gave a model\n");
  return good ? kSuccess : kNotCompleted;
}

}  // namespace

int tune_verb(const TuneRequest& request) {
  TuneTask task;
  if (const auto problems = read_task(request, task); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  const TuneFolder out{request.out.empty() ? fs::path("runs") / (fs::path(request.scenario).stem().string() +
                                                                 (request.relay ? "-relay" : "-tuned"))
                                           : fs::path(request.out)};
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");
  listen_for_stop();  // before there is anything to leave behind
  FolderLock lock;
  if (const auto problems = prepare(out, request.relay, request.force, lock); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  if (request.relay) return relay_verb(request, task, out);
  std::string problem;
  Journal journal = Journal::open(out.journal, task_hash(task), problem);
  if (!problem.empty()) {
    print_error(fmt::format("{}:1:1: {}; --force starts over\n", out.journal.string(), problem));
    return kBadInput;
  }
  const bool tells = !request.quiet && !request.json;
  if (tells && journal.known() > 0)
    print(fmt::format("  goes on          {} candidates are known from {}\n", journal.known(),
                      out.journal.string()));
  task.threads = request.jobs > 0 ? static_cast<unsigned>(std::min<std::uint64_t>(request.jobs, 256))
                                  : std::max(1U, std::thread::hardware_concurrency());
  task.interrupted = &stop_wanted();
  Progress progress("tune", request.quiet);
  task.progress = [&](double share) { progress.show(share); };
  const TuneResult result = tune(task, journal);
  progress.clear();
  if (result.end != TuneEnd::complete) {
    const std::string why = result.end == TuneEnd::disk       ? "the journal cannot be written"
                            : result.end == TuneEnd::no_point ? result.problem
                                                              : "interrupted";
    print_error(fmt::format("not completed: {}; {} candidates are kept in {}, the same command{} goes on\n",
                            why, journal.known(), out.journal.string(),
                            request.force ? " without --force" : ""));
    return kNotCompleted;
  }
  if (!write_results(task, result, journal, out)) return kNotCompleted;
  if (request.json) print(tune_json(task, result));
  if (tells) print(tune_text(task, result) + fmt::format("  written to       {}\n", out.folder.string()));
  return kSuccess;
}

}  // namespace duskline::harness
