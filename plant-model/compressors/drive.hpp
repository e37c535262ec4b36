/// The shaft of a machine and the drive that turns it.
///
/// What it is   acceleration and power of a drive with a speed loop; the parameters that every machine with a shaft has
/// Equation     a = a_max s/sqrt(1 + s^2), s = (omega_command - omega)/(t_drive a_max);
///              P = (load + J a omega)+/eta
/// Symbols      a [rad/s2], omega [rad/s], t_drive [s] lag, J [kg m2], P [W] from the bus, load [W] of gas and friction
/// Validity     the load is that of a machine that turns forward
/// Source       Newton's second law; the shape of the limit is ours
/// Left out     kinetic energy of the rotor in the energy balance (it counts as heat of the shell at once); current limit
///              of the drive as such (it is in a_max), losses at standstill
#pragma once

#include "plant-model/flow/bearing.hpp"

namespace duskline::plant {

struct DriveParameters {
  double friction_torque{};   ///< N m, independent of speed
  double bearing_wear{};      ///< 1, 0 new, 1 worn out
  double tone{};              ///< m/s2, rms vibration at the bearing tone of a new bearing at 300 rad/s
  double inertia{};           ///< kg m2, at the shaft of the drive
  double drive_lag{};         ///< s, of the speed loop in the drive
  double acceleration{};      ///< rad/s2, largest that the drive commands
  double motor_efficiency{};  ///< 1, motor, drive and gears together
};

/// A machine whose flow is a state, between a suction duct and a casing that takes its heat.
struct DuctMachineParameters : DriveParameters {
  double duct_area{};             ///< m2
  double duct_length{};           ///< m
  double inlet_heat_capacity{};   ///< J/K, of what the air passes before the machine
  double casing_heat_capacity{};  ///< J/K
  double casing_conductance{};    ///< W/K to the housing
};

/// Width of the smooth change from driving to braking, W of shaft power.
inline constexpr double kDriveWidth = 0.5;

/// Acceleration that the drive gives, rad/s2.
template <class S>
S drive_acceleration(const DriveParameters& c, const S& commanded_speed, const S& speed) {
  const S asked = (commanded_speed - speed) / (c.drive_lag * c.acceleration);
  return c.acceleration * asked / sqrt(1.0 + asked * asked);
}

/// Power that the drive draws, W.
template <class S>
S drive_power(const DriveParameters& c, const S& shaft_load, const S& acceleration, const S& speed) {
  return positive_part(shaft_load + c.inertia * acceleration * speed, kDriveWidth) / c.motor_efficiency;
}

}  // namespace duskline::plant
