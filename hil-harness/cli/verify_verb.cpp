#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>
#include <thread>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/table.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/verify/baseline.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr const char* kAccepted = "accepted.json";

using Accepted = std::optional<nlohmann::ordered_json>;

Table table_of(const std::vector<ScenarioResult>& all) {
  Table t{{"verdict", "scenario", "requirement", "robustness", "at"}, {}};
  for (const ScenarioResult& one : all) {
    if (!one.done || one.refused()) {
      t.rows.push_back({{one.done ? "refused" : "not run", one.name, "", "-", ""}});
      continue;
    }
    if (!one.completed())
      t.rows.push_back({{"cut short", one.name, std::string(plant::word(one.record.end.reason)), "-",
                         fmt::format("{:.0f} s", one.record.end.time)}});
    else if (one.judged.empty())
      t.rows.push_back({{"ran", one.name, "no requirement is stated", "-", ""}});
    for (const RequirementResult& j : one.judged)
      t.rows.push_back({{std::string(word(j.verdict.outcome)), one.name, j.name, robustness_words(j.verdict),
                         fmt::format("{:.0f} s", j.verdict.time)},
                        {{"must", j.must}}});
  }
  return t;
}

Table failures_of(const Table& all) {
  const std::set<std::string> other{"holds", "untested", "ran", "not run"};
  Table t{all.heads, {}};
  for (const auto& row : all.rows)
    if (!other.contains(row.cells[0])) t.rows.push_back(row);
  return t;
}

/// Where the run of each scenario is kept: below `out`, whatever its name holds, and each in a folder of its own.
std::vector<fs::path> kept_folders(const std::vector<ScenarioResult>& all, const fs::path& out) {
  std::vector<fs::path> folders;
  std::set<fs::path> taken;
  for (const ScenarioResult& one : all) {
    fs::path inside;
    for (const fs::path& part : fs::path(one.name).replace_extension().relative_path())
      if (part != "." && part != "..") inside /= part;
    fs::path folder = out / inside;
    for (int n = 2; !taken.insert(folder).second; ++n)
      folder = out / fmt::format("{}-{}", inside.string(), n);
    folders.push_back(std::move(folder));
  }
  return folders;
}

/// Runs what failed once more, with trace and report; the requirement that broke is marked in it. False when that was
/// interrupted.
bool keep_failures(const std::vector<ScenarioResult>& all, const VerifyRequest& request) {
  const auto folders =
      kept_folders(all, request.out.empty() ? fs::path("runs") / "verify" : fs::path(request.out));
  for (std::size_t i = 0; i < all.size() && !stop_wanted(); ++i) {
    const ScenarioResult& one = all[i];
    if (!one.done || one.passed() || one.refused()) continue;
    RunRequest run;
    run.scenario = one.path.string();
    run.settings = request.settings;
    run.controller = request.controller;
    run.out = folders[i].string();
    run.quiet = run.force = true;
    const int code = run_verb(run);
    // a run that was cut short before is so again, and is whole as far as it goes
    std::error_code error;
    const bool kept =
        code == kSuccess || code == kViolated ||
        (code == kNotCompleted && !one.completed() && fs::exists(RunFolder(run.out).report, error));
    if (kept && !request.quiet && !request.json) print(fmt::format("  kept             {}\n", run.out));
  }
  if (stop_wanted()) print_error("not completed: interrupted before all that failed was kept\n");
  return !stop_wanted();
}

fs::path accepted_file(const VerifyRequest& request) {
  return fs::path(request.baseline) / kAccepted;
}

/// Reads what was accepted before; problems when it is damaged, or when accepting would drop a part of it.
std::vector<scenarios::Problem> read_baseline(const std::vector<ScenarioResult>& all,
                                              const VerifyRequest& request, Accepted& accepted) {
  const std::string file = accepted_file(request).string();
  std::error_code error;
  const bool absent = !fs::exists(file, error) && !error;
  if (request.baseline.empty() || absent || (request.accept && request.force)) return {};
  const auto text = content_of(file);
  if (!text) return {{file, 1, 1, "", "cannot be read"}};
  auto read = read_accepted(*text, file);
  if (!read) return read.problems;
  accepted = std::move(*read.value);
  const auto dropped = request.accept ? not_among(all, *accepted) : std::vector<std::string>{};
  if (dropped.empty()) return {};
  return {{file, 1, 1, "",
           fmt::format("holds {} that this check does not judge, first of them {}; --force drops them",
                       dropped.size() == 1 ? "a scenario" : fmt::format("{} scenarios", dropped.size()),
                       dropped.front())}};
}

/// Makes today's results the accepted ones, all of them or none; false when that is not done.
bool accept(const std::vector<ScenarioResult>& all, const VerifyRequest& request) {
  const fs::path file = accepted_file(request);
  const auto unfinished = [](const ScenarioResult& one) { return !one.completed(); };
  if (const auto count = std::count_if(all.begin(), all.end(), unfinished); count > 0) {
    print_error(fmt::format(
        "{}: nothing is accepted: {} of {} scenarios did not reach their end, first of them {}\n",
        file.string(), count, all.size(), std::find_if(all.begin(), all.end(), unfinished)->name));
    return false;
  }
  std::error_code error;
  fs::create_directories(request.baseline, error);
  if (!write_whole(file, accepted_json(all))) return false;
  if (!request.quiet && !request.json) print(fmt::format("  accepted         {}\n", file.string()));
  return true;
}

