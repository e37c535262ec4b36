#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <thread>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/table.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/verify/verify.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr const char* kAccepted = "accepted.json";

Table table_of(const std::vector<Checked>& all) {
  Table t{{"verdict", "scenario", "requirement", "robustness", "at"}, {}};
  for (const Checked& one : all) {
    if (!one.problems.empty()) {
      t.rows.push_back({{"refused", one.name, "", "-", ""}});
      continue;
    }
    if (!one.completed())
      t.rows.push_back({{"cut short", one.name, std::string(plant::word(one.record.end.reason)), "-",
                         fmt::format("{:.0f} s", one.record.end.time)}});
    else if (one.judged.empty())
      t.rows.push_back({{"ran", one.name, "no requirement is stated", "-", ""}});
    for (const Judged& j : one.judged)
      t.rows.push_back({{std::string(word(j.verdict.ruling)), one.name, j.name, robustness_words(j.verdict),
                         fmt::format("{:.0f} s", j.verdict.time)},
                        {{"must", j.must}}});
  }
  return t;
}

Table failures_of(const Table& all) {
  Table t{all.heads, {}};
  for (const auto& row : all.rows)
    if (row.cells[0] != "holds" && row.cells[0] != "untested" && row.cells[0] != "ran") t.rows.push_back(row);
  return t;
}

/// Runs what failed once more, with trace and report; the requirement that broke is marked in it.
void keep_failures(const std::vector<Checked>& all, const VerifyRequest& request) {
  const fs::path out = request.out.empty() ? fs::path("runs") / "verify" : fs::path(request.out);
  for (const Checked& one : all) {
    if (one.passed() || !one.problems.empty() || stop_wanted()) continue;
    RunRequest run;
    run.scenario = one.path.string();
    run.settings = request.settings;
    run.controller = request.controller;
    fs::path folder = out / fs::path(one.name).relative_path();
    run.out = folder.replace_extension().string();
    run.quiet = run.force = true;
    run_verb(run);
    if (!request.quiet && !request.json) say(fmt::format("  kept             {}\n", run.out));
  }
}

/// Compares with the accepted results, or makes today's the accepted ones; true when all is well.
bool against_baseline(const std::vector<Checked>& all, const VerifyRequest& request) {
  const fs::path file = fs::path(request.baseline) / kAccepted;
  const bool tells = !request.quiet && !request.json;
  if (request.accept) {
    std::error_code error;
    fs::create_directories(request.baseline, error);
    if (!write_whole(file, baseline_json(all))) return false;
    if (tells) say(fmt::format("  accepted         {}\n", file.string()));
    return true;
  }
  const auto before = content_of(file);
  if (!before) {
    complain(fmt::format("{}:1:1: there is no accepted result; --accept makes today's the accepted one\n",
                         file.string()));
    return false;
  }
  const Moved moved = compare(all, *before);
  if (!moved.problem.empty()) {
    complain(fmt::format("{}:1:1: {}\n", file.string(), moved.problem));
    return false;
  }
  for (const auto& line : moved.missing) complain(fmt::format("not accepted yet: {}\n", line));
  if (!request.json)
    for (const auto& line : moved.lines) say(fmt::format("  moved            {}\n", line));
  if (tells && moved.lines.empty() && moved.missing.empty()) say("  moved            nothing\n");
  return moved.missing.empty();
}

bool may_write(const std::string& path, bool force) {
  std::error_code error;
  if (path.empty() || force || !fs::exists(path, error)) return true;
  complain(fmt::format("{}:1:1: exists already; --force overwrites it\n", path));
  return false;
}

}  // namespace

int verify_verb(const VerifyRequest& request) {
  std::vector<scenarios::Problem> problems;
  std::vector<Checked> all = find_scenarios(request.paths, problems);
  if (!problems.empty()) {
    complain(scenarios::to_text(problems));
    return kBadInput;
  }
  if (!may_write(request.junit, request.force) || !may_write(request.tap, request.force)) return kBadInput;
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
  const bool whole = check_all(all, options);
  progress.clear();
  if (!whole) {
    complain("not completed: interrupted\n");
    return kNotCompleted;
  }

  bool refused = false, violated = false, cut_short = false;
  std::size_t requirements = 0, broken = 0;
  for (const Checked& one : all) {
    complain(scenarios::to_text(one.problems));
    refused = refused || !one.problems.empty();
    cut_short = cut_short || (one.problems.empty() && !one.completed());
    for (const Judged& j : one.judged) {
      ++requirements;
      if (!all_hold({j})) ++broken;
    }
  }
  violated = broken > 0;
  const Table table = table_of(all);
  if (request.json)
    say(to_json(table));
  else if (!request.quiet)
    say(to_text(table));
  else if (const Table failures = failures_of(table); !failures.rows.empty())
    say(to_text(failures));
  if (!request.quiet && !request.json)
    say(fmt::format("{} scenarios, {} requirements, {} not met\n", all.size(), requirements, broken));
  bool well = (request.junit.empty() || write_whole(request.junit, junit_xml(all))) &&
              (request.tap.empty() || write_whole(request.tap, tap_text(all)));
  if (request.record) keep_failures(all, request);
  if (!request.baseline.empty() && !against_baseline(all, request)) violated = true;
  if (refused) return kBadInput;
  if (cut_short || !well) return kNotCompleted;
  return violated ? kViolated : kWell;
}

}  // namespace duskline::harness
