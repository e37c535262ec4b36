/// A gas volume as links see it.
///
/// What it is   pressure, composition and enthalpies of a store, and what gas that enters does to its temperature
/// Equation     p = n R T/V; u = h - R T
/// Symbols      n [mol], p [Pa], T [K], h, u [J/mol]
/// Validity     ideal gas
/// Source       textbook
#pragma once

#include "plant-model/gas/constants.hpp"
#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

/// A gas volume: amounts, mole fractions, pressure, and the enthalpies at its temperature.
template <class S>
struct GasStore {
  Composition<S> amount, share, enthalpy;
  S pressure, temperature;
  S molar_enthalpy;  ///< J/mol of its mixture
};

template <class S>
GasStore<S> gas_store(const S* amounts, const S& temperature, double volume) {
  GasStore<S> g;
  for (std::size_t i = 0; i < kSpecies; ++i) g.amount[i] = amounts[i];
  g.temperature = temperature;
  g.share = fractions(g.amount, 1e-12);
  g.pressure = total(g.amount) * temperature * (kGasConstant / volume);
  g.enthalpy = gas_enthalpies(temperature);
  g.molar_enthalpy = dot(g.share, g.enthalpy);
  return g;
}

/// Internal energy that enters a gas store with its amounts (W), and the store's heat capacity (J/K).
template <class S>
struct GasHeat {
  S carried, capacity;
};
template <class S>
GasHeat<S> gas_heat(const GasStore<S>& g, const Composition<S>& cp, const S* rates) {
  GasHeat<S> h{S(0.0), S(0.0)};
  const S rt = g.temperature * kGasConstant;
  for (std::size_t i = 0; i < kSpecies; ++i) {
    h.carried = S(h.carried + (g.enthalpy[i] - rt) * rates[i]);
    h.capacity = S(h.capacity + (cp[i] - kGasConstant) * g.amount[i]);
  }
  return h;
}

/// Internal energy of these amounts, J.
inline double internal_energy(const double* amounts, double temperature) {
  const Composition<double> h = gas_enthalpies(temperature);
  double e = 0.0;
  for (std::size_t i = 0; i < kSpecies; ++i) e += amounts[i] * (h[i] - kGasConstant * temperature);
  return e;
}

/// Amounts of a gas of these mole fractions.
inline void fill(double* amounts, const Composition<double>& share, double pressure, double volume,
                 double temperature) {
  for (std::size_t i = 0; i < kSpecies; ++i)
    amounts[i] = share[i] * pressure * volume / (kGasConstant * temperature);
}

/// Atoms of each element in a composition (mol or mol/s).
template <class S>
std::array<S, kElements> atoms_in(const Composition<S>& n) {
  std::array<S, kElements> a;
  a.fill(S(0.0));
  for (std::size_t i = 0; i < kSpecies; ++i)
    for (std::size_t e = 0; e < kElements; ++e)
      if (kAtoms[i][e] != 0.0) a[e] = a[e] + kAtoms[i][e] * n[i];
  return a;
}

}  // namespace duskline::plant
