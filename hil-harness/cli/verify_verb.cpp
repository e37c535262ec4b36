#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>
#include <thread>

#include "hil-harness/cli/kept_runs.hpp"
#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/table.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/links/controllers.hpp"
#include "hil-harness/verify/accepted.hpp"
#include "scenarios/reader/suggest.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr const char* kAccepted = "accepted.json";

std::string counted(std::size_t n, std::string_view noun) {
  return fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s");
}

/// A scenario that has no verdicts: why, in a word or two; empty: it has.
std::string_view without_verdict(const ScenarioResult& one) {
  return !one.done            ? "not run"
         : one.refused()      ? "refused"
         : !one.completed()   ? "not completed"
         : one.judged.empty() ? "no requirements"
                              : "";
}

Table table_of(const std::vector<ScenarioResult>& all) {
  Table t{{"verdict", "scenario", "requirement", "margin", "at"}, {}};
  for (const ScenarioResult& one : all) {
    if (const auto why = without_verdict(one); !why.empty()) {
      const bool stopped = one.done && !one.refused() && !one.completed();
      t.rows.push_back(
          {{std::string(why), one.name, stopped ? std::string(plant::word(one.record.end.reason)) : "", "-",
            stopped ? fmt::format("{:.0f} s", one.record.end.time) : ""}});
    }
    for (const RequirementResult& j : one.judged)
      t.rows.push_back({{std::string(word(j.verdict.outcome)), one.name, j.name, margin_words(j.verdict),
                         std::isfinite(j.verdict.margin) ? fmt::format("{:.0f} s", j.verdict.time) : ""}});
  }
  return t;
}

Table failures_of(const Table& all) {
  const std::set<std::string> other{"satisfied", "not exercised", "no requirements", "not run"};
  Table t{all.heads, {}};
  for (const auto& row : all.rows)
    if (!other.contains(row.cells[0])) t.rows.push_back(row);
  return t;
}