/// Says what moved (as JSON it stands in the table); false when something has no accepted result.
bool against_baseline(const Moved& moved, const Accepted& accepted, const VerifyRequest& request) {
  if (!accepted) {
    print_error(fmt::format("{}:1:1: there is no accepted result; --accept makes today's the accepted one\n",
                            accepted_file(request).string()));
    return false;
  }
  for (const auto& line : moved.missing) print_error(fmt::format("not accepted yet: {}\n", line));
  if (!request.quiet && !request.json) {
    for (const Move& m : moved.moves)
      print(fmt::format("  moved            {}: {}: {}\n", m.scenario, m.name, m.change));
    if (moved.moves.empty() && moved.missing.empty()) print("  moved            nothing\n");
  }
  return moved.missing.empty();
}

/// What became of all scenarios, in numbers.
struct Tally {
  std::size_t requirements = 0, broken = 0, refused = 0, cut_short = 0, not_run = 0;
};

Tally tally_of(const std::vector<ScenarioResult>& all) {
  Tally t;
  for (const ScenarioResult& one : all) {
    t.not_run += !one.done;
    t.refused += one.refused();
    t.cut_short += one.done && !one.refused() && !one.completed();
    t.requirements += one.judged.size();
    for (const RequirementResult& j : one.judged) t.broken += !all_hold({j});
  }
  return t;
}

void tell(const std::vector<ScenarioResult>& all, const Tally& tally, const Moved& moved,
          const VerifyRequest& request) {
  for (const ScenarioResult& one : all) print_error(scenarios::to_text(one.problems));
  Table table = table_of(all);
  if (request.json) {
    for (const Move& m : moved.moves)
      table.rows.push_back({{"moved", m.scenario, m.name, m.change, ""}, m.numbers});
    print(to_json(table));
  } else if (!request.quiet) {
    print(to_text(table));
    print(fmt::format("{} scenarios, {} requirements, {} not met{}\n", all.size(), tally.requirements,
                      tally.broken,
                      tally.not_run == 0 ? "" : fmt::format(", {} scenarios not run", tally.not_run)));
  } else if (const Table failures = failures_of(table); !failures.rows.empty()) {
    print(to_text(failures));
  }
  if (tally.not_run > 0)
    print_error(fmt::format("not completed: interrupted, {} scenarios not run\n", tally.not_run));
}

/// The results for other programs; false when a file cannot be written.
bool write_results(const std::vector<ScenarioResult>& all, const VerifyRequest& request) {
  const bool junit = request.junit.empty() || write_whole(request.junit, junit_xml(all));
  return (request.tap.empty() || write_whole(request.tap, tap_text(all))) && junit;
}

bool may_write(const std::string& path, bool force) {
  std::error_code error;
  if (path.empty() || force || !fs::exists(path, error)) return true;
  print_error(fmt::format("{}:1:1: exists already; --force overwrites it\n", path));
  return false;
}

}  // namespace

int verify_verb(const VerifyRequest& request) {
  std::vector<scenarios::Problem> problems;
  std::vector<ScenarioResult> all = find_scenarios(request.paths, problems);
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  if (!may_write(request.junit, request.force) || !may_write(request.tap, request.force)) return kBadInput;
  Accepted accepted;
  problems = read_baseline(all, request, accepted);
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  listen_for_stop();
  VerifyOptions options;
  options.plants = fs::path(home_folder()) / "plant-model" / "plants";
  options.settings = request.settings;
  options.controller = request.controller;
  options.threads = request.jobs > 0 ? static_cast<unsigned>(std::min<std::uint64_t>(request.jobs, 256))
                                     : std::max(1U, std::thread::hardware_concurrency());
  options.interrupted = &stop_wanted();
  Progress progress("verify", request.quiet);
  options.progress = [&](double share) { progress.show(share); };
  check_all(all, options);
  progress.clear();

  const Tally tally = tally_of(all);
  const Moved moved = accepted && !request.accept ? compare(all, *accepted) : Moved{};
  tell(all, tally, moved, request);
  bool well = write_results(all, request);
  bool violated = tally.broken > 0;
  if (request.accept)
    well = accept(all, request) && well;
  else if (!request.baseline.empty() && !against_baseline(moved, accepted, request))
    violated = true;
  if (request.record && tally.not_run == 0) well = keep_failures(all, request) && well;
  if (tally.not_run > 0) return kNotCompleted;
  if (tally.refused > 0) return kBadInput;
  if (tally.cut_short > 0 || !well) return kNotCompleted;
  return violated ? kViolated : kSuccess;
}

}  // namespace duskline::harness
