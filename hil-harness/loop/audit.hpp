/// Balance of atoms and energy at every accepted tick: what the stores hold against what crossed the
/// boundary.
///
/// Equation     residual = (held(t) - held(t0)) - crossed(t) + crossed(t0), relative to the scale below
/// Scale        atoms: the amount held at that tick or at the start, whichever is more; energy: what the bus has supplied, at least 1 kJ
/// Validity     a balance is closed within kAtomsBound and kEnergyBound, far above rounding (1e-13) and what the
///              integration leaves (energy: 2e-7 at its loosest tolerance, 1e-6 where a run begins far from where its
///              plant can be, as draws of plants do); an event that changes what a store holds
///              at a temperature, as a heat capacity does, opens it
/// Left out     nothing that the plant model moves: solids count with their formation enthalpy
#pragma once

#include <algorithm>
#include <string>

#include "plant-model/plant.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

inline constexpr double kAtomsBound = 1e-9, kEnergyBound = 1e-4;
inline constexpr double kEnergyGood = 1e-6;  ///< what a report calls good

class Audit {
 public:
  void start(const plant::Plant& plant, const plant::State& x) {
    before_ = plant.holdings(x);
    start_ = x;
  }
  void check(const plant::Plant& plant, const plant::State& x) {
    const std::size_t q = plant.layout().first_quadrature();
    const plant::Holdings held = plant.holdings(x);
    for (std::size_t e = 0; e < plant::kElements; ++e) {
      const std::size_t i = q + plant::at::atoms + e;
      const double residual = held.atoms[e] - before_.atoms[e] - (x[i] - start_[i]);
      // gas that a feed is free of is washed out, and what is left of it says nothing about the residual
      const double scale = std::max({held.atoms[e], before_.atoms[e], 1e-12});
      worst_atoms_[e] = std::max(worst_atoms_[e], std::abs(residual) / scale);
    }
    const std::size_t i = q + plant::at::energy, b = q + plant::at::bus_energy;
    const double residual = held.energy - before_.energy - (x[i] - start_[i]);
    worst_energy_ = std::max(worst_energy_, std::abs(residual) / std::max(x[b] - start_[b], 1e3));
  }
  const std::array<double, plant::kElements>& worst_atoms() const { return worst_atoms_; }
  double worst_energy() const { return worst_energy_; }
  /// The balance that does not close; empty: all do.
  std::string open() const {
    for (std::size_t e = 0; e < plant::kElements; ++e)
      if (!(worst_atoms_[e] <= kAtomsBound)) return "atoms of " + std::string(plant::kElementNames[e]);
    return worst_energy_ <= kEnergyBound ? "" : "energy";
  }
  void keep(scenarios::Keeper& k) {
    auto& [before, atoms, energy, start] = *this;
    k(before, atoms, energy, start);
  }

 private:
  plant::Holdings before_{};
  std::array<double, plant::kElements> worst_atoms_{};
  double worst_energy_{};
  plant::State start_{};
};

}  // namespace duskline::harness
