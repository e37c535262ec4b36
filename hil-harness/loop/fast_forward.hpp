/// Fast-forward of a long run: some sols are simulated at every tick, whole sols between them are stepped over.
///
/// What it is   projective integration over the fast period of a sol: one sol is simulated from local midnight to
///              local midnight, dawn and dusk included; what it changed for good is taken on for the next ones
/// Equation     y(k + n) = y(k) + n (y(k) - y(k - 1)), not below 0 where y is of the slow part
/// Symbols      y: slow part of the state (dust, carbon, oxide, damage, ageing) and the sums over the boundary;
///              k: number of a midnight; n: sols stepped over, at most `fast_forward.sols` of the scenario
/// Validity     nothing is planned from a sol before to a sol after (commands, services, events, faults, storms,
///              gusts, vortices, acts of people); no mode changed in the simulated sol; season and optical depth
///              move by no more than the bounds below. Temperatures, stores of gas and the memory of the
///              controllers stay as they are: local time is the same, and so is the count of ticks that a
///              controller sees
/// Source       averaging over a fast period, projective forward Euler; from memory
/// Left out     curvature over the sols stepped over (first order), and whatever occurs in them by chance
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "hil-harness/loop/faults.hpp"
#include "hil-harness/loop/snapshot.hpp"
#include "plant-model/environment/environment.hpp"
#include "scenarios/reader/acts.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

inline constexpr double kSeasonStep = 5.0 * plant::kDegree;  ///< rad of areocentric longitude, at most
inline constexpr double kDepthStep = 0.2;                    ///< of optical depth, at most

/// The times of all that is planned: a sol in which one of them lies is simulated, and so are its neighbours.
std::vector<double> planned_times(const scenarios::Scenario& scenario, const scenarios::Acts& acts,
                                  const Faults& faults);

class FastForward {
 public:
  /// A stretch that is stepped over; none: sols is 0.
  struct Step {
    std::size_t sols{};
    std::int64_t to{};  ///< tick of the local midnight behind it
  };

  FastForward(const scenarios::Scenario& scenario, const plant::Environment& environment);

  bool on() const { return sols_max_ > 0; }
  /// Tick n is the first behind a local midnight.
  bool at_midnight(std::int64_t n) const { return on() && n == midnight_; }
  /// What may be stepped over before tick n, at midnight.
  Step step_from(std::int64_t n, std::int64_t ticks, const plant::Environment& environment,
                 std::span<const double> planned) const;
  /// Takes the latest sol `sols` times more into the state.
  void carry(std::size_t sols, const plant::Layout& layout, plant::State& x) const;
  /// The sol that begins at tick n, with its state.
  void begin_sol(std::int64_t n, const Step& step, const plant::Environment& environment,
                 const plant::State& x);
  /// Once a tick.
  void watch(const Snapshot& s, bool compressor_turns);

  double turned() const { return turned_; }  ///< s that the compressor has turned in this sol
  std::int64_t ticks_stepped() const { return ticks_over_; }  ///< in the whole run
  /// What share of a run that has come to tick n was stepped over.
  std::string note(std::int64_t n) const;

  void keep(scenarios::Keeper& k) {
    auto& [period, sols_max, number, midnight, begin, sols, ticks, turned, steady, modes] = *this;
    k(number, midnight, begin, sols, ticks, turned, steady, modes);
  }

 private:
  std::int64_t midnight_tick(double number, const plant::Environment& environment) const;

  double period_;
  std::size_t sols_max_;
  double number_{};          ///< of the next midnight, from that before the start of the run
  std::int64_t midnight_{};  ///< its tick
  plant::State begin_;       ///< at the midnight before; empty: the run began after it
  std::size_t sols_over_{};
  std::int64_t ticks_over_{};
  double turned_{};
  bool steady_ = false;  ///< no mode has changed in this sol
  std::array<std::uint32_t, plant::kMostModules + 1> modes_{};
};

}  // namespace duskline::harness
