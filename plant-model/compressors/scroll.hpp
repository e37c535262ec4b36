/// Scroll compressor with fixed built-in volume ratio.
///
/// What it is   its laws (the part that runs by them is in scroll.cpp): displacement, internal leakage, gas work,
///              discharge temperature (shaft and drive: drive.hpp)
/// Equation     N = eta0 V n p_s/(R T_s); L = K (p_d^2 - p_s^2); w/(R T_s) = k/(k-1)(v^(k-1) - 1) + (r -
///              v^k)/v, r = p_d/p_s; T_d = T_shell + (1 -
///              eps)(T_s + w/cp - T_shell)
/// Symbols      V [m3/rev], n [rev/s], N, L [mol/s], w [J/mol], v [1] built-in volume ratio, tau [N m], J [kg
///              m2], eps [1]
/// Validity     r from 1 to 200, 0-700 rad/s; the leak is laminar in the gaps (continuum at the discharge
///              side)
/// Source       work of under- and over-compression: textbook result for fixed volume ratio (check values in
///              tests); displacement and friction sizes are estimates of the plant file
/// Left out     pulsation, oil, speed dependence of the leak; tip seals wear as a fault, and in long runs (wear.hpp)
#pragma once

#include "plant-model/compressors/drive.hpp"
#include "plant-model/gas/thermochemistry.hpp"
#include "plant-model/variants.hpp"

namespace duskline::plant {

struct CompressorParameters : DriveParameters {
  double displacement{};      ///< m3 per revolution
  double filling{};           ///< 1, volumetric efficiency without leakage
  double leakage{};           ///< mol/s/Pa2, flow back per difference of squared pressures
  double volume_ratio{};      ///< 1, built in
  double viscous_friction{};  ///< N m s/rad
  double bearing_life{};      ///< s of production until the wear is 1
  double leakage_growth{};    ///< 1/s, relative growth of the leakage in production
  double cooling{};           ///< 1, share of the approach to the shell temperature that discharge gas makes
  double shell_heat_capacity{};  ///< J/K
  double shell_conductance{};    ///< W/K to the housing
  double isentropic_exponent{};  ///< 1, of the working gas in the pockets
};

inline constexpr double kRatedSpeed = 0.42;  ///< of the largest speed, of the demo plant at its rated point

/// Swept flow per suction pressure, mol/s/Pa.
template <class S>
S swept_flow_per_pascal(const CompressorParameters& c, const S& speed, const S& suction_temperature) {
  constexpr double kTwoPi = 6.28318530717958647693;
  return speed * (c.filling * c.displacement / (kTwoPi * kGasConstant)) / suction_temperature;
}

/// Work on the gas per R T_s, as a function of the pressure ratio.
template <class S>
S reduced_work(const CompressorParameters& c, const S& pressure_ratio) {
  const double k = c.isentropic_exponent;
  const double vk = std::pow(c.volume_ratio, k);
  return k / (k - 1.0) * (vk / c.volume_ratio - 1.0) + (pressure_ratio - vk) / c.volume_ratio;
}

/// Factor on the friction torque where part of it follows the axial load of the scroll; 1 at the rated point.
template <class S>
S load_factor(const S& pressure_difference) {
  constexpr double kShare = 0.6, kRated = 41e3;  // 1, Pa: 42 kPa in the plenum, about 1 kPa at the suction
  return (1.0 - kShare) + pressure_difference * (kShare / kRated);
}

/// Friction torque under one of the laws of variants.hpp, N m.
template <class S>
S friction_torque(const CompressorParameters& c, int law, const S& pressure_difference, const S& speed) {
  const S bearings = bearing_friction(c.friction_torque, c.bearing_wear, speed);
  const S viscous = c.viscous_friction * speed;
  if (law == kLoadFriction) return bearings * load_factor(pressure_difference) + viscous;
  return bearings + viscous;
}

}  // namespace duskline::plant
