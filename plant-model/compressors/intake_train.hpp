/// An intake with a machine that turns: filter, suction node, machine, shell or casing, shaft and drive.
///
///   surroundings -> filter -> suction -> Machine -> discharge
///
/// What it is   the part of every such intake; a kind of machine gives what it does to the gas at its suction, its drive
///              and its shell (see Compressed). A machine whose flow is a state has a duct (kDuct), and stands behind the
///              node below; one that takes what it sweeps finds its own suction
/// Equation     what the machine takes enters the discharge, what comes back through it enters the suction, what the
///              filter passes crosses the boundary, each with its enthalpy; ahead of a duct the mat of the filter takes on
///              the heat of the air, C_i dT_i/dt = N (h_a - h(T_i)), so that gusts of warm air come through slowly;
///              C dT/dt = P - (H_out - H_in) - G (T - T_frame); domega/dt = a; dN/dt = A/(L M) (p_ahead - p_behind)
/// Symbols      amounts [mol/s]; H [W]; P [W] of the drive; C [J/K], G [W/K] of the shell or casing; N [mol/s] flow of the
///              duct, A [m2], L [m], M [kg/mol]; C_i [J/K] and T_i [K] of the mat, h [J/mol] of air
/// Validity     a suction node without volume: intake + recycled + backward = forward + outflow
/// Source       mole balance, first law, surge.hpp
#pragma once

#include "plant-model/compressors/drive.hpp"
#include "plant-model/compressors/intake_readings.hpp"
#include "plant-model/compressors/surge.hpp"

namespace duskline::plant {

/// At the suction node.
template <class S>
struct IntakeFlows {
  S intake, outflow;    ///< mol/s through the filter, inward and outward
  S forward, backward;  ///< mol/s through the machine
  S pressure;           ///< Pa
  Composition<S> gas;   ///< mole fractions
};

/// Filtered air of this enthalpy, what is recycled, and gas that comes back through the machine, where its flow is a state.
/// Equation     p = p_a - R_f (N - N_rec), kept above a twentieth of p_a; T from the enthalpies that meet
template <class S>
IntakeFlows<S> suction_node(const Boundary& at, const S& filtered, const GasInflow<S>& recycled,
                            const GasStore<S>& discharge, const S& flow, S& temperature) {
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
      (n.intake * filtered + recycled.enthalpy + n.backward * discharge.molar_enthalpy) * per_inflow;
  temperature = temperature_at(n.gas, enthalpy, air.temperature);
  return n;
}

/// What a machine does at this instant.
template <class S>
struct Compressed {
  S shaft_load;     ///< W, without acceleration
  S leaving;        ///< K, gas that enters the discharge
  S shown;          ///< K, what a thermometer at the outlet of the last stage reads
  S ahead, behind;  ///< Pa, whose difference drives the gas in the duct, where there is one
  S surge = S(kWithoutSurge), choke = S(kWithoutSurge);  ///< 1, margins of the stage that is nearest to it
};

/// The shell or casing, which takes all work that is not in the gas.
struct IntakeShell {
  double heat_capacity;  ///< J/K
  double conductance;    ///< W/K to the housing
};

/// What the layout needs of a machine's states.
struct IntakeStates {
  double speed_tolerance, speed_lower, speed_upper;  ///< rad/s
  const char* shell;                                 ///< name
  double dust_tolerance, dust_upper;                 ///< kg
};

/// Machine has `states`, `kDuct`, drive(parameters), shell_of(drive), and one of
///   compress(board, flows, suction temperature, discharge, shell, speed)            with a duct
///   compress(board, recycled, discharge, shell, speed, flows to be filled in)       without
template <class Machine>
class IntakeTrain final : public PartOf<IntakeTrain<Machine>> {
 public:
  IntakeTrain(Layout& layout, const IntakeTerminals& terminals) : terminals_(terminals) {
    constexpr IntakeStates k = Machine::states;
    if constexpr (Machine::kDuct) {
      flow_ = layout.implicit({"compressor.flow", "mol/s", 2e-5, -5, 5, true});
      inlet_ = layout.implicit({"inlet.temperature", "K", 0.05, 50, 600});
    }
    speed_ = layout.implicit({"compressor.speed", "rad/s", k.speed_tolerance, k.speed_lower, k.speed_upper});
    shell_ = layout.implicit({k.shell, "K", 0.05, 100, 1600});
    dust_ = layout.slow({"filter.dust", "kg", k.dust_tolerance, -1e-9, k.dust_upper});
  }

  template <class S>
  void flow_on(Board<S>& b) const {
    const auto& d = Machine::drive(b.plant());
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const GasInflow<S>& recycled = b.into(terminals_.suction);
    const S &speed = b.x[speed_], &shell = b.x[shell_];
    IntakeFlows<S> s;
    Compressed<S> c;
    S filtered(b.boundary->air_enthalpy);
    if constexpr (Machine::kDuct) {
      filtered = dot(b.boundary->ambient.composition, gas_enthalpies(b.x[inlet_]));
      c = through_duct(b, filtered, b.x[flow_], s);
      b.dx[flow_] = flow_rate(b, filtered, c);
      b.dx[inlet_] = s.intake * (b.boundary->air_enthalpy - filtered) * (1.0 / d.inlet_heat_capacity);
    } else {
      c = Machine::compress(b, recycled, discharge, shell, speed, s);
    }
    const S acceleration = drive_acceleration(d, b.commands.compressor_speed, speed);
    const S power = drive_power(d, c.shaft_load, acceleration, speed);
    b.dx[speed_] = acceleration;
    settle_gas(b, s, filtered, c.leaving, power, Machine::shell_of(d));
    const S intake = (s.intake - s.outflow) * b.boundary->air_molar_mass;  // kg/s
    if constexpr (std::is_same_v<S, double>) {
      b.dslow[dust_] = dust_caught(b, intake);
      b.memory->shaft_load = c.shaft_load;
    }
    if (!b.seen()) return;
    const S through = (s.forward - s.backward) * molar_mass(s.gas);
    read_intake<S>(b, terminals_.discharge, dust_,
                   {s.pressure, intake, through, power, c.shown, shell, c.shaft_load, speed,
                    bearing_tone(d.tone, d.bearing_wear, speed), c.surge, c.choke});
  }

