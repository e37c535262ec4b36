/// What it is   where carbon dioxide freezes: vapour pressure over its ice and the frost point.
/// Equation     ln(p/bar) = sum a_n / T^n, n = 0..5 (below the triple point); the frost point inverts it.
/// Symbols      p partial pressure of CO2 in Pa, T in K.
/// Validity     120-194.7 K (0.6 Pa to 1 bar); within 2 % of the reference equation of state there.
/// Source       N. Fray, B. Schmitt, Planet. Space Sci. 57 (2009) 2053.
/// Left out     frost on intake walls as such: the model has no wall colder than the air; docs/models/gas.md.
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

/// Vapour pressure over solid CO2, Pa.
inline double sublimation_pressure(double T) {
  const double y = 1.0 / T;
  return 1e5 * exp(14.76 + y * (-2571.0 + y * (-7.781e4 + y * (4.325e6 + y * (-1.207e8 + y * 1.350e9)))));
}

/// Temperature below which CO2 of partial pressure `p` freezes out, K; bisection between 100 and 194.7 K.
inline double frost_point(double p) {
  double low = 100.0, high = 194.7;
  for (int n = 0; n < 60; ++n) {
    const double T = 0.5 * (low + high);
    (sublimation_pressure(T) < p ? low : high) = T;
  }
  return 0.5 * (low + high);
}

}  // namespace duskline::plant
