/// What one candidate is worth: its gains on every drawn plant of every scenario, measured and judged.
///
/// What it is   runs of the closed loop without a trace; objectives measured, requirements judged
/// Equation     cost = sum over objectives of the mean cost over the runs; lack = mean over the runs of the
///              sum over violated requirements of 0.01 + how far each is violated, relative to its bound, 10 at
///              most; a search makes cost + 1000 lack least
/// Symbols      a run that does not reach its end lacks 10
/// Validity     common random numbers: draw k is the same plant, weather and instruments for every candidate
/// Left out     stopping a hopeless candidate early
#pragma once

#include <atomic>
#include <functional>
#include <string>
#include <vector>

#include "hil-harness/loop/loop.hpp"
#include "hil-harness/tune/space.hpp"
#include "scenarios/requirements/objective.hpp"

namespace duskline::harness {

/// A scenario with one drawn plant.
struct Trial {
  std::string scenario;  ///< its title
  scenarios::Case drawn;
};

/// The scenarios with draw `seed`: plant, weather and instruments. A plant that the scenario draws is dispersed as drawn.
std::vector<Trial> draw_trials(const std::vector<scenarios::Case>& cases, const scenarios::Tuning& tuning,
                               std::uint64_t seed);

/// How one run went.
struct Ran {
  std::vector<double> measured;  ///< of each objective
  double lack{};
  std::string violated;  ///< the requirement that is violated furthest; empty: none
  bool stopped{};        ///< from outside: nothing of it counts

  /// Every objective had a value.
  bool valued() const;
};

/// How a candidate did.
struct Worth {
  std::vector<double> measured;  ///< mean over the runs, of each objective
  double cost{}, lack{};
  std::string violated;  ///< requirement and scenario; empty: none
  bool margins{};        ///< what the margins lack is in `lack`

  double penalised() const { return cost + 1000.0 * lack; }
};

Ran run_trial(const Trial& trial, std::span<const scenarios::Objective> objectives,
              std::span<const scenarios::Variation> gains, std::span<const double> values,
              const std::atomic<bool>* interrupted);

Worth worth_of(std::span<const Ran> runs, std::span<const Trial> trials,
               std::span<const scenarios::Objective> objectives);

}  // namespace duskline::harness