  /// The drive's power follows the torque of acceleration: heat of the shell, bus and boundary energy with it.
  void command(Board<double>& b) const override {
    const auto& d = Machine::drive(b.plant());
    const double speed = b.x[speed_], load = b.memory->shaft_load;
    const double before = b.dx[speed_], now = drive_acceleration(d, b.commands.compressor_speed, speed);
    const double change = drive_power(d, load, now, speed) - drive_power(d, load, before, speed);
    b.dx[speed_] = now;
    b.dx[shell_] += change / Machine::shell_of(d).heat_capacity;
    b.dq[at::energy] += change;
    b.dq[at::bus_energy] += change;
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += Machine::shell_of(Machine::drive(*p.shared)).heat_capacity * x[shell_];
    if constexpr (Machine::kDuct) h.energy += Machine::drive(*p.shared).inlet_heat_capacity * x[inlet_];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    if constexpr (Machine::kDuct) {
      x[flow_] = s.flow;
      x[inlet_] = s.ambient;
    }
    x[speed_] = s.speed;
    x[shell_] = s.housing;
  }

 private:
  /// The machine with this flow in its duct.
  template <class S>
  Compressed<S> through_duct(Board<S>& b, const S& filtered, const S& flow, IntakeFlows<S>& s) const {
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    S temperature;  // K, at the suction
    s = suction_node(*b.boundary, filtered, b.into(terminals_.suction), discharge, flow, temperature);
    return Machine::compress(b, s, temperature, discharge, b.x[shell_], b.x[speed_]);
  }
  /// Rate of the flow in the duct, mol/s2, with the slope of the machine from a flow a little larger.
  template <class S>
  S flow_rate(Board<S>& b, const S& filtered, const Compressed<S>& c) const {
    constexpr double kStep = 1e-6;  // mol/s
    const auto& d = Machine::drive(b.plant());
    const SurgeDuct duct{d.duct_area, d.duct_length};
    const double mass = b.boundary->air_molar_mass;
    IntakeFlows<S> unused;
    const Compressed<S> more = through_duct(b, filtered, S(b.x[flow_] + kStep), unused);
    const S rate = duct_acceleration(duct, mass, c.ahead, c.behind);
    const S faster = duct_acceleration(duct, mass, more.ahead, more.behind);
    return settled_acceleration(rate, S((faster - rate) * (1.0 / kStep)),
                                logarithmic_share(c.ahead, c.behind));
  }
  /// Puts flows and heat on the board, and the rate of the shell. Gas leaves the machine at `leaving`, K.
  template <class S>
  void settle_gas(Board<S>& b, const IntakeFlows<S>& s, const S& filtered, const S& leaving, const S& power,
                  const IntakeShell& shell) const {
    const Ambient& air = b.boundary->ambient;
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const S discharged = s.forward * dot(s.gas, gas_enthalpies(leaving));
    Composition<double> air_enthalpies;
    for (std::size_t i = 0; i < kSpecies; ++i) air_enthalpies[i] = enthalpy(kGasFits[i], air.temperature);
    const S lost = s.outflow * dot(s.gas, air_enthalpies);  // gas that flows back through the filter
    const S returned = s.backward * discharge.molar_enthalpy;
    const S taken = s.intake * filtered - lost + b.into(terminals_.suction).enthalpy + returned;

    GasInflow<S>& to_discharge = b.into(terminals_.discharge);
    GasInflow<S>& across = b.sums.surroundings;
    for (std::size_t i = 0; i < kSpecies; ++i) {
      to_discharge.amount[i] =
          to_discharge.amount[i] + (s.forward * s.gas[i] - s.backward * discharge.share[i]);
      across.amount[i] = across.amount[i] + (s.intake * air.composition[i] - s.outflow * s.gas[i]);
    }
    to_discharge.enthalpy = to_discharge.enthalpy + (discharged - returned);
    across.enthalpy = across.enthalpy + (s.intake * b.boundary->air_enthalpy - lost);
    b.sums.bus = b.sums.bus + power;

    const S to_frame = shell.conductance * (b.x[shell_] - b.at(terminals_.frame));
    b.into(terminals_.frame) = b.into(terminals_.frame) + to_frame;
    b.dx[shell_] = (power - (discharged - taken) - to_frame) / shell.heat_capacity;
  }

  IntakeTerminals terminals_;
  std::size_t flow_ = 0, inlet_ = 0, speed_, shell_, dust_;
};

/// The part of an intake with this machine, as the table of kinds makes it.
template <class Machine>
std::unique_ptr<Part> intake_train(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<IntakeTrain<Machine>>(layout, terminals);
}

/// The shell of a machine with a duct.
inline IntakeShell casing_of(const DuctMachineParameters& m) {
  return {m.casing_heat_capacity, m.casing_conductance};
}

/// The similarity numbers of a machine need a speed; at rest it is taken as turning at `least` of the design speed.
template <class S>
S turning(const S& speed, double design, double least) {
  return sqrt(speed * speed + least * least * design * design);
}

}  // namespace duskline::plant