/// One object for each row of the table and each change; numbers are numbers, with their units beside them.
std::string json_of(const std::vector<ScenarioResult>& all, const AcceptedComparison& against) {
  using Json = nlohmann::ordered_json;
  const auto number = [](const std::optional<double>& v) {
    return v && std::isfinite(*v) ? Json(*v) : Json(nullptr);
  };
  Json rows = Json::array();
  for (const ScenarioResult& one : all) {
    if (const auto why = without_verdict(one); !why.empty()) {
      Json row{{"verdict", why}, {"scenario", one.name}};
      for (const auto& problem : one.problems) row["problems"].push_back(scenarios::to_text(problem));
      if (one.done && !one.refused() && !one.completed()) {
        row["reason"] = plant::word(one.record.end.reason);
        row["time"] = one.record.end.time;
      }
      rows.push_back(std::move(row));
    }
    for (const RequirementResult& j : one.judged) {
      const Shown margin = shown_margin(j.verdict);
      Json row{{"verdict", word(j.verdict.outcome)},
               {"scenario", one.name},
               {"requirement", j.name},
               {"must", j.must},
               {"margin", number(margin.value)},
               {"unit", margin.unit},
               {"time", j.verdict.time}};
      if (j.verdict.outcome == scenarios::Outcome::violated)
        row["violated_from"] = j.verdict.violated_from, row["violated_to"] = j.verdict.violated_to;
      rows.push_back(std::move(row));
    }
  }
  for (const Change& c : against.changes)
    rows.push_back({{"verdict", c.fails ? "worse than accepted" : "changed"},
                    {"scenario", c.scenario},
                    {c.now_verdict.empty() ? "key_figure" : "requirement", c.name},
                    {"was", number(c.was)},
                    {"now", number(c.now)},
                    {"unit", c.unit},
                    {"allowed", c.allowed}});
  for (const std::string& name : against.missing)
    rows.push_back({{"verdict", "not accepted yet"}, {"scenario", name}});
  for (const std::string& name : against.gone)
    rows.push_back({{"verdict", "accepted but gone"}, {"scenario", name}});
  return rows.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

/// Reads what was accepted before: nothing when there is no such file or it is to be written anew.
scenarios::Result<AcceptedResults> accepted_before(const VerifyRequest& request) {
  const fs::path folder = request.accepted, file = folder / kAccepted;
  std::error_code error;
  const bool absent = !fs::exists(file, error) && !error;
  if (request.accepted.empty() || absent || (request.update_accepted && request.force)) return {};
  const auto text = content_of(file);
  if (!text) return {std::nullopt, {{file.string(), 1, 1, "", "cannot be read"}}};
  return read_accepted(*text, folder);
}

/// Accepts the current results, all of them or none; false when that is not done.
bool accept(const std::vector<ScenarioResult>& all, std::optional<AcceptedResults> accepted,
            const VerifyRequest& request) {
  const fs::path folder = request.accepted, file = folder / kAccepted;
  const auto unfinished = [](const ScenarioResult& one) { return !one.completed(); };
  if (const auto count = std::count_if(all.begin(), all.end(), unfinished); count > 0) {
    print_error(fmt::format(
        "{}: nothing is accepted: {} of {} scenarios did not reach their end, first of them {}\n",
        file.string(), count, all.size(), std::find_if(all.begin(), all.end(), unfinished)->name));
    return false;
  }
  if (!accepted) accepted.emplace().root = common_folder(all);
  const auto dropped = accept_results(all, *accepted);
  std::error_code error;
  fs::create_directories(folder, error);
  if (!write_whole(file, accepted_json(*accepted, folder))) return false;
  if (request.quiet || request.json) return true;
  print(fmt::format("  accepted         {}: {}\n", file.string(), counted(all.size(), "scenario")));
  for (const std::string& name : dropped) print(fmt::format("  dropped          {}\n", name));
  return true;
}

/// Says what has changed (as JSON it stands among the rows).
void tell_changes(const AcceptedComparison& against, const VerifyRequest& request) {
  for (const Change& c : against.changes)
    if (c.fails) print_error(fmt::format("worse than accepted: {}: {}: {}\n", c.scenario, c.name, c.text()));
  for (const std::string& name : against.missing) print_error(fmt::format("not accepted yet: {}\n", name));
  for (const std::string& name : against.gone) print_error(fmt::format("accepted but gone: {}\n", name));
  if (request.quiet || request.json) return;
  for (const Change& c : against.changes)
    if (!c.fails) print(fmt::format("  changed          {}: {}: {}\n", c.scenario, c.name, c.text()));
  if (against.changes.empty() && !against.fails()) print("  changed          nothing\n");
}

/// What became of all scenarios, in numbers.
struct Tally {
  std::size_t outcomes[4] = {}, refused = 0, not_completed = 0, not_run = 0;

  explicit Tally(const std::vector<ScenarioResult>& all) {
    for (const ScenarioResult& one : all) {
      not_run += !one.done;
      refused += one.refused();
      not_completed += one.done && !one.refused() && !one.completed();
      for (const RequirementResult& j : one.judged) ++outcomes[static_cast<std::size_t>(j.verdict.outcome)];
    }
  }
  std::size_t of(scenarios::Outcome outcome) const { return outcomes[static_cast<std::size_t>(outcome)]; }
  bool violated() const { return of(scenarios::Outcome::violated) + of(scenarios::Outcome::undecided) > 0; }
  std::string text(std::size_t scenario_count) const {
    using scenarios::Outcome;
    std::size_t sum = 0;
    for (const std::size_t n : outcomes) sum += n;
    std::string line =
        fmt::format("{}, {}", counted(scenario_count, "scenario"), counted(sum, "requirement"));
    const char* sign = ": ";
    for (const Outcome outcome :
         {Outcome::satisfied, Outcome::violated, Outcome::undecided, Outcome::not_exercised}) {
      if (of(outcome) == 0) continue;
      line += fmt::format("{}{} {}", sign, of(outcome), word(outcome));
      sign = ", ";
    }
    for (const auto& [n, what] : {std::pair{refused, "refused"}, std::pair{not_completed, "not completed"},
                                  std::pair{not_run, "not run"}})
      if (n > 0) line += fmt::format("; {} {}", counted(n, "scenario"), what);
    return line + "\n";
  }
};

void tell(const std::vector<ScenarioResult>& all, const Tally& tally, const AcceptedComparison& against,
          const VerifyRequest& request) {
  for (const ScenarioResult& one : all) print_error(scenarios::to_text(one.problems));
  const Table table = table_of(all);
  if (request.json)
    print(json_of(all, against));
  else if (!request.quiet)
    print(with_coloured_verdicts(to_text(table)) + tally.text(all.size()));
  else if (const Table failures = failures_of(table); !failures.rows.empty())
    print(with_coloured_verdicts(to_text(failures)));
  if (tally.not_run > 0)
    print_error(fmt::format("not completed: interrupted, {} not run\n", counted(tally.not_run, "scenario")));
}

/// The results for other programs; false when a file cannot be written.
bool write_results(const std::vector<ScenarioResult>& all, const VerifyRequest& request) {
  const bool junit = request.junit.empty() || write_whole(request.junit, junit_xml(all));
  return (request.tap.empty() || write_whole(request.tap, tap_text(all))) && junit;
}

/// Looks before anything is run whether what is asked for can be written, and clears the place of what is kept;
/// kSuccess: all is well.
int prepare_files(const std::vector<ScenarioResult>& all, const VerifyRequest& request) {
  std::error_code error;
  int code = kSuccess;
  for (const std::string& path : {request.junit, request.tap}) {
    if (path.empty()) continue;
    const bool file = fs::is_regular_file(path, error) || fs::is_symlink(path, error);
    if (file && fs::is_regular_file(path, error) && !request.force) {
      print_error(fmt::format("{}:1:1: exists already; --force overwrites it\n", scenarios::printable(path)));
      code = kBadInput;
    } else if (const std::string why = cannot_write(path); !why.empty()) {
      print_error(fmt::format("{}: cannot be written: {}\n", scenarios::printable(path), why));
      if (code == kSuccess) code = kNotCompleted;
    }
  }
  if (request.update_accepted) {
    const fs::path file = fs::path(request.accepted) / kAccepted;
    const bool made = !fs::exists(request.accepted, error);
    fs::create_directories(request.accepted, error);
    const std::string why = cannot_write(file);
    if (!why.empty()) {
      print_error(fmt::format("{}: cannot be written: {}\n", scenarios::printable(file.string()), why));
      if (code == kSuccess) code = kNotCompleted;
    }
    if (made) fs::remove(request.accepted, error);  // stays away until there is something to put in
  }
  if (!request.record || code != kSuccess) return code;
  return clear_kept(all, request);
}

/// What a scenario can be chosen by: its folder, its site, the faults that it injects.
std::vector<std::string> tags_of(const ScenarioResult& one, const scenarios::Scenario& s) {
  std::vector<std::string> tags{fs::absolute(one.path).parent_path().filename().string(), s.site};
  for (const auto& fault : s.faults) tags.push_back(fault.fault);
  return tags;
}

/// Leaves the scenarios that have every tag asked for, and those that cannot be read.
std::vector<scenarios::Problem> choose(std::vector<ScenarioResult>& all, const VerifyRequest& request,
                                       const fs::path& plants) {
  if (request.tags.empty()) return {};
  std::vector<std::string> known;
  std::erase_if(all, [&](const ScenarioResult& one) {
    const auto read = scenarios::read_case(one.path, plants, request.settings);
    if (!read) return false;
    const auto tags = tags_of(one, read.value->scenario);
    known.insert(known.end(), tags.begin(), tags.end());
    return !std::all_of(request.tags.begin(), request.tags.end(), [&](const std::string& tag) {
      return std::find(tags.begin(), tags.end(), tag) != tags.end();
    });
  });
  std::vector<scenarios::Problem> problems;
  for (const std::string& tag : request.tags)
    if (std::find(known.begin(), known.end(), tag) == known.end())
      problems.push_back(
          {"--tag", 1, 1, tag, "no scenario has this tag" + scenarios::did_you_mean(tag, known)});
  if (problems.empty() && all.empty())
    problems.push_back({"--tag", 1, 1, request.tags.front(), "no scenario has all of these tags"});
  return problems;
}

/// Only reads the files.
int check_verb(std::vector<ScenarioResult>& all, VerifyOptions options, const VerifyRequest& request) {
  options.only_read = true;
  listen_for_stop();
  options.interrupted = &stop_wanted();
  check_all(all, options);
  if (stop_wanted()) {
    print_error("not completed: interrupted before all were checked\n");
    return kNotCompleted;
  }
  std::size_t wrong = 0;
  for (const ScenarioResult& one : all) {
    wrong += one.refused();
    print_error(scenarios::to_text(one.problems));
  }
  if (request.json) {
    print(json_of(all, {}));
  } else if (!request.quiet) {
    print(wrong == 0 ? fmt::format("{} checked, nothing wrong\n", counted(all.size(), "scenario"))
                     : fmt::format("{} checked, {} refused\n", counted(all.size(), "scenario"), wrong));
  }
  return wrong == 0 ? kSuccess : kBadInput;
}

}  // namespace

