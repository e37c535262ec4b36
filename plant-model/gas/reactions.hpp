/// Equilibria of the three reactions that bound the life of the cell.
///
/// What it is   standard potentials and equilibrium constants as functions of temperature
/// Equation     CO2 -> CO + 1/2 O2: E0 = dG/2F; 2 CO -> C + CO2: K_B = exp(-dG/RT); Ni + CO2 -> NiO + CO:
///              K_Ni = exp(-dG/RT)
/// Symbols      E0 [V], K_B [1] with pressures in bar, K_Ni [1] = (p_CO/p_CO2) at equilibrium, T [K]
/// Validity     500-1500 K (K_Ni above 631 K)
/// Source       Gibbs energies of thermochemistry.hpp; checked against JANAF log Kf in tests/reference
/// Left out     whisker carbon and carbides (ideal graphite is taken); solid solution of oxygen in nickel
#pragma once

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

/// What every segment needs, at one temperature.
template <class S>
struct Equilibria {
  S reversible_potential;  ///< V, E0 of CO2 electrolysis against 1 bar O2
  S log_boudouard;         ///< ln K_B
};

template <class S>
Equilibria<S> equilibria(const S& T) {
  const S log_T = log(T);
  const S g_co2 = gibbs_energy(kGasFits[CO2], T, log_T);
  const S g_co = gibbs_energy(kGasFits[CO], T, log_T);
  const S g_o2 = gibbs_energy(kGasFits[O2], T, log_T);
  const S g_c = gibbs_energy(kCarbonFit, T, log_T);
  return {(g_co + 0.5 * g_o2 - g_co2) * (0.5 / kFaraday), (2.0 * g_co - g_c - g_co2) / (kGasConstant * T)};
}

/// ln K_Ni; only the inlet needs it.
template <class S>
S log_nickel_oxidation(const S& T) {
  const S log_T = log(T);
  const S g_co2 = gibbs_energy(kGasFits[CO2], T, log_T);
  const S g_co = gibbs_energy(kGasFits[CO], T, log_T);
  const S g_ni = gibbs_energy(kNickelFit, T, log_T);
  const S g_nio = gibbs_energy(kNickelOxideFit, T, log_T);
  return (g_ni + g_co2 - g_nio - g_co) / (kGasConstant * T);
}

/// Thermoneutral voltage of CO2 electrolysis, V.
template <class S>
S thermoneutral_voltage(const S& T) {
  return (enthalpy(kGasFits[CO], T) + 0.5 * enthalpy(kGasFits[O2], T) - enthalpy(kGasFits[CO2], T)) /
         (2.0 * kFaraday);
}

}  // namespace duskline::plant
