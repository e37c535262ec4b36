/// Fixed aperture or valve seat between two spaces, choked or not, in either direction.
///
/// What it is   a link: molar flow through a small hole, smooth through zero pressure difference
/// Equation     N = Cd A p1 / sqrt(M R T1) Psi(r); r = p2/p1; above the critical ratio Psi = sqrt(2k/(k-1)
///              (r^(2/k) - r^((k+1)/k))), below it Psi = sqrt(k) (2/(k+1))^((k+1)/(2(k-1)))
/// Symbols      Cd A [m2], p [Pa], T1 [K] upstream, M [kg/mol], k [1] isentropic exponent (fixed at 1.29), N
///              [mol/s]
/// Validity     any pair of pressures; |1 - r| < 1e-3 is regularised (flow then errs by up to 60 %, the slope
///              is finite)
/// Source       ISO 9300 critical flow function (ideal gas); unchoked branch by Saint-Venant and Wantzel
/// Left out     Reynolds-number dependence of Cd; rarefaction (Kn < 0.01 for 0.1 mm above 10 kPa)
#pragma once

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

inline constexpr double kIsentropicExponent = 1.29;  ///< of CO2-rich gas at 250-400 K

/// Flow function Psi of the pressure ratio r in [0, 1].
template <class S>
S flow_function(const S& r) {
  constexpr double k = kIsentropicExponent;
  constexpr double kCritical = 0.5475414138555359;  // (2/(k+1))^(k/(k-1))
  constexpr double kPlateau = 0.6654478736918381;   // the open branch at the critical ratio
  constexpr double kWidth = 1e-3;                   // regularisation of the square root at r = 1
  const S s = 1.0 - r;
  const S log_r = log(r + 1e-12);
  const S square = 2 * k / (k - 1) * (exp(log_r * (2 / k)) - exp(log_r * ((k + 1) / k)));
  // Psi = sqrt(g) s / (s^2 + w^2)^(1/4) with g = square / s, finite at s = 0
  const S g = (square + 2e-9) / (s + 1e-9);  // tends to 2 at s = 0
  const S open = sqrt(g) * s / fourth_root(s * s + kWidth * kWidth);
  return pick(less(r, kCritical), S(kPlateau), open);
}

/// Molar flow from 1 to 2 (negative when 2 drives), mol/s. T is the temperature of the upstream gas,
/// M its molar mass, each given for both sides.
template <class S>
S aperture_flow(const S& cda, const S& p1, const S& T1, const S& M1, const S& p2, const S& T2, const S& M2) {
  const bool forward = value_of(p1) >= value_of(p2);
  const S p = forward ? p1 : p2, q = forward ? p2 : p1;
  const S T = forward ? T1 : T2, M = forward ? M1 : M2;
  const S n = cda * p / sqrt(M * T * kGasConstant) * flow_function(q / p);
  return forward ? n : -n;
}

}  // namespace duskline::plant