int verify_verb(const VerifyRequest& given) {
  VerifyRequest request = given;
  std::vector<scenarios::Problem> problems;
  for (std::string& path : request.paths) {
    const auto wrong = problems_of_scenario_name(path);
    problems.insert(problems.end(), wrong.begin(), wrong.end());
    path = scenario_file(path);
  }
  std::vector<ScenarioResult> all;
  if (problems.empty()) all = find_scenarios(request.paths, problems);
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  VerifyOptions options;
  options.plants = fs::path(home_folder()) / "plant-model" / "plants";
  if (const auto wrong = choose(all, request, options.plants); !wrong.empty()) {
    print_error(scenarios::to_text(wrong));
    return kBadInput;
  }
  options.settings = request.settings;
  options.links = request.links;
  options.threads = request.jobs > 0 ? static_cast<unsigned>(std::min<std::uint64_t>(request.jobs, 256))
                                     : std::max(1U, std::thread::hardware_concurrency());
  if (one_at_a_time(request.links)) options.threads = 1;
  if (request.check) return check_verb(all, options, request);
  auto accepted = accepted_before(request);
  if (!accepted.problems.empty()) {
    print_error(scenarios::to_text(accepted.problems));
    return kBadInput;
  }
  const bool compares = !request.accepted.empty() && !request.update_accepted;
  if (compares && !accepted) {
    print_error(
        fmt::format("{}:1:1: there are no accepted results; --update-accepted accepts the current ones\n",
                    (fs::path(request.accepted) / kAccepted).string()));
  }
  if (const int code = prepare_files(all, request); code != kSuccess) return code;
  listen_for_stop();
  options.interrupted = &stop_wanted();
  Progress progress("verify", request.quiet);
  options.progress = [&](double share) { progress.show(share); };
  check_all(all, options);
  progress.clear();

  const Tally tally(all);
  const AcceptedComparison against =
      compares && accepted ? compare(all, request.paths, *accepted.value) : AcceptedComparison{};
  tell(all, tally, against, request);
  bool well = write_results(all, request);
  if (request.update_accepted)
    well = accept(all, std::move(accepted.value), request) && well;
  else if (compares && accepted)
    tell_changes(against, request);
  if (request.record && tally.not_run == 0)
    well = keep_runs(all, request, against, compares && accepted ? &*accepted.value : nullptr) && well;
  if (tally.not_run > 0 || (request.record && stop_wanted())) return kNotCompleted;
  if (tally.refused > 0) return kBadInput;
  if (tally.not_completed > 0 || !well) return kNotCompleted;
  return tally.violated() || against.fails() || (compares && !accepted) ? kViolated : kSuccess;
}

}  // namespace duskline::harness
