/// Limits of the cells: margins of those that are hot, and the instants at which a limit is passed or regained.
///
/// Equation     least margin and least ratio over the cells at kWatchedTemperature and above; a crossing is located in
///              the tick before by integrating that tick again up to the change of sign
/// Symbols      coke margin [V], nickel ratio [1], time [s]
/// Validity     a limit counts as regained a little beyond it, so that a quantity that sits on it is logged once
/// Left out     location under the library's integration methods: there the tick's end is given
#pragma once

#include "hil-harness/loop/event_log.hpp"
#include "hil-harness/loop/plant_stepper.hpp"
#include "hil-harness/loop/snapshot.hpp"

namespace duskline::harness {

/// Fills what is derived from the plant's outputs.
void watch_limits(const plant::PlantParameters& p, Snapshot& s);

class LimitWatch {
 public:
  /// `module`: its number, from 0.
  LimitWatch(double period, std::size_t module, ModuleLog log)
      : period_(period), module_(module), log_(std::move(log)) {}

  /// Logs what has been crossed since the tick before, in which the plant moved from `before` under `ambient`.
  void follow(const Snapshot& s, const PlantStepper& stepper, const plant::State& before,
              const plant::Ambient& ambient);
  void keep(scenarios::Keeper& k) {
    auto& [period, module, log, limits] = *this;
    for (Limit& limit : limits) k(limit.below);
  }

 private:
  using Quantity = double (*)(const Snapshot&);
  struct Limit {
    const char *subject, *passed, *regained;
    double back;  ///< at which it counts as regained
    Quantity quantity;
    bool below = false;
  };

  double period_;
  std::size_t module_;
  ModuleLog log_;
  Limit limits_[2] = {
      {"coke margin", "a cell passed its coke-onset voltage",
       "every cell is below its coke-onset voltage again", 2e-3,
       [](const Snapshot& s) { return s.coke_margin; }},
      {"nickel ratio", "nickel began to oxidise at an inlet", "nickel is protected again", 0.05,
       [](const Snapshot& s) { return s.nickel_ratio - 1.0; }},
  };
};

}  // namespace duskline::harness
