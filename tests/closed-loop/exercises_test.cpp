// Every exercise separates people who act from nobody: with nobody acting something is violated that is
// expected of them, with the expected acts everything is satisfied.
#include <catch2/catch.hpp>

#include <filesystem>

#include "hil-harness/verify/judge.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
namespace fs = std::filesystem;

namespace {

std::vector<harness::RequirementResult> judged(const scenarios::Case& c, const scenarios::Acts* acts) {
  harness::Watcher watcher(c.scenario);
  harness::LoopOptions options;
  options.acts = acts;
  options.watch = [&](const harness::Snapshot& s) { watcher.watch(s); };
  tests::run_case(c, options);
  return watcher.judge();
}

scenarios::Grade grade_of(const scenarios::Case& c, const std::string& requirement) {
  for (const scenarios::Statement& s : c.scenario.requirements)
    if (s.name == requirement) return s.grade;
  return scenarios::Grade::none;
}

}  // namespace

TEST_CASE("every exercise is passed by the expected acts and by nobody who does not act") {
  const fs::path folder = fs::path(DUSKLINE_SOURCE_DIR) / "scenarios" / "exercises";
  std::size_t count = 0;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() != ".yaml") continue;
    ++count;
    INFO(entry.path().filename().string());
    const auto read =
        scenarios::read_case(entry.path(), fs::path(DUSKLINE_SOURCE_DIR) / "plant-model" / "plants", {},
                             harness::requirement_lists());
    if (!read) FAIL(scenarios::to_text(read.problems));
    const scenarios::Case& c = *read.value;
    CHECK_FALSE(c.scenario.exercise.objective.empty());
    CHECK_FALSE(c.scenario.exercise.briefing.empty());
    for (const scenarios::Statement& s : c.scenario.requirements) CHECK(s.grade != scenarios::Grade::none);

    const auto acts = scenarios::read_acts(folder / "expected-acts" / entry.path().filename());
    if (!acts) FAIL(scenarios::to_text(acts.problems));
    std::size_t violated = 0;
    for (const auto& r : judged(c, nullptr))
      violated += r.verdict.outcome == scenarios::Outcome::violated &&
                  grade_of(c, r.name) == scenarios::Grade::expected;
    CHECK(violated > 0);
    for (const auto& r : judged(c, &*acts.value)) {
      INFO(r.name << ": " << harness::word(r.verdict.outcome));
      CHECK(r.verdict.outcome == scenarios::Outcome::satisfied);
    }
  }
  CHECK(count == 15);  // fourteen and the lesson: docs/how-to/train-operators.md lists them
}
