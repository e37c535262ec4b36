/// What it is   tolerances for each state, limits on the step, counts of the work, and how a stretch ended.
/// Equation     scaled error = max over i of |e_i| / (absolute_i + relative max(|x0_i|, |x1_i|)); accepted at
///              <= 1.
/// Symbols      e error estimate of one step, x0 and x1 the states at its ends, each in the unit of its
///              state.
/// Validity     absolute_i > 0 wherever a state may pass through zero.
/// Source       Hairer, Noersett, Wanner, Solving ODEs I, 2nd ed., 1993, section II.4, with the maximum norm.
/// Left out     averaging over states (a mean would let one state be wrong where the others are good).
#pragma once

#include <array>
#include <atomic>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "plant-model/integrate/run_end.hpp"

namespace duskline::plant {

/// Vector is an array of doubles, or a vector where the number of states is known at run time only.
template <class Vector>
struct TolerancesOf {
  Vector absolute{};  // unit of the state
  double relative = 1e-6;
  std::vector<std::size_t> unfiltered{};  // places whose error estimate is never damped
};
template <std::size_t N>
using Tolerances = TolerancesOf<std::array<double, N>>;

template <std::size_t N>
constexpr Tolerances<N> uniform_tolerances(double absolute, double relative) {
  Tolerances<N> tolerances;
  tolerances.absolute.fill(absolute);
  tolerances.relative = relative;
  return tolerances;
}

struct StepControl {
  double min_step = 1e-9;                                // s
  double max_step = std::numeric_limits<double>::max();  // s
  double young = 0;                                      // s, up to which a long step is halved first
  double max_age = 300;                                  // s, both of the Jacobian
  std::uint64_t max_uses = std::uint64_t(1) << 62;       // accepted steps with one Jacobian
  bool filter_error = true;                              // damp the estimate of states that are slaved
  bool follow_slow_states = false;          // one more evaluation a step, see linearly_implicit.hpp
  const std::atomic<bool>* stop = nullptr;  // looked at between steps: true ends the stretch as interrupted

  bool stopped() const { return stop != nullptr && stop->load(std::memory_order_relaxed); }
};

struct StepStatistics {
  std::uint64_t steps = 0;        // accepted
  std::uint64_t rejected = 0;     // of these, after which the step was halved or the Jacobian renewed
  std::uint64_t evaluations = 0;  // of the right-hand side by the stepper
  std::uint64_t jacobians = 0;
  std::uint64_t factorisations = 0;  // of I - gamma h J

  friend bool operator==(const StepStatistics&, const StepStatistics&) = default;
};

/// How a stretch of time was integrated. When `reason` is not reached_end, `time` is where it stopped and
/// `state` the index of the state with the largest scaled error, or the first that was not finite.
struct Advance {
  RunEnd reason = RunEnd::reached_end;
  double time = 0;  // s
  std::size_t state = 0;

  bool ok() const { return reason == RunEnd::reached_end; }
};

template <class Vector>
std::size_t worst_state(const Vector& ratio) {
  std::size_t worst = 0;
  for (std::size_t i = 0; i < ratio.size(); ++i) {
    if (!std::isfinite(ratio[i])) return i;
    if (ratio[i] > ratio[worst]) worst = i;
  }
  return worst;
}

/// The steps of one stretch of time: its length over a power of two, on a binary grid, so that the end is met
/// exactly and few different step sizes occur (each costs a factorisation).
class BinaryGrid {
 public:
  BinaryGrid(double start, double end) : start_(start), end_(end) {}

  double time() const {
    if (done()) return end_;
    return start_ + (end_ - start_) * (static_cast<double>(position_) / static_cast<double>(kUnits));
  }
  double step() const { return std::ldexp(end_ - start_, -level_); }
  bool done() const { return position_ == kUnits; }
  /// False when the grid has no finer level.
  bool halve() { return level_ < kDeepest && ++level_ > 0; }
  void accept() { position_ += kUnits >> level_; }
  /// Doubles the step when the position lies on the coarser grid.
  void double_if_aligned(double max_step) {
    if (level_ > 0 && position_ % (kUnits >> (level_ - 1)) == 0 && 2 * step() <= max_step) --level_;
  }

 private:
  static constexpr int kDeepest = 50;
  static constexpr std::uint64_t kUnits = std::uint64_t(1) << kDeepest;
  double start_;  // s
  double end_;    // s
  int level_ = 0;
  std::uint64_t position_ = 0;
};

}  // namespace duskline::plant
