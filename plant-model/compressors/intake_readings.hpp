/// What instruments and modules see of an intake, of whatever kind.
///
/// Symbols      pressures [Pa], flows [kg/s], power [W], temperatures [K], speed [rad/s], vibration [m/s2]
/// Validity     where nothing turns, speed, load and vibration are 0
#pragma once

#include "plant-model/compressors/intake.hpp"

namespace duskline::plant {

/// What stands as the margin to surge and to choke of a machine that knows neither.
inline constexpr double kWithoutSurge = 1.0;

template <class S>
struct IntakeReadings {
  S suction;       ///< Pa, behind the filter
  S intake;        ///< kg/s through the filter
  S flow;          ///< kg/s into the discharge
  S power;         ///< W from the bus
  S discharge;     ///< K, of the gas that leaves the machine
  S casing;        ///< K
  S shaft_load;    ///< W
  S speed;         ///< rad/s
  S vibration;     ///< m/s2
  S surge, choke;  ///< 1, margins
};

template <class S>
void read_intake(Board<S>& b, GasTerminal discharge, std::size_t dust, const IntakeReadings<S>& r) {
  const S filter = b.boundary->ambient.pressure - r.suction;
  for (PlantOutputsOf<S>& out : b.out) {
    out.suction_pressure = r.suction;
    out.intake_flow = r.intake;
    out.compressor_power = r.power;
    out.discharge_temperature = r.discharge;
    out.shaft_load = r.shaft_load;
    out.filter_dust = b.slow[dust];
    out.truth.compressor_speed = r.speed;
    out.truth.compressor_temperature = r.casing;
    out.truth.filter_differential_pressure = filter;
    out.truth.bearing_vibration = r.vibration;
  }
  if (b.shared == nullptr) return;
  SharedOutputsOf<S>& seen = *b.shared;
  seen.intake_flow = r.intake;
  seen.compressor_power = r.power;
  seen.surge_margin = r.surge;
  seen.choke_margin = r.choke;
  seen.truth.filter_differential_pressure = filter;
  seen.truth.suction_pressure = r.suction;
  seen.truth.compressor_speed = r.speed;
  seen.truth.compressor_flow = r.flow;
  seen.truth.discharge_pressure = b.at(discharge).pressure;
  seen.truth.discharge_temperature = r.discharge;
  seen.truth.compressor_vibration = r.vibration;
}

/// kg/s of dust that the filter keeps from air that comes through it at `intake` kg/s.
inline double dust_caught(const Board<double>& b, double intake) {
  const Ambient& air = b.boundary->ambient;
  const double air_density = density(air.pressure, air.temperature, air.composition);
  return b.plant().filter.efficiency * air.dust_concentration * std::max(0.0, intake) / air_density;
}

}  // namespace duskline::plant
