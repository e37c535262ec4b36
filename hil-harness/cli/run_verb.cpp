#include <fmt/format.h>
#include <sys/auxv.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/recorded_run.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/compare/comparison.hpp"
#include "hil-harness/links/controllers.hpp"
#include "hil-harness/loop/loop.hpp"
#include "hil-harness/loop/pacer.hpp"
#include "hil-harness/loop/recorder.hpp"
#include "hil-harness/loop/sols.hpp"
#include "hil-harness/loop/words.hpp"
#include "hil-harness/report/compressor_map.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/report/sols_page.hpp"
#include "hil-harness/verify/judge.hpp"
#include "hil-harness/verify/summary_json.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kLawKey = "controller.law=";
constexpr double kTraceRowsMax = 20000.0;  // of the trace of a run whose span was given
constexpr std::size_t kNotesShown = 5;

/// What is to be run, read and checked before anything is written.
struct Plan {
  scenarios::Case main;
  std::optional<scenarios::Case> compared;
  Controllers controllers;              ///< of the main run
  std::optional<scenarios::Acts> acts;  ///< what people do
  std::string weather;                  ///< the bytes of the weather file
  std::optional<Checkpoint> go_on;      ///< from where an earlier call went; none: from the start
};

/// What --seed, --span and the like say is one setting more; its problems are located in the option.
scenarios::Result<scenarios::Case> read_with(const RunRequest& request, std::vector<std::string>& settings,
                                             std::string_view option, std::string_view key,
                                             const std::string& value) {
  if (!option.empty()) settings.push_back(std::string(key) + value);
  const fs::path plants = fs::path(home_folder()) / "plant-model" / "plants";
  auto read = scenarios::read_case(scenario_file(request.scenario), plants, settings, requirement_lists());
  for (scenarios::Problem& p : read.problems)
    if (!option.empty() && p.file == "--set" && p.line == static_cast<int>(settings.size())) {
      p.file = option;
      p.line = 1;
      p.column = std::max(1, p.column - static_cast<int>(key.size()));
    }
  return read;
}

/// The time between rows that keeps the trace of a given span small; nothing when that of the scenario does.
std::optional<double> coarser(const scenarios::Scenario& s) {
  if (s.duration / s.record <= kTraceRowsMax) return {};
  for (const double step : {10.0, 60.0, 600.0, 3600.0, 6.0 * 3600.0})
    if (s.duration / step <= kTraceRowsMax && step > s.record) return step;
  return {};
}

std::vector<scenarios::Problem> read_plan(const RunRequest& request, Plan& plan) {
  std::vector<std::string> settings = request.settings;
  if (request.seed) settings.push_back("seed=" + std::to_string(*request.seed));
  const bool spanned = !request.span.empty();
  auto read = read_with(request, settings, spanned ? "--span" : "", "duration=", request.span);
  if (!read) return read.problems;
  const bool chosen = std::any_of(settings.begin(), settings.end(),
                                  [](const std::string& one) { return one.starts_with("record="); });
  if (const auto step = coarser(read.value->scenario); spanned && !chosen && step) {
    settings.push_back(fmt::format("record={:g} s", *step));
    read = read_with(request, settings, "", "", "");
    if (!read) return read.problems;
  }
  plan.main = std::move(*read.value);
  if (!request.compare.empty()) {
    auto other = read_with(request, settings, "--compare", kLawKey, request.compare);
    if (!other) return other.problems;
    plan.compared = std::move(*other.value);
  }
  if (!request.acts.empty()) {
    auto acts = scenarios::read_acts(request.acts, requirement_lists().of(plan.main.plant.parameters.form));
    if (!acts) return acts.problems;
    plan.acts = std::move(*acts.value);
  }
  auto opened = open_controllers(request.links, plan.main);
  if (opened) plan.controllers = std::move(*opened.value);
  return opened.problems;
}

