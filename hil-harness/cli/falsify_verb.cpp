#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <thread>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/falsify/falsify.hpp"
#include "hil-harness/links/controllers.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;
using scenarios::Problem;

struct SearchFolder {
  explicit SearchFolder(fs::path f)
      : folder(std::move(f)),
        worst(folder / "worst.yaml"),
        weather(folder / "weather.csv"),
        found(folder / "falsify.json"),
        page(folder / "falsify.html"),
        run(folder / "worst") {}
  fs::path folder, worst, weather, found, page, run;
};

/// What is searched, read and checked before anything is written.
struct Plan {
  CaseSource source;
  scenarios::Case base;
  FalsifyOptions options;
};

std::vector<Problem> read_plan(const FalsifyRequest& request, Plan& plan) {
  CaseSource& source = plan.source;
  source.name = request.scenario;
  source.plants = fs::path(home_folder()) / "plant-model" / "plants";
  source.settings = request.settings;
  if (request.runs) source.settings.push_back(fmt::format("falsify.runs={}", *request.runs));
  if (!request.requirement.empty()) source.settings.push_back("falsify.requirement=" + request.requirement);
  auto read = source.open(scenario_file(request.scenario));
  if (!read) return read.problems;
  plan.base = std::move(*read.value);
  if (plan.base.scenario.falsify.vary.empty())
    return {{request.scenario, 1, 1, "falsify",
             "is missing (what the search may move); docs/how-to/find-the-worst-weather.md shows one"}};
  std::vector<Problem> problems;
  plan.options.seed = request.seed.value_or(plan.base.scenario.seed);
  plan.options.go_on = request.go_on;
  plan.options.links = request.links;
  for (auto& problem : open_controllers(request.links, plan.base).problems)
    problems.push_back(std::move(problem));
  plan.options.threads = request.jobs > 0 ? static_cast<unsigned>(std::min<std::uint64_t>(request.jobs, 256))
                                          : std::max(1U, std::thread::hardware_concurrency());
  if (one_at_a_time(request.links)) plan.options.threads = 1;
  return problems;
}

/// Makes and keeps the folder, or takes over what an interrupted search left there.
std::vector<Problem> prepare(const FalsifyRequest& request, const SearchFolder& out, Plan& plan,
                             FolderLock& lock) {
  const std::vector<fs::path> files{out.found, out.worst, out.page, out.weather};
  if (request.resume) {
    const auto before = content_of(out.found);
    if (!before) return {{out.found.string(), 1, 1, "", "there is no search to resume"}};
    auto earlier = earlier_attempts(*before, out.found.string(), plan.base, plan.options);
    if (!earlier) return earlier.problems;
    plan.options.earlier = std::move(*earlier.value);
  } else {
    auto problems = make_room(out.folder, files, "a search", request.force);
    if (problems.empty()) problems = make_room(out.run, RunFolder(out.run).files(), "a run", request.force);
    for (Problem& p : problems)
      if (fs::exists(out.found)) p.message += "; --resume goes on with it";
    if (!problems.empty()) return problems;
  }
  if (auto problems = open_folder(out.folder, lock); !problems.empty()) return problems;
  std::error_code error;
  if (request.force)
    for (const fs::path& path : files) fs::remove(path, error);
  return {};
}

std::string shown(const Attempt& a) {
  return a.requirement.empty() ? "no comparison decided"
                               : fmt::format("{} at {:.0f} s", margin_words(a.verdict), a.verdict.time);
}

std::string values_of(const scenarios::Case& base, const Attempt& a, const char* between) {
  std::string text;
  const auto& vary = base.scenario.falsify.vary;
  for (std::size_t k = 0; k < vary.size(); ++k) {
    const ReadUnit as = readable(vary[k]);
    text += fmt::format("{}{} = {:.4g}{}{}", k > 0 ? between : "", label_of(base, vary[k]),
                        a.values[k] * as.factor, as.unit.empty() ? "" : " ", as.unit);
  }
  return text;
}

std::string text_of(const Plan& plan, const Falsified& found) {
  const auto closest = found.closest();
  if (!closest) return "no run was completed\n";
  const Attempt& worst = found.attempts[*closest];
  std::string text = plan.base.scenario.title + "\n";
  const auto line = [&](std::string_view what, const std::string& words) {
    text += fmt::format("  {:<16} {}\n", what, words);
  };
  line("runs", fmt::format("{} of {}, {} of them drawn at random", found.attempts.size(),
                           plan.base.scenario.falsify.runs, found.draws));
  line(worst.violated() ? word(worst.verdict.outcome) : "closest",
       fmt::format("{}, {}", worst.requirement, shown(worst)));
  if (const auto first = found.first_violation())
    line("first violation", fmt::format("run {}, {}", *first + 1, shown(found.attempts[*first])));
  line(worst.violated() ? "worst run" : "closest run",
       fmt::format("{}\n{:19}{}", *closest + 1, "", values_of(plan.base, worst, "\n                   ")));
  if (const std::size_t cut = found.cut_short(); cut > 0)
    line("cut short", fmt::format("{} runs ended early; falsify.json says which and why", cut));
  std::string drawn = fmt::format("{} of {} violated it", found.draws_violated(), found.draws);
  if (const std::string share = share_words(plan.base, found); !share.empty()) drawn += ": " + share;
  line("drawn at random", drawn);
  return text;
}

