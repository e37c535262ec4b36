/// Surge: the column of gas in the duct of a turbo compressor against the volume behind it.
///
/// What it is   rates of the flow through the compressor and of the head, which lags; what follows from B
/// Equation     dN/dt = A/(L M) (p_c - p), p_c the characteristic at N and speed; the volume is a gas store of the plant
///              in similarity numbers, xi = omega_H t:
///              dPhi/dxi = B (Psi_c - Psi), dPhi_T/dxi = B/G (Psi - F_T), dPsi/dxi = (Phi - Phi_T)/B,
///              dPsi_c/dxi = (Psi_c,ss - Psi_c)/tau; B = U/(2 omega_H L), omega_H = a sqrt(A/(V L))
///              without stall and with a short throttle (xi = U t/R): dPhi/dxi = (psi_c - psi)/l,
///              dpsi/dxi = (Phi - gamma sqrt(psi))/(4 B^2 l)
/// Symbols      A [m2], L [m] duct; V [m3]; a [m/s] speed of sound; U [m/s] blades; Phi = C/U, Psi = dp/(rho U^2/2),
///              psi = dp/(rho U^2), gamma [1] throttle, l [1] length of the duct over R
/// Validity     the similarity forms: pressure rise small against the pressure; the form with N has no such limit
/// Source       Greitzer 1976; Moore and Greitzer 1986 (equations from memory; limit cycles computed, in the tests)
/// Left out     rotating stall (amplitude zero), waves in long pipes, heat of the backflow
#pragma once

#include "plant-model/compressors/turbo_stage.hpp"

namespace duskline::plant {

struct SurgeDuct {
  double area{};    ///< m2
  double length{};  ///< m
};

/// Rate of the molar flow, mol/s2, for the characteristic's pressure and that behind the duct.
template <class S>
S duct_acceleration(const SurgeDuct& d, double molar_mass, const S& characteristic, const S& behind) {
  return (characteristic - behind) * (d.area / (d.length * molar_mass));
}

/// A pressure that goes from `ahead` to `behind` as an exponential of the flow: its mean slope over that at `ahead`.
template <class S>
S logarithmic_share(const S& ahead, const S& behind) {
  constexpr double kSeries = 0.01;
  const S u = log(ahead / behind);
  const bool near = std::abs(value_of(u)) < kSeries;
  return near ? S(1.0 - u * (0.5 - u * (1.0 / 6.0))) : S((1.0 - behind / ahead) / u);
}

/// The rate, slowed where it would settle faster than `kSettling`; `slope` [1/s] of the rate by the flow, `share` as
/// above. On the steep branch of a train the gas settles in 1e-4 to 3e-5 s, and its slope changes by a fifth with a
/// hundredth of the flow, which no Jacobian that serves many steps can follow (docs/models/integrate.md); close to choke
/// it is the logarithm of the pressure that goes with the flow. Where the flow rests is unchanged, and on a rising
/// characteristic nearly so is the rate: surge begins and grows as before.
template <class S>
S settled_acceleration(const S& rate, const S& slope, const S& share) {
  constexpr double kSettling = 0.05;  // s, estimate: a tenth of the lag of the valves
  constexpr double kRounded = 1.0;    // 1/s, where the slope changes its sign
  return rate / (1.0 + kSettling * share * positive_part(S(-slope), kRounded));
}

/// Angular frequency of the duct against the volume, rad/s.
inline double helmholtz_frequency(const SurgeDuct& d, double volume, double sound) {
  return sound * std::sqrt(d.area / (volume * d.length));
}
/// B: small, the machine stalls; large, it surges.
inline double greitzer_b(const SurgeDuct& d, double volume, double sound, double blade_speed) {
  return blade_speed / (2.0 * helmholtz_frequency(d, volume, sound) * d.length);
}

template <class S>
struct GreitzerState {
  S flow, throttle_flow, pressure, head;
};
/// Rates in units of omega_H; `throttle` is F_T, the throttle's pressure drop, `steady` the characteristic.
template <class S>
GreitzerState<S> greitzer_rates(const GreitzerState<S>& x, const S& throttle, const S& steady, double b,
                                double g, double lag) {
  return {b * (x.head - x.pressure), (b / g) * (x.pressure - throttle),
          (x.flow - x.throttle_flow) * (1.0 / b), (steady - x.head) * (1.0 / lag)};
}

template <class S>
struct SurgeState {
  S flow, pressure;
};
template <class S>
SurgeState<S> surge_rates(const SurgeState<S>& x, const S& head, double gamma, double b, double length) {
  return {(head - x.pressure) * (1.0 / length),
          (x.flow - gamma * sqrt(x.pressure)) * (1.0 / (4.0 * b * b * length))};
}

/// Whether an operating point is stable, from the slopes of characteristic and throttle there.
struct SurgeStability {
  bool stable;     ///< it does not run away
  bool in_motion;  ///< oscillations die out
};
inline SurgeStability surge_stability(double characteristic, double throttle, double b) {
  return {characteristic < throttle, 4.0 * b * b * characteristic * throttle < 1.0};
}

}  // namespace duskline::plant