/// The scenario with everything in it, measured weather beside it.
std::string resolved_text(const Plan& plan) {
  scenarios::Scenario scenario = plan.main.scenario;
  if (!plan.main.weather_file.empty()) scenario.weather = "weather.csv";
  return scenarios::write_resolved(scenario, plan.main.plant);
}

/// The inputs of the run, so that the folder is whole.
bool write_scenario(const Plan& plan, const RunFolder& out) {
  if (!plan.main.weather_file.empty() && !write_whole(out.weather, plan.weather)) return false;
  if (plan.acts && !write_whole(out.acts, scenarios::write_acts(*plan.acts))) return false;
  return write_whole(out.scenario, resolved_text(plan));
}

/// All that shapes the run: a checkpoint belongs to exactly this.
std::string inputs_of(const Plan& plan) {
  return resolved_text(plan) + plan.weather + (plan.acts ? scenarios::write_acts(*plan.acts) : "");
}

/// Says how a run ended early; true when it did not.
bool reached_end(const RunRecord& record, const std::string& label, const fs::path& out) {
  const auto& end = record.end;
  if (end.reason == plant::RunEnd::reached_end) return true;
  print_error(fmt::format("{} not completed: {} at {:.3f} s{}{}; what was recorded is in {}\n", label,
                          plant::word(end.reason), end.time, end.who.empty() ? "" : ": ", end.who,
                          out.string()));
  return false;
}

/// What the reader of the weather skipped or filled.
std::string notes_of(const RunRecord& record) {
  std::string text;
  for (std::size_t i = 0; i < record.notes.size() && i < kNotesShown; ++i)
    text += fmt::format("  note             {}\n", record.notes[i]);
  if (record.notes.size() > kNotesShown)
    text += fmt::format("  notes            {} more in summary.json\n", record.notes.size() - kNotesShown);
  return text;
}

bool draw(const Plan& plan, const RunRequest& request, const RunFolder& out, const std::string& summary,
          const std::string& compared_summary, const std::string& timing) {
  const bool with_compared = !compared_summary.empty();
  bool well = true;
  if (is_long(plan.main)) {
    const ctl_params& controller = plan.main.scenario.controller;
    const Outcome sols =
        write_sols_page(out.sols.string(),
                        {plan.main.scenario.title, plan.main.scenario.purpose, law_word(controller.law),
                         controller, plan.main.plant.parameters.cell.area},
                        out.sols_page.string());
    if (!sols) print_error(sols.problem + "\n");
    well = static_cast<bool>(sols);
  }
  ReportInfo info;
  info.title = plan.main.scenario.title;
  info.purpose = plan.main.scenario.purpose;
  info.timing = timing;
  info.machine = machine_text(plan.main.plant.parameters);
  if (with_compared) {
    info.other_name = request.compare + " law";
    info.comparison_page = out.comparison.filename().string();
  }
  const auto other = with_compared ? std::optional(out.compared_trace.string()) : std::nullopt;
  const Outcome drawn = write_report(out.trace.string(), summary, info, out.report.string(), other);
  if (!drawn) print_error(drawn.problem + "\n");
  if (!with_compared) return drawn && well;
  Outcome compared;
  const std::string law = read_summary(summary, compared.problem).value_or(SummaryView{}).law;
  const auto a = read_compared("this run, " + law, out.trace.string(), summary, compared.problem);
  const auto b =
      read_compared(info.other_name, out.compared_trace.string(), compared_summary, compared.problem);
  if (a && b) compared = write_comparison(*a, *b, compare(*a, *b), out.comparison.string());
  if (!compared) print_error(compared.problem + "\n");
  return drawn && compared && well;
}

