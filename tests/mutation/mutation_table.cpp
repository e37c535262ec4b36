// Mutation check, whole: injects each defect, judges what the library says of it, and writes the table.
//
//   duskline_mutation_table              writes docs/reference/mutation-check.md to standard output (minutes)
//   duskline_mutation_table --list       for each defect: its test, the file that it is put into, the scenario that catches it
//   duskline_mutation_table NAME...      only these defects, only the list of what broke (for work on the library)
//
// Beside the defects the fixed law runs all scenarios of the bench plant, and some scenarios run with a change of their own
// (changes.hpp). Each sentence of a requirement is listed with one run that breaks it. Exit code 1: a defect was not
// caught, or a sentence was never broken.
#include <algorithm>
#include <atomic>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <map>
#include <set>
#include <span>
#include <thread>

#include "tests/mutation/changes.hpp"
#include "tests/mutation/mutant.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

struct Breaker {
  std::string run, scenario;
};
using Breakers = std::map<std::string, Breaker>;  // by sentence

struct Row {
  std::string name, what, file;
  std::size_t judged = 0, scenarios = 0, requirements = 0;
  std::string first = {};  // a scenario and a requirement that it breaks
};

bool broken(const harness::RequirementResult& j) {
  return j.verdict.outcome == scenarios::Outcome::violated;
}

/// Notes what a run broke: sentence by sentence, and in its row.
void note(Row& row, const std::vector<harness::ScenarioResult>& all, Breakers& breakers) {
  row.judged = all.size();
  for (const auto& one : all) {
    std::size_t here = 0;
    for (const auto& j : one.judged) {
      if (!broken(j)) continue;
      ++here;
      breakers.emplace(j.must, Breaker{row.name, one.name});
      if (row.first.empty()) row.first = fmt::format("{}: {}", one.name, j.name);
    }
    if (here == 0 && !one.completed() && row.first.empty()) row.first = one.name + ": the run broke off";
    row.requirements += here;
    if (here > 0 || !one.completed()) ++row.scenarios;
  }
}

std::string escaped(std::string text) {
  for (std::size_t at = text.find('|'); at != std::string::npos; at = text.find('|', at + 2))
    text.insert(at, "\\");
  return text;
}

constexpr const char* kBetweenHeaders = "outpost";

/// All scenarios of the library but those of one folder, named without their ending.
std::vector<std::string> library_without(const std::string& folder) {
  std::vector<std::string> names;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(library_folder())) {
    const auto name = std::filesystem::relative(entry.path(), library_folder());
    if (name.extension() == ".yaml" && name.begin()->string() != folder)
      names.push_back(std::filesystem::path(name).replace_extension().generic_string());
  }
  std::sort(names.begin(), names.end());
  return names;
}

/// The scenario that catches a defect, and the others that are named for it.
std::vector<std::string> scenarios_of(const Defect& d) {
  std::vector<std::string> names = words_of(d.others);
  const std::string folder(d.quick.substr(0, d.quick.find('/')));
  if (std::find(names.begin(), names.end(), folder) == names.end()) names.emplace(names.begin(), d.quick);
  return names;
}

Row judge_defect(const Defect& d, unsigned threads, Breakers& breakers, bool tell) {
  const Folder here{"mutant-" + std::string(d.name)};
  const auto all = judge_library(scenarios_of(d), threads, build_mutant(here, &d));
  Row row{std::string(d.name), std::string(d.what), std::string(d.file)};
  note(row, all, breakers);
  if (tell)
    for (const auto& one : all)
      for (const auto& j : one.judged)
        if (broken(j)) fmt::print("{}: {}: {}: {}\n", d.name, one.name, j.name, j.must);
  return row;
}

Row judge_change(const Change& c, Breakers& breakers) {
  Row row{std::string(c.name), std::string(c.what), std::string(c.setting)};
  note(row, judge_library(words_of(c.scenarios), 1, {}, {std::string(c.setting)}), breakers);
  return row;
}

/// All defects, then all changes, one a thread at a time: most of the time goes into the compiler. What broke is noted in the
/// order of the lists.
std::vector<Row> judge_all(unsigned threads, Breakers& breakers) {
  constexpr std::size_t kRuns = kDefects.size() + kChanges.size();
  std::vector<Row> rows(kRuns);
  std::vector<Breakers> broke(kRuns);
  std::vector<std::exception_ptr> failed(kRuns);
  std::atomic<std::size_t> next = 0;
  {
    std::vector<std::jthread> workers;
    for (unsigned n = 0; n < threads; ++n)
      workers.emplace_back([&] {
        for (std::size_t i = next++; i < kRuns; i = next++) {
          try {
            rows[i] = i < kDefects.size() ? judge_defect(kDefects[i], 1, broke[i], false)
                                          : judge_change(kChanges[i - kDefects.size()], broke[i]);
            fmt::print(stderr, "{}: {} of {} scenarios\n", rows[i].name, rows[i].scenarios, rows[i].judged);
          } catch (...) {
            failed[i] = std::current_exception();
          }
        }
      });
  }
  for (const std::exception_ptr& one : failed)
    if (one) std::rethrow_exception(one);
  for (const Breakers& one : broke) breakers.insert(one.begin(), one.end());
  return rows;
}

