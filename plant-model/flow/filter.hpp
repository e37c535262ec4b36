/// Intake filter: a fibre mat in slip flow that loads with dust.
///
/// What it is   a link: molar flow through the mat for a pressure difference, and its growth of resistance
/// Equation     dp = F (4 alpha/(pi d^2)) mu U L + K2 W U/Cc, 1/F = 1/F0 + 1.43 Kn/(4 pi), F0 = 16 pi
///              alpha^0.5 (1 + 56 alpha^3)
/// Symbols      alpha [1] solidity, d [m] fibre, L [m] thickness, U [m/s] face velocity, Kn = 2 lambda/d, W
///              [kg/m2] dust
/// Validity     0.006 < alpha < 0.3, Re of a fibre < 1, Kn < 20; pressure drop small against ambient pressure
/// Source       Davies 1953 (continuum); slip term after Kirsch, Stechkina and Fuchs 1973 (constant from
///              memory); cake: Kozeny-Carman with slip correction
/// Left out     change of collection efficiency (held constant), humidity, reverse-pulse cleaning
#pragma once

#include "plant-model/gas/transport.hpp"

namespace duskline::plant {

struct FilterParameters {
  double area{};             ///< m2
  double thickness{};        ///< m
  double solidity{};         ///< 1
  double fibre_diameter{};   ///< m
  double cake_resistance{};  ///< 1/s, Pa per (m/s) per (kg/m2), continuum value at 240 K
  double cake_slip{};        ///< 1, factor by which slip lowers the cake resistance
  double efficiency{};       ///< 1, share of the dust that is caught
};

/// Pressure drop per molar flow, Pa s/mol, at ambient pressure and temperature with `dust` kg caught.
inline double filter_resistance(const FilterParameters& f, double p, double T, double M, double dust) {
  const double mu = viscosity(T);
  const double kn = 2.0 * mean_free_path(T, p, M) / f.fibre_diameter;
  constexpr double kPi = 3.14159265358979323846;
  const double f0 = 16.0 * kPi * std::sqrt(f.solidity) * (1.0 + 56.0 * f.solidity * f.solidity * f.solidity);
  const double drag = 1.0 / (1.0 / f0 + 1.43 * kn / (4.0 * kPi));
  const double mat = drag * 4.0 * f.solidity / (kPi * f.fibre_diameter * f.fibre_diameter) * mu * f.thickness;
  const double cake = f.cake_resistance / f.cake_slip * dust / f.area;
  return (mat + cake) * kGasConstant * T / (p * f.area);
}

}  // namespace duskline::plant