int dispatch(const Plan& plan, const RunRequest& request, const RunFolder& out) {
  if (!write_scenario(plan, out)) return kNotCompleted;
  const auto trace = [&](const fs::path& path) { return request.record ? path.string() : std::string{}; };
  const bool tells = !request.quiet && !request.json;

  Watcher watcher(plan.main.scenario);
  std::optional<Pacer> pacer;
  if (request.speed > 0.0) pacer.emplace(plan.main.scenario.period, request.speed);
  RunFiles files{trace(out.trace), {}, {}, {}};
  if (request.record && is_long(plan.main)) files.sols = out.sols.string();
  if (is_long(plan.main) && !plan.compared && !pacer) files.checkpoint = out.checkpoint;
  files.inputs = inputs_of(plan);
  if (plan.go_on) files.go_on = &*plan.go_on;
  RunRecord record = recorded_run(plan.main, plan.acts, plan.controllers, files, {"run", request.quiet},
                                  &watcher, pacer ? &*pacer : nullptr);
  const std::vector<RequirementResult> judged = watcher.judge();
  watcher.release();
  record.controlled_by = foreign_controllers(request.links);
  const std::string summary = summary_json(plan.main, record, judged);
  bool well = write_whole(out.summary, summary);
  std::string timing, timing_lines;
  if (pacer) {
    pacer->timing().lost = plan.controllers.repeated();
    timing = timing_json(pacer->timing());
    timing_lines = timing_text(pacer->timing());
    well = write_whole(out.timing, timing) && well;
  }
  std::string compared_summary;  // empty: there is no second run to show
  if (plan.compared && !stop_wanted()) {
    Watcher other_watcher(plan.compared->scenario);
    const RunRecord other =
        recorded_run(*plan.compared, plan.acts, {}, {trace(out.compared_trace), {}, {}, {}},
                     {"compared run", request.quiet}, &other_watcher);
    const std::vector<RequirementResult> verdicts = other_watcher.judge();
    other_watcher.release();
    const std::string text = summary_json(*plan.compared, other, verdicts);
    if (request.record && other.ticks > 0) compared_summary = text;
    well = write_whole(out.compared_summary, text) && well;
    if (tells) print(with_coloured_verdicts(summary_text(*plan.compared, other) + judged_text(verdicts)));
    well = reached_end(other, "compared run", out.folder) && well;
  } else if (plan.compared) {
    print_error("compared run not completed: interrupted before it began\n");
    well = false;
  }
  if (request.record) well = draw(plan, request, out, summary, compared_summary, timing) && well;
  if (request.json) print(summary);
  if (tells)
    print(with_coloured_verdicts(fmt::format("{}{}{}{}  written to       {}\n",
                                             summary_text(plan.main, record), judged_text(judged),
                                             notes_of(record), timing_lines, out.folder.string())));
  well = reached_end(record, "run", out.folder) && well;
  if (well || !stopped_for_now(record.end.reason) || !fs::exists(out.checkpoint)) forget_checkpoint(out);
  if (!well) return kNotCompleted;
  return all_hold(judged) ? kSuccess : kViolated;
}

/// With --resume: the checkpoint in the folder, which must be of this run.
std::vector<scenarios::Problem> find_checkpoint(const RunRequest& request, Plan& plan, const RunFolder& out,
                                                FolderLock& lock) {
  const auto refused = [&](const fs::path& path, std::string why) {
    return std::vector<scenarios::Problem>{{"--resume", 1, 1, path.string(), std::move(why)}};
  };
  std::error_code error;
  if (!all_inside(request.links))
    return refused(joined(request.links), "a run with a controller outside this program has no checkpoint");
  if (!fs::is_directory(out.folder, error)) return refused(out.folder, "there is no such folder");
  if (auto problems = open_folder(out.folder, lock); !problems.empty()) return problems;
  if (!fs::exists(out.checkpoint, error))
    return refused(out.folder,
                   fs::exists(out.summary, error)
                       ? "the run there has ended; there is nothing to go on with"
                       : "holds no checkpoint: a run of 5 sols and more has one from its first sol on; "
                         "start it again with --force");
  auto read = read_checkpoint(out.checkpoint, inputs_of(plan), request.record);
  if (!read.problem.empty()) return refused(out.checkpoint, read.problem);
  plan.go_on = std::move(read.checkpoint);
  return {};
}

}  // namespace

