/// Counterflow recuperator between cathode exhaust and feed.
///
/// What it is   a link: outlet temperatures of two gas streams and what the shell passes to the insulation
/// Equation     C_r = 1 treated exactly by eps = (1 - e^(-N(1-Cr)))/(1 - Cr e^(-N(1-Cr))); N = UA/Cmin, Q =
///              eps Cmin (T_h - T_c); outlets from h(T_out) = h(T_in) +- Q/n
/// Symbols      C [W/K] molar flow n times the mean cp between the inlets, N [1] number of transfer units,
///              UA [W/K], T [K], h [J/mol]
/// Validity     both flows positive; at no flow eps -> 1 and no heat moves; laminar, so UA is constant
/// Source       Kays and London, Compact Heat Exchangers (effectiveness tables in tests); axial conduction
///              lowers UA in the plant file
/// Left out     heat held by the walls (minutes), axial conduction as such, carbon in the 400-700 degC zone
#pragma once

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

/// Effectiveness of a counterflow exchanger for transfer units n and capacity ratio c in [0, 1].
template <class S>
S counterflow_effectiveness(const S& n, const S& c) {
  const S d = 1.0 - c + 1e-9;  // the limit c -> 1 is regular: eps -> n/(1+n)
  const S e = exp(-n * d);
  return (1.0 - e) / (1.0 - (1.0 - d) * e);
}

/// A gas stream at its inlet.
template <class S>
struct Stream {
  const S& flow;                   ///< mol/s, >= 0
  const Composition<S>& share;     ///< mole fractions
  const S& temperature;            ///< K
  const Composition<S>& enthalpy;  ///< J/mol of each gas at that temperature
};

template <class S>
struct Recuperated {
  S cold_out, hot_out;    ///< K
  S cold_gain, hot_loss;  ///< J/mol
};

template <class S>
Recuperated<S> recuperate(double ua, const Stream<S>& cold, const Stream<S>& hot) {
  constexpr double kFloor = 2e-8;  // mol/s, keeps standing gas defined
  const S difference = hot.temperature - cold.temperature;
  Composition<S> cp;  // J/mol/K of each gas, mean between the inlets
  if (std::abs(value_of(difference)) > 0.1) {
    const S per_kelvin = 1.0 / difference;
    for (std::size_t i = 0; i < kSpecies; ++i) cp[i] = (hot.enthalpy[i] - cold.enthalpy[i]) * per_kelvin;
  } else {
    cp = gas_heat_capacities(0.5 * (hot.temperature + cold.temperature));
  }
  const S n_cold = cold.flow + kFloor, n_hot = hot.flow + kFloor;
  const S cp_cold = dot(cold.share, cp), cp_hot = dot(hot.share, cp);
  const S c_cold = n_cold * cp_cold, c_hot = n_hot * cp_hot;
  const S c_min = smooth_min(c_cold, c_hot, 1e-6);
  const S c_max = c_cold + c_hot - c_min;
  const S q = counterflow_effectiveness(ua / c_min, c_min / c_max) * c_min * difference;
  Recuperated<S> r;
  r.cold_gain = q / n_cold;
  r.hot_loss = q / n_hot;
  r.cold_out = temperature_at(cold.share, dot(cold.share, cold.enthalpy) + r.cold_gain,
                              value_of(cold.temperature) + value_of(r.cold_gain) / value_of(cp_cold));
  r.hot_out = temperature_at(hot.share, dot(hot.share, hot.enthalpy) - r.hot_loss,
                             value_of(hot.temperature) - value_of(r.hot_loss) / value_of(cp_hot));
  return r;
}

}  // namespace duskline::plant
