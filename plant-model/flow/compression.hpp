/// Compressor at work: gas power, discharge temperature, shaft and drive.
///
/// What it is   a link: what the compressor does to the gas of the suction, and what its drive draws
/// Equation     T_d = T_shell + (1 - eps)(T_s + w/cp - T_shell); tau = N w/omega + tau_c + c omega + J a; a =
///              a_max s/sqrt(1 + s^2), s = (omega_command - omega)/(t_drive a_max); P = (tau omega)+/eta
/// Symbols      w [J/mol], tau [N m], a [rad/s2], P [W]; H [W] enthalpy flows
/// Validity     see scroll_compressor.hpp; the drive does not feed back into the bus
/// Source       scroll_compressor.hpp
/// Left out     current limit of the drive as such (it is in a_max), losses at standstill
#pragma once

#include "plant-model/flow/bearing.hpp"
#include "plant-model/flow/gas_links.hpp"
#include "plant-model/variants.hpp"

namespace duskline::plant {

/// Width of the smooth change from driving to braking, W of shaft power.
inline constexpr double kDriveWidth = 0.5;

template <class S>
struct Compression {
  S discharge_temperature;  ///< K
  S discharged;             ///< W, enthalpy of the gas that goes to the plenum
  S taken;                  ///< W, enthalpy of the gas that came to the suction
  S lost;                   ///< W, enthalpy of suction gas that flows back through the filter
  S acceleration;           ///< rad/s2
  S shaft_load;             ///< W by gas and friction
  S power;                  ///< W from the bus
};

/// Acceleration that the drive gives, rad/s2.
template <class S, class U>
S drive_acceleration(const CompressorParameters& c, const U& commanded_speed, const S& speed) {
  const S asked = (commanded_speed - speed) / (c.drive_lag * c.acceleration);
  return c.acceleration * asked / sqrt(1.0 + asked * asked);
}

/// Power that the drive draws, W.
template <class S>
S drive_power(const CompressorParameters& c, const S& shaft_load, const S& acceleration, const S& speed) {
  return positive_part(shaft_load + c.inertia * acceleration * speed, kDriveWidth) / c.motor_efficiency;
}

/// Factor on the friction torque where part of it follows the axial load of the scroll; 1 at the rated point.
template <class S>
S load_factor(const S& pressure_difference) {
  constexpr double kShare = 0.6, kRated = 41e3;  // 1, Pa: 42 kPa in the plenum, about 1 kPa at the suction
  return (1.0 - kShare) + pressure_difference * (kShare / kRated);
}

template <class S, class U>
Compression<S> compress(const CompressorParameters& c, int friction, const Boundary& b, const GasLinks<S>& g,
                        const GasStore<S>& plenum, const S& recycled_enthalpy, const S& speed,
                        const S& shell_temperature, const U& commanded_speed) {
  Compression<S> out;
  const Suction<S>& s = g.suction;
  const S work =
      kGasConstant * g.suction_temperature * reduced_work(c, plenum.pressure / s.pressure);  // J/mol
  const S adiabatic = g.suction_temperature + work / dot(s.gas, gas_heat_capacities(g.suction_temperature));
  out.discharge_temperature = shell_temperature + (1.0 - c.cooling) * (adiabatic - shell_temperature);
  out.discharged = s.swept * dot(s.gas, gas_enthalpies(out.discharge_temperature));
  Composition<S> h_air;
  for (std::size_t i = 0; i < kSpecies; ++i) h_air[i] = enthalpy(kGasFits[i], b.ambient.temperature);
  out.lost = s.outflow * dot(s.gas, h_air);
  out.taken =
      s.intake * b.air_enthalpy - out.lost + g.recycle * recycled_enthalpy + s.leaked * plenum.molar_enthalpy;

  constexpr double kTwoPi = 6.28318530717958647693;
  const S tau_gas =
      c.filling * c.displacement / (kTwoPi * kGasConstant) / g.suction_temperature * s.pressure * work;
  S tau_friction = bearing_friction(c.friction_torque, c.bearing_wear, speed) + c.viscous_friction * speed;
  if (friction == kLoadFriction)
    tau_friction = bearing_friction(c.friction_torque, c.bearing_wear, speed) *
                       load_factor(S(plenum.pressure - s.pressure)) +
                   c.viscous_friction * speed;
  out.acceleration = drive_acceleration(c, commanded_speed, speed);
  out.shaft_load = (tau_gas + tau_friction) * speed;
  out.power = drive_power(c, out.shaft_load, out.acceleration, speed);
  return out;
}

}  // namespace duskline::plant