void print_rows(std::span<const Row> rows) {
  for (const Row& r : rows)
    fmt::print("| `{}` | {} | `{}` | {} of {} | {} | {} |\n", r.name, r.what, r.file, r.scenarios, r.judged,
               r.requirements, r.first.empty() ? "not caught" : escaped(r.first));
}

int page(unsigned threads) {
  Breakers breakers;
  std::map<std::string, std::size_t> sentences;  // how often each stands in the library
  std::size_t scenarios = 0, statements = 0;
  Row fixed{"fixed law", "speed and current scheduled open loop", "laws/fixed.hpp"};
  const auto add = [&](const std::vector<harness::ScenarioResult>& all) {
    scenarios += all.size();
    for (const auto& one : all)
      for (const auto& j : one.judged) ++sentences[j.must], ++statements;
  };
  {
    // the table of the fixed law is made for one module alone
    const auto all = judge_library(library_without(kBetweenHeaders), threads, {}, {"controller.law=fixed"});
    note(fixed, all, breakers);
    add(all);
    add(judge_library({kBetweenHeaders}, threads, {}));
  }
  const std::vector<Row> all = judge_all(threads, breakers);
  const auto rows = std::span(all).first(kDefects.size()), changes = std::span(all).subspan(kDefects.size());
  const auto caught = static_cast<std::size_t>(
      std::count_if(rows.begin(), rows.end(), [](const Row& r) { return r.scenarios > 0; }));
  fmt::print(
      "# Mutation check\n\nThis page is written by `duskline_mutation_table` (built with the tests; "
      "`docs/reference/mutation` calls it). Do not edit it.\n\nA library of scenarios is worth what it "
      "catches. "
      "Each defect below is injected into a copy of the controller, one place of its sources changed, built "
      "as a "
      "plug-in and put before the scenarios (`duskline verify --link plugin:FILE`). Caught: a requirement is "
      "broken, "
      "or the run breaks off. The quick form, each defect against one scenario and the same build without a "
      "defect, "
      "is run by `./quickstart check`.\n\n"
      "{} of {} defects are caught. The library has {} scenarios with {} requirements, {} different "
      "sentences.\n\n"
      "| defect | what | where | scenarios that catch it | requirements broken | one of them |\n"
      "| --- | --- | --- | --- | --- | --- |\n",
      caught, kDefects.size(), scenarios, statements, sentences.size());
  print_rows(rows);
  fmt::print(
      "\n## Changes of a scenario\n\nWhat no defect of the controller can break is broken by a change of the "
      "scenario.\n\n"
      "| change | what | setting | scenarios that break | requirements broken | one of them |\n"
      "| --- | --- | --- | --- | --- | --- |\n");
  print_rows(changes);
  std::size_t never = 0;
  for (const auto& [must, count] : sentences) never += breakers.count(must) == 0;
  fmt::print(
      "\n## Each sentence can fail\n\nUnder the fixed law {} requirements in {} scenarios break. Of {} "
      "sentences {} are "
      "broken by a run of this check; one run that does it stands beside each.\n\n"
      "| sentence | in scenarios | broken by | in |\n| --- | --- | --- | --- |\n",
      fixed.requirements, fixed.scenarios, sentences.size(), sentences.size() - never);
  for (const auto& [must, count] : sentences) {
    const auto found = breakers.find(must);
    const bool none = found == breakers.end();
    fmt::print("| {} | {} | {} | {} |\n", escaped(must), count,
               none                              ? "**nothing**"
               : found->second.run == fixed.name ? found->second.run
                                                 : "`" + found->second.run + "`",
               none ? "" : found->second.scenario);
  }
  if (caught < kDefects.size() || never > 0)
    fmt::print(stderr, "{} defects not caught, {} sentences never broken\n", kDefects.size() - caught, never);
  return caught == kDefects.size() && never == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  const unsigned threads = std::max(1U, std::thread::hardware_concurrency());
  try {
    if (argc == 1) return page(threads);
    if (argv[1] == std::string_view{"--list"}) {
      for (const Defect& d : kDefects)
        fmt::print("mutation/{}\tcontroller/{}\tscenarios/library/{}.yaml\n", test_name(d), d.file, d.quick);
      return 0;
    }
    Breakers ignored;
    int uncaught = 0;
    for (int i = 1; i < argc; ++i) {
      const auto d = std::find_if(kDefects.begin(), kDefects.end(),
                                  [&](const Defect& defect) { return defect.name == argv[i]; });
      if (d == kDefects.end()) throw std::runtime_error(fmt::format("there is no defect {}", argv[i]));
      const Row row = judge_defect(*d, threads, ignored, true);
      fmt::print("{}: caught by {} of {} scenarios\n", d->name, row.scenarios, row.judged);
      uncaught += row.scenarios == 0;
    }
    return uncaught == 0 ? 0 : 1;
  } catch (const std::exception& e) {
    fmt::print(stderr, "{}\n", e.what());
    return 2;
  }
}