int run_verb(const RunRequest& request) {
  Plan plan;
  if (const auto problems = read_plan(request, plan); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  if (!plan.main.weather_file.empty()) {
    const Surroundings around = surroundings(plan.main);
    for (const auto& problem : around.problems) print_error(problem + "\n");
    if (!around.problems.empty()) return kBadInput;
    plan.weather = content_of(plan.main.weather_file).value_or("");
  }
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");
  const RunFolder out{request.out.empty() ? fs::path("runs") / fs::path(request.scenario).stem()
                                          : fs::path(request.out)};
  listen_for_stop();
  FolderLock lock;
  if (const auto problems =
          request.resume ? find_checkpoint(request, plan, out, lock) : prepare(out, lock, request.force);
      !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  return dispatch(plan, request, out);
}

std::vector<scenarios::Problem> problems_of_home() {
  const fs::path home = home_folder();
  std::error_code error;
  if (fs::is_directory(home / "plant-model" / "plants", error)) return {};
  return {{std::getenv("DUSKLINE_HOME") != nullptr ? "DUSKLINE_HOME" : "installation", 1, 1, home.string(),
           "has no folder plant-model/plants; DUSKLINE_HOME names the folder that holds plant-model and "
           "scenarios"}};
}

namespace {

/// The scenarios of the library, wherever in it they stand, the exercises and the long runs.
std::vector<fs::path> shipped_scenarios() {
  const fs::path scenarios = fs::path(home_folder()) / "scenarios";
  std::vector<fs::path> found;
  const auto add = [&found](auto it) {
    for (std::error_code error; it != decltype(it){}; it.increment(error))
      if (it->path().extension() == ".yaml") found.push_back(it->path());
  };
  std::error_code error;
  add(fs::recursive_directory_iterator(scenarios / "library", error));
  for (const char* folder : {"exercises", "long"}) add(fs::directory_iterator(scenarios / folder, error));
  std::sort(found.begin(), found.end());
  return found;
}

}  // namespace

std::string scenario_file(const std::string& given) {
  std::error_code error;
  if (fs::exists(given, error)) return given;
  const fs::path home = home_folder(), library = home / "scenarios" / "library";
  for (const fs::path& path : {library / given, library / (given + ".yaml"), home / given})
    if (fs::exists(path, error)) return path.string();
  // the name alone, wherever it stands
  std::vector<fs::path> found;
  if (fs::path(given).filename() == given)
    for (const fs::path& path : shipped_scenarios())
      if (path.stem() == given || path.filename() == given) found.push_back(path);
  return found.size() == 1 ? found.front().string() : given;
}

std::vector<scenarios::Problem> problems_of_scenario_name(const std::string& given) {
  std::error_code error;
  if (given.empty() || fs::exists(scenario_file(given), error)) return {};
  std::vector<std::string> names;
  for (const fs::path& path : shipped_scenarios()) names.push_back(path.stem().string());
  return {{given, 1, 1, "",
           "no such file, scenario or exercise" +
               scenarios::did_you_mean(fs::path(given).stem().string(), names)}};
}

std::string home_folder() {
  if (const char* home = std::getenv("DUSKLINE_HOME"); home != nullptr && *home != '\0') return home;
  std::error_code error;
  fs::path program = fs::read_symlink("/proc/self/exe", error);
  if (error) {  // no /proc is mounted: the name by which it was started
    const auto* started =
        reinterpret_cast<const char*>(getauxval(AT_EXECFN));  // NOLINT(performance-no-int-to-ptr)
    program = fs::canonical(started == nullptr ? "" : started, error);
  }
  const fs::path installed = program.parent_path().parent_path() / "share" / "duskline";
  if (!error && fs::is_directory(installed / "plant-model" / "plants", error)) return installed.string();
  return DUSKLINE_SOURCE_DIR;
}

}  // namespace duskline::harness
