#include "scenarios/requirements/trigger.hpp"

#include <algorithm>

#include "scenarios/requirements/stream.hpp"

namespace duskline::scenarios {

ParsedRequirement parse_trigger(std::string_view condition, std::span<const TraceSignal> signals) {
  ParsedRequirement alone = parse_requirement(condition, signals);
  if (!alone.problems.empty()) return alone;
  constexpr std::string_view kBefore = "eventually (";
  std::string sentence(kBefore);
  sentence += condition;
  sentence += ')';
  ParsedRequirement whole = parse_requirement(sentence, signals);
  for (RequirementProblem& problem : whole.problems)
    problem.column = std::max(1, problem.column - static_cast<int>(kBefore.size()));
  if (whole.problems.empty() && !Stream::of(whole.requirement))
    whole.problems.push_back({1, "has a window without an end, which no run can settle; give it a length"});
  return whole;
}

}  // namespace duskline::scenarios
