/// Reaction potentials that the coke and nickel limits need.
///
/// What it is   fits to the free energies of CO2 -> CO + 1/2 O2, CO -> C + 1/2 O2 and Ni + CO2 -> NiO + CO
/// Equation     E(T) = a + b t + c t^2, t = (T - 1073.15 K)/100 K; ln K_Ni = a + b/T K_B = exp(-2F (E_C -
///              E_0)/(R T))
/// Symbols      E_0, E_C [V] at 1 bar; K_B [1/bar] of 2 CO -> C + CO2; K_Ni [1] CO/CO2 over Ni/NiO
/// Validity     840-1250 K (arguments are held there); from 900 K on E within 0.01 mV, K_Ni within 0.3 % of
///              its table; below, E within 0.03 mV
/// Source       least squares on NASA TM-4513 (McBride, Gordon, Reno 1993); NiO: OECD-NEA TDB 6
/// Left out     carbon other than graphite; nickel other than bulk
#pragma once

#include "controller/math.hpp"

namespace duskline::controller {

inline constexpr float kGasConstant = 8.314462618f;       // J/mol/K
inline constexpr float kFaraday = 96485.33212f;           // C/mol
inline constexpr float kBar = 1e5f;                       // Pa
inline constexpr float kReferenceTemperature = 1073.15f;  // K

DUSKLINE_INLINE constexpr float fitted_temperature(float temperature) {
  return clamp(temperature, 840.0f, 1250.0f);
}

/// CO2 -> CO + 1/2 O2, V.
DUSKLINE_INLINE constexpr float reduction_potential(float temperature) {
  const float t = (fitted_temperature(temperature) - kReferenceTemperature) * 0.01f;
  return 0.98053872f + t * (-0.04497222f + t * 9.464863e-5f);
}

/// CO -> C + 1/2 O2, V.
DUSKLINE_INLINE constexpr float carbon_potential(float temperature) {
  const float t = (fitted_temperature(temperature) - kReferenceTemperature) * 0.01f;
  return 1.07130287f + t * (0.04554350f + t * -1.4661147e-4f);
}

/// RT/2F, V.
DUSKLINE_INLINE constexpr float half_thermal_voltage(float temperature) {
  return fitted_temperature(temperature) * (kGasConstant / (2.0f * kFaraday));
}

/// K_B of 2 CO -> C + CO2, 1/bar.
constexpr float boudouard_constant(float temperature) {
  return exponential((reduction_potential(temperature) - carbon_potential(temperature)) /
                     half_thermal_voltage(temperature));
}

/// CO/CO2 below which nickel oxidises, 1.
constexpr float nickel_limit(float temperature) {
  return exponential(0.29287937f - 5781.1321f / fitted_temperature(temperature));
}

/// Carbon activity at the electrode: partial pressures in Pa, cathode overpotential in V (all of it counts).
constexpr float carbon_activity(float temperature, float co_pressure, float co2_pressure,
                                float overpotential) {
  const float gas = boudouard_constant(temperature) * (co_pressure / co2_pressure) * (co_pressure / kBar);
  return gas * exponential(overpotential / half_thermal_voltage(temperature));
}

/// exp(E/R (1/T - 1/1073.15 K)): growth of a resistance below the reference temperature, 1.
DUSKLINE_INLINE constexpr float arrhenius(float energy, float temperature) {
  return exponential(energy / kGasConstant *
                     (1.0f / fitted_temperature(temperature) - 1.0f / kReferenceTemperature));
}

}  // namespace duskline::controller
