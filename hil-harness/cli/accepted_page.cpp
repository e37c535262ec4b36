#include "hil-harness/cli/accepted_page.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "hil-harness/compare/comparison.hpp"

namespace duskline::harness {
namespace {

ComparedRun side(const std::string& name, const std::string& title, const AcceptedScenario& results) {
  ComparedRun run{name, {}, std::nullopt};
  run.summary.title = title;
  for (const auto& [key, n] : results.requirements) {
    RequirementEntry entry;
    entry.name = key;
    entry.verdict = n.verdict;
    entry.verdict_class = verdict_class(n.verdict);
    entry.margin = n.value;
    entry.unit = n.unit;
    run.summary.requirements.push_back(std::move(entry));
  }
  for (const auto& [key, n] : results.key_figures) {
    FigureEntry entry;
    entry.text = key;
    entry.value = n.value;
    entry.unit = n.unit;
    run.summary.figures.push_back(std::move(entry));
  }
  return run;
}

Finding finding_of(const std::vector<Change>& changes) {
  std::string worse;
  for (const Change& c : changes)
    if (c.fails) worse += fmt::format("{}{}: {}", worse.empty() ? "" : "; ", c.name, c.text());
  if (worse.empty())
    return {"good", "Changed, but no margin fell by more than allowed and no verdict is worse."};
  return {"bad", "Worse than accepted: " + worse};
}

}  // namespace

Outcome write_accepted_page(const AcceptedResults& accepted, const ScenarioResult& one,
                            const std::vector<Change>& changes, const std::string& path) {
  const AcceptedScenario now = results_of(one);
  const auto before = accepted_of(accepted, one, now);
  if (!before) return {one.name + ": there is no accepted result"};
  const ComparedRun a = side("accepted results", one.title, *before), b = side("this check", one.title, now);
  Comparison c = compare(a, b);
  c.notes = {
      "Accepted results hold verdicts, margins and key figures; events and signals cannot be compared."};
  c.events_compared = false;
  c.finding = finding_of(changes);
  const auto changed = [&](const std::string& name, bool requirement) {
    return std::any_of(changes.begin(), changes.end(), [&](const Change& change) {
      return change.name == name && requirement == !change.now_verdict.empty();
    });
  };
  for (VerdictPair& pair : c.verdicts) pair.shown = pair.changed() || changed(pair.name, true);
  for (FigurePair& pair : c.figures) pair.shown = changed(pair.text, false);
  return write_comparison(a, b, c, path);
}

}  // namespace duskline::harness
