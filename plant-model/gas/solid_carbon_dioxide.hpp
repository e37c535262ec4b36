/// Solid carbon dioxide: vapour pressure, frost point, heat of sublimation.
///
/// What it is   the equilibrium of ice and vapour
/// Equation     ln(p/p_t) = (T_t/T)(a1 x + a2 x^1.9 + a3 x^2.9), x = 1 - T/T_t; frost point by Newton's method;
///              L = 598 kJ/kg at 149 K, linear to 573 kJ/kg at 194.7 K
/// Symbols      p [Pa], T [K]; T_t = 216.592 K, p_t = 517.95 kPa triple point; L [J/mol]
/// Validity     130 to 216 K (50 Pa to 500 kPa); defined above it, so that a warm bed can be cooled
/// Source       Span and Wagner 1996 (coefficients from memory, checked by 101 325 Pa at 194.685 K and against Fray and
///              Schmitt 2009 within 0.7 %); L: Giauque and Egan 1937 and the slope of the vapour pressure
/// Left out     other isotopes, mixtures in the solid
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

inline constexpr double kCarbonDioxideMass = 0.0440095;  ///< kg/mol

template <class S>
S log_sublimation_pressure(const S& T) {
  constexpr double kTriple = 216.592, kLogTriple = 13.157633991;  // ln(517 950)
  const S x = 1.0 - T * (1.0 / kTriple);
  constexpr double kWidth = 1e-6;  // above the triple point the first term goes on alone
  const S log_x = log(positive_part(x, kWidth));
  return kLogTriple +
         kTriple / T * (-14.740846 * x + 2.4327015 * exp(1.9 * log_x) - 5.3061778 * exp(2.9 * log_x));
}
/// Pa, below the triple point.
template <class S>
S sublimation_pressure(const S& T) {
  return exp(log_sublimation_pressure(T));
}

/// K, at which a partial pressure is that of the solid.
template <class S>
S frost_point(const S& partial_pressure) {
  const S wanted = log(partial_pressure);
  S T = 3182.48 / (23.3494 + std::log(100.0) - wanted);  // within 0.6 K of it from 100 Pa to 100 kPa
  for (int i = 0; i < 3; ++i) {
    constexpr double kStep = 1e-3;
    const double at = value_of(T);
    const double slope =
        (log_sublimation_pressure(at + kStep) - log_sublimation_pressure(at - kStep)) / (2 * kStep);
    T = T - (log_sublimation_pressure(T) - wanted) * (1.0 / slope);
  }
  return T;
}

/// J/mol.
template <class S>
S heat_of_sublimation(const S& T) {
  constexpr double kSlope = (573.0e3 - 598.0e3) / (194.7 - 149.0);
  return kCarbonDioxideMass * (598.0e3 + kSlope * (T - 149.0));
}

}  // namespace duskline::plant
