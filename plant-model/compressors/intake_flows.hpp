/// What every intake train does alike: gas through filter and machine, heat of the shell, dust, drive, readings.
///
/// Equation     what the machine takes enters the discharge, what comes back through it enters the suction, what the
///              filter passes crosses the boundary, each with its enthalpy; C dT/dt = P - (H_out - H_in) - G (T - T_frame)
/// Symbols      amounts [mol/s]; H [W]; P [W] of the drive; C [J/K], G [W/K] of the shell or casing
/// Validity     a suction node without volume: intake + recycled + backward = forward + outflow
/// Source       mole balance, first law
#pragma once

#include "plant-model/compressors/intake.hpp"
#include "plant-model/compressors/scroll.hpp"

namespace duskline::plant {

/// At the suction node.
template <class S>
struct IntakeFlows {
  S intake, outflow;    ///< mol/s through the filter, inward and outward
  S forward, backward;  ///< mol/s through the machine
  S pressure;           ///< Pa
  Composition<S> gas;   ///< mole fractions
};

/// What stands at the suction node of a machine whose flow is a state: filtered air, what is recycled, and gas that comes back through the machine.
/// Equation     p = p_a - R_f (N - N_rec), kept above a twentieth of p_a; T from the enthalpies that meet
template <class S>
IntakeFlows<S> suction_node(const Boundary& at, const GasInflow<S>& recycled, const GasStore<S>& discharge,
                            const S& flow, S& temperature) {
  constexpr double kWidth = 1e-6;  // mol/s, at which a flow turns
  const Ambient& air = at.ambient;
  IntakeFlows<S> n;
  n.forward = positive_part(flow, kWidth);
  n.backward = n.forward - flow;
  const S recycle = total(recycled.amount);
  const S net = flow - recycle;
  n.intake = positive_part(net, kWidth);
  // intake - net, written so that what comes in leaves to the last bit
  const S inflow = n.intake + recycle + n.backward;
  n.outflow = inflow - n.forward;
  constexpr double kLeast = 0.05, kBend = 0.02;  // of the ambient pressure
  n.pressure =
      air.pressure *
      (kLeast + positive_part(S((1.0 - kLeast) - net * (at.filter_resistance / air.pressure)), kBend));
  const S per_inflow = 1.0 / inflow;
  for (std::size_t i = 0; i < kSpecies; ++i)
    n.gas[i] =
        (n.intake * air.composition[i] + recycled.amount[i] + n.backward * discharge.share[i]) * per_inflow;
  const S enthalpy =
      (n.intake * at.air_enthalpy + recycled.enthalpy + n.backward * discharge.molar_enthalpy) * per_inflow;
  temperature = temperature_at(n.gas, enthalpy, air.temperature);
  return n;
}

/// Where the states of a train stand.
struct IntakePlaces {
  std::size_t speed, shell, dust;
};

/// The shell or casing, which takes all work that is not in the gas.
struct IntakeShell {
  double heat_capacity;  ///< J/K
  double conductance;    ///< W/K to the housing
};

/// What the drive does at this instant.
template <class S>
struct IntakeDrive {
  S shaft_load;    ///< W, without acceleration
  S acceleration;  ///< rad/s2
  S power;         ///< W from the bus
};

/// Puts flows and heat on the board, and the rates of speed, shell and dust. Gas leaves the machine at `leaving`, K.
template <class S>
void settle_intake(Board<S>& b, const IntakeTerminals& at, const IntakePlaces& place,
                   const IntakeShell& shell, const IntakeFlows<S>& s, const IntakeDrive<S>& drive,
                   const S& leaving) {
  const Ambient& air = b.boundary->ambient;
  const GasStore<S>& discharge = b.at(at.discharge);
  const S discharged = s.forward * dot(s.gas, gas_enthalpies(leaving));
  Composition<double> air_enthalpies;
  for (std::size_t i = 0; i < kSpecies; ++i) air_enthalpies[i] = enthalpy(kGasFits[i], air.temperature);
  const S lost = s.outflow * dot(s.gas, air_enthalpies);  // gas that flows back through the filter
  const S returned = s.backward * discharge.molar_enthalpy;
  const S taken = s.intake * b.boundary->air_enthalpy - lost + b.into(at.suction).enthalpy + returned;

  GasInflow<S>& to_discharge = b.into(at.discharge);
  GasInflow<S>& across = b.sums.surroundings;
  for (std::size_t i = 0; i < kSpecies; ++i) {
    to_discharge.amount[i] =
        to_discharge.amount[i] + (s.forward * s.gas[i] - s.backward * discharge.share[i]);
    across.amount[i] = across.amount[i] + (s.intake * air.composition[i] - s.outflow * s.gas[i]);
  }
  to_discharge.enthalpy = to_discharge.enthalpy + (discharged - returned);
  across.enthalpy = across.enthalpy + (s.intake * b.boundary->air_enthalpy - lost);
  b.sums.bus = b.sums.bus + drive.power;

  const S to_frame = shell.conductance * (b.x[place.shell] - b.at(at.frame));
  b.into(at.frame) = b.into(at.frame) + to_frame;
  b.dx[place.speed] = drive.acceleration;
  b.dx[place.shell] = (drive.power - (discharged - taken) - to_frame) / shell.heat_capacity;

  if constexpr (std::is_same_v<S, double>) {
    const double intake = (s.intake - s.outflow) * b.boundary->air_molar_mass;  // kg/s
    const double air_density = density(air.pressure, air.temperature, air.composition);
    b.dslow[place.dust] =
        b.plant().filter.efficiency * air.dust_concentration * std::max(0.0, intake) / air_density;
    b.memory->shaft_load = drive.shaft_load;
  }
}

/// What stands as the margin to surge and to choke of a machine that knows neither.
inline constexpr double kWithoutSurge = 1.0;

/// Fills what the modules and the shared instruments see of the train; `shown` is the discharge temperature, K, `tone` the vibration, m/s2.
template <class S>
void read_intake(Board<S>& b, const IntakeTerminals& at, const IntakePlaces& place, const IntakeFlows<S>& s,
                 const IntakeDrive<S>& drive, const S& shown, const S& tone) {
  for (PlantOutputsOf<S>& out : b.out) {
    out.suction_pressure = s.pressure;
    out.intake_flow = (s.intake - s.outflow) * b.boundary->air_molar_mass;
    out.compressor_power = drive.power;
    out.discharge_temperature = shown;
    out.shaft_load = drive.shaft_load;
    out.filter_dust = b.slow[place.dust];
    out.truth.compressor_speed = b.x[place.speed];
    out.truth.compressor_temperature = b.x[place.shell];
    out.truth.filter_differential_pressure = b.boundary->ambient.pressure - s.pressure;
    out.truth.bearing_vibration = tone;
  }
  if (b.shared == nullptr) return;
  SharedOutputsOf<S>& seen = *b.shared;
  seen.intake_flow = (s.intake - s.outflow) * b.boundary->air_molar_mass;
  seen.compressor_power = drive.power;
  seen.surge_margin = seen.choke_margin = S(kWithoutSurge);
  seen.truth.filter_differential_pressure = b.boundary->ambient.pressure - s.pressure;
  seen.truth.suction_pressure = s.pressure;
  seen.truth.compressor_speed = b.x[place.speed];
  seen.truth.compressor_flow = (s.forward - s.backward) * molar_mass(s.gas);
  seen.truth.discharge_pressure = b.at(at.discharge).pressure;
  seen.truth.discharge_temperature = shown;
  seen.truth.compressor_vibration = tone;
}

/// For a new command the drive's power follows the torque of acceleration: shell heat, bus and boundary energy with it.
template <class Drive>
void command_intake(Board<double>& b, const IntakePlaces& place, const IntakeShell& shell, const Drive& d) {
  const double speed = b.x[place.speed], load = b.memory->shaft_load;
  const double before = b.dx[place.speed], now = drive_acceleration(d, b.commands.compressor_speed, speed);
  const double change = drive_power(d, load, now, speed) - drive_power(d, load, before, speed);
  b.dx[place.speed] = now;
  b.dx[place.shell] += change / shell.heat_capacity;
  b.dq[at::energy] += change;
  b.dq[at::bus_energy] += change;
}

}  // namespace duskline::plant
