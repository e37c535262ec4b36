/// Transport properties of the thin intake gas.
///
/// What it is   viscosity and thermal conductivity of CO2-rich gas and the mean free path in it
/// Equation     mu = mu0 (T/T0)^1.5 (T0 + C)/(T + C) (Sutherland); lambda = (mu/p) sqrt(pi R T / (2 M)); k =
///              mu (cp - R + 9 R/4)/M (Eucken)
/// Symbols      mu [Pa s], k [W/m/K], T [K], p [Pa], M [kg/mol], lambda [m]; mu0 = 13.70e-6 Pa s, T0 = 273 K,
///              C = 222 K
/// Validity     160-600 K, below 2 bar: 1 % at 200-300 K, 4 % low at 600 K; only the intake gas uses it
/// Source       constants after F. M. White, Viscous Fluid Flow (from memory); checked with CRC points in
///              tests
/// Left out     dependence on composition (nitrogen and argon raise it by up to 1 %)
#pragma once

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

template <class S>
S viscosity(const S& T) {
  return 13.70e-6 * (T / 273.0) * sqrt(T / 273.0) * (273.0 + 222.0) / (T + 222.0);
}

template <class S>
S mean_free_path(const S& T, const S& p, double molar_mass) {
  return viscosity(T) / p * sqrt(T * (1.5707963267948966 * kGasConstant / molar_mass));
}

/// Thermal conductivity of a mixture with mole fractions x.
template <class S>
S thermal_conductivity(const S& T, const Composition<S>& x) {
  const S cp = dot(x, gas_heat_capacities(T));
  return viscosity(T) * (cp + 1.25 * kGasConstant) / dot(x, kMolarMass);
}

/// Mean molar mass of a mixture, kg/mol.
template <class S>
S molar_mass(const Composition<S>& x) {
  return dot(x, kMolarMass);
}

/// Density of an ideal mixture, kg/m3.
inline double density(double p, double T, const Composition<double>& x) {
  return p * molar_mass(x) / (kGasConstant * T);
}

}  // namespace duskline::plant