/// The worst case as a scenario that stands alone; its measured weather goes beside it.
bool write_worst(const Plan& plan, const SearchFolder& out, const Falsified& found) {
  const std::size_t closest = *found.closest();
  const Attempt& worst = found.attempts[closest];
  auto read = plan.source.read(settings_of(plan.base, worst));
  if (!read) return false;
  scenarios::Scenario& s = read.value->scenario;
  s.purpose = fmt::format(
      "The closest to violating '{}' in a search of {} runs (run {}, seed {}): {}. Varied: {}. Before: {}",
      worst.requirement, found.attempts.size(), closest + 1, plan.options.seed, shown(worst),
      values_of(plan.base, worst, ", "), s.purpose);
  s.title += ", at its worst";
  if (!read.value->weather_file.empty()) {
    const auto weather = content_of(read.value->weather_file);
    if (!weather || !write_whole(out.weather, *weather)) return false;
    s.weather = out.weather.filename().string();
  }
  return write_whole(out.worst, scenarios::write_resolved(s, read.value->plant));
}

}  // namespace

int falsify_verb(const FalsifyRequest& request) {
  Plan plan;
  if (const auto problems = read_plan(request, plan); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  const SearchFolder out{request.out.empty()
                             ? fs::path("runs") / "falsify" / fs::path(request.scenario).stem()
                             : fs::path(request.out)};
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");
  listen_for_stop();  // before there is anything to leave behind
  FolderLock lock;
  if (const auto problems = prepare(request, out, plan, lock); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  plan.options.interrupted = &stop_wanted();
  Progress progress("falsify", request.quiet);
  plan.options.progress = [&](double share) { progress.show(share); };
  double so_far = std::numeric_limits<double>::infinity();
  bool kept = true;
  plan.options.report = [&](const std::vector<Attempt>& attempts) {
    if (attempts.size() < plan.options.earlier.size()) return true;  // all of it is in the file already
    Falsified found{attempts, 0, false};
    const Attempt& best = attempts[*found.closest()];
    if (!request.quiet && best.closeness() < so_far) {
      so_far = best.closeness();
      progress.clear();
      print_error(
          fmt::format("falsify: {} runs, closest {}: {}\n", attempts.size(), best.requirement, shown(best)));
    }
    found.draws = static_cast<std::size_t>(
        std::count_if(attempts.begin(), attempts.end(), [](const Attempt& a) { return a.drawn; }));
    found.interrupted = true;  // as long as it has not come to its end
    kept = write_whole(out.found, falsified_json(plan.base, found, plan.options));
    return kept;
  };
  const Falsified found = falsify(plan.source, plan.base, plan.options);
  progress.clear();
  if (found.attempts.empty()) {
    print_error("not completed: interrupted before the first runs were done\n");
    return kNotCompleted;
  }
  if (found.attempts.size() < plan.options.earlier.size()) {
    print_error("not completed: interrupted; what the folder holds stays as it was\n");
    return kNotCompleted;
  }
  bool well = kept && write_whole(out.found, falsified_json(plan.base, found, plan.options)) &&
              write_whole(out.page, falsify_page(plan.base, found)) && write_worst(plan, out, found);
  if (well && !found.interrupted) {
    RunRequest run;
    run.scenario = out.worst.string();
    run.links = request.links;
    run.out = out.run.string();
    run.quiet = run.force = true;
    const int code = run_verb(run);
    std::error_code error;
    well = code == kSuccess || code == kViolated ||
           (code == kNotCompleted && found.cut_short() > 0 &&
            std::filesystem::exists(RunFolder(out.run).report, error));
  }
  if (request.json)
    print(falsified_json(plan.base, found, plan.options, false));
  else if (!request.quiet)
    print(text_of(plan, found) + fmt::format("  written to       {}\n", out.folder.string()));
  if (found.interrupted) print_error("not completed: interrupted; --resume goes on\n");
  if (found.interrupted || !well) return kNotCompleted;
  if (found.first_violation()) return kViolated;
  return found.cut_short() > 0 ? kNotCompleted : kSuccess;
}

}  // namespace duskline::harness
