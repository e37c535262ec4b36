/// An aim of a search, as a sentence over the same signals and units as a requirement.
///
/// What it is   `least mean over time of VALUE per QUANTITY`, `most robustness of REQUIREMENT`
/// Equation     J = s x/q; x statistic of the value over the samples; s = 1 for least, -1 for most: less is
///              better
/// Symbols      q the quantity behind `per`, in the unit of the value; of robustness: over the bound that
///              decides
/// Validity     samples a period apart weigh alike; samples without a value do not count
/// Source       values and requirements: scenarios/requirements/requirement.hpp
/// Left out     products of values; a share of the run other than its end
#pragma once

#include <optional>

#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

enum class Statistic { mean, greatest, least, robustness };

struct Objective {
  std::string text;
  bool most{};  ///< more is better
  Statistic statistic{};
  double after{};  ///< s, samples before it do not count
  double per{1.0};
  std::string unit;         ///< of the value
  int root{-1};             ///< node of the value
  Requirement requirement;  ///< holds the value, or is the requirement whose robustness counts
};

struct ParsedObjective {
  Objective objective;
  std::vector<RequirementProblem> problems;  ///< empty: the sentence is good
};

ParsedObjective parse_objective(std::string_view text, std::span<const TraceSignal> signals);

/// The statistic in the unit of the value (of robustness: relative); NaN without a sample that counts.
double measure(const Objective& objective, const TraceSamples& trace);

/// What a search makes least: the statistic over `per`, with its sign. Robustness is cut at +-10.
double cost(const Objective& objective, double measured);

}  // namespace duskline::scenarios
