/// Start and result on draws that the search never saw.
///
/// What it is   the difference of each figure, draw by draw on the same plants and weather, with its
///              confidence
/// Equation     mean d +- t(0.975, n - 1) s/sqrt(n), d_k the mean over the scenarios of draw k, after less
///              before
/// Symbols      n draws, s standard deviation of d
/// Validity     a draw in which a run of either side has no value is left out of the means, and that run lacks; two equal
///              infinities do not differ; draws are independent; d near enough to normal for its mean (n of 20 or more)
/// Source       Student's t for paired samples; quantiles of Boost.Math
/// Left out     a correction for looking at several figures at once
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "hil-harness/tune/trial.hpp"

namespace duskline::harness {

struct Difference {
  double before{}, after{};  ///< means
  double mean{};             ///< after - before
  double half_width{};       ///< of its 95 % confidence interval
  std::size_t better{};      ///< draws in which after < before
  std::size_t pairs{};       ///< draws that were compared
};

struct HeldOutComparison {
  bool complete = false;
  std::size_t draws{}, runs{};                    ///< runs: of each side
  std::vector<Difference> figures;                ///< of each objective, in its unit
  Difference cost;                                ///< the stated objective: less is better
  std::size_t lacking_before{}, lacking_after{};  ///< runs that broke a requirement or had no value
  std::vector<std::string> violated;              ///< what the result violated, each once
};

struct HeldOut {
  const std::vector<scenarios::Case>& cases;
  const scenarios::Tuning& tuning;
  std::span<const scenarios::Objective> objectives;
  unsigned threads = 1;
  const std::atomic<bool>* interrupted = nullptr;
  std::function<void(double)> progress;
};

HeldOutComparison compare_held_out(const HeldOut& task, const std::vector<double>& before,
                                   const std::vector<double>& after);

/// Paired difference of two samples of the same size; without an interval below two pairs.
Difference paired(std::span<const double> before, std::span<const double> after);

/// First seed of the held-out draws.
inline constexpr std::uint64_t kHeldOutSeed = 1000000;

}  // namespace duskline::harness
