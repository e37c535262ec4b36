/// Counterflow recuperator between cathode exhaust and feed.
///
/// What it is   a link: outlet temperatures of two gas streams and what the shell passes to the insulation
/// Equation     C_r = 1 treated exactly by eps = (1 - e^(-N(1-Cr)))/(1 - Cr e^(-N(1-Cr))); N = UA/Cmin, Q =
///              eps Cmin (T_h - T_c)
/// Symbols      C [W/K] molar flow times cp, N [1] number of transfer units, UA [W/K], T [K]
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
  const S d = S(1.0 - c + 1e-9);  // the limit c -> 1 is regular: eps -> n/(1+n)
  const S e = exp(S(-n * d));
  return S((1.0 - e) / (1.0 - (1.0 - d) * e));
}

template <class S>
struct Recuperated {
  S cold_out, hot_out;  ///< K
};

/// Outlet temperatures for positive molar flows with mean heat capacities cp (J/mol/K).
template <class S>
Recuperated<S> recuperate(double ua, const S& cold_flow, const S& cold_cp, const S& cold_in,
                          const S& hot_flow, const S& hot_cp, const S& hot_in) {
  const S c_cold = S(cold_flow * cold_cp + 1e-6), c_hot = S(hot_flow * hot_cp + 1e-6);
  const S c_min = smooth_min(c_cold, c_hot, 1e-6);
  const S c_max = S(c_cold + c_hot - c_min);
  const S q = S(counterflow_effectiveness(S(ua / c_min), S(c_min / c_max)) * c_min * (hot_in - cold_in));
  return {S(cold_in + q / c_cold), S(hot_in - q / c_hot)};
}

}  // namespace duskline::plant
