/// The flowsheet, written to be read: outputs of stores, then links, then derivatives.
///
///   air -> filter -> suction -> scroll -> plenum -> recuperator -> preheater -> stack -> cathode volume
///                      ^                                 |                                  |
///                      +---- recycle valve <--- exhaust, cooled by recuperator and housing -+-> aperture ->
///                      air
///   stack -> anode volume -> product aperture;  cathode volume -> seals and cracks -> anode volume
///
/// Every flow enters one store with + and leaves another with -, with the same enthalpy, so atoms and energy
/// balance. Templates over the scalar: double simulates, duals give the exact Jacobian with respect to the
/// implicit states; linear.hpp asks for them with respect to the commands too.
#pragma once

#include "plant-model/environment/ambient.hpp"
#include "plant-model/flow/gas_links.hpp"
#include "plant-model/instruments/true_values.hpp"
#include "plant-model/integrate/dense_matrix.hpp"
#include "plant-model/parameters.hpp"
#include "plant-model/stack/stack.hpp"

namespace duskline::plant {

Boundary make_boundary(const PlantParameters& p, const Ambient& ambient, double dust);

/// Everything that instruments and reports may look at; SI.
struct PlantOutputs {
  TrueValues<double> truth;
  double plenum_pressure, cathode_pressure, anode_pressure, suction_pressure;
  Composition<double> feed_gas, cathode_gas, anode_gas, inlet_gas;
  double intake_flow, feed_flow, exhaust_flow, recycle_flow, product_flow;  ///< kg/s
  double leak_flow;                                                         ///< mol/s cathode to anode
  double oxygen_made, oxygen_delivered;                                     ///< kg/s
  double utilisation;  ///< share of the CO2 in the feed that is converted, < 0 where CO burns
  double stack_voltage, stack_power, compressor_power, heater_power, bus_power;
  double feed_temperature, discharge_temperature, exhaust_temperature;
  double shaft_load;  ///< W on the compressor shaft by gas and friction
  double gradient;    ///< K, largest difference between neighbouring zones
  std::array<double, kZones> zone_temperature;
  CellReadings cells;
  double min_margin, min_nickel_ratio;
  std::size_t worst_cell;
};

template <class S>
struct Derivatives {
  std::array<S, kImplicit> implicit;
  std::array<S, kQuadratures> quadrature;
};

/// Atoms of each element in a composition (mol or mol/s).
template <class S>
std::array<S, kElements> atoms_in(const Composition<S>& n) {
  std::array<S, kElements> a;
  a.fill(S(0.0));
  for (std::size_t i = 0; i < kSpecies; ++i)
    for (std::size_t e = 0; e < kElements; ++e)
      if (kAtoms[i][e] != 0.0) a[e] = a[e] + kAtoms[i][e] * n[i];
  return a;
}

/// Right-hand side at implicit state `x` and slow state `slow`. `memory` keeps warm starts; `out` may be
/// null.
template <class S>
Derivatives<S> flowsheet(const PlantParameters& p, const Boundary& b, const Commands& u, const S* x,
                         const double* slow, StackMemory& memory, PlantOutputs* out);

/// Derivatives of the slow states; call after flowsheet<double> at the same state.
void slow_rates(const PlantParameters& p, const Boundary& b, const State& x, const StackMemory& memory,
                const std::array<double, kImplicit>& rates, double intake, double* dslow);

/// The plant as a system for the integrator: value semantics, one instance a run.
class Plant {
 public:
  explicit Plant(const PlantParameters& parameters) : parameters_(parameters) {}

  /// dx/dt at x; the time only enters through the boundary, which is held during a tick.
  void operator()(const State& x, State& dxdt, double t);
  /// Exact derivatives of the implicit and quadrature rates with respect to the implicit states.
  void jacobian(const State& x, double t, DenseMatrix& j);
  /// Corrects dx/dt, observed at x before a change of commands, for the new commands: they act through
  /// the actuators' own lags alone (and the shaft's share of power and heat).
  void command_rates(const State& x, State& dxdt);
  /// dx/dt together with all algebraic outputs at x.
  void observe(const State& x, State& dxdt, PlantOutputs& out);

  const PlantParameters& parameters() const { return parameters_; }
  PlantParameters& parameters() { return parameters_; }
  const Boundary& boundary() const { return boundary_; }
  void set_boundary(const Ambient& ambient, double dust) {
    boundary_ = make_boundary(parameters_, ambient, dust);
  }
  void set_commands(const Commands& u) { commands_ = u; }
  const Commands& commands() const { return commands_; }
  int newton_steps() const { return memory_.newton_steps; }
  const StackMemory& memory() const { return memory_; }

  /// Atoms (mol) and energy (J) held by all stores at x.
  std::array<double, kElements> atoms(const State& x) const;
  double energy(const State& x) const;

 private:
  PlantParameters parameters_;
  Boundary boundary_;
  Commands commands_;
  StackMemory memory_;
  double shaft_load_{};  ///< W, without acceleration, at the latest observation
  double intake_{};      ///< kg/s at the latest observation; only the dust on the filter depends on it
};

/// Initial states; the housing stands at the ambient temperature (cold) or above it by its own heat.
/// Cold: the stack at `temperature` (0: ambient), all at ambient pressure; `co`: the CO share left in the
/// cathode.
State cold_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);
/// Hot stack at `temperature` with protective gas at ambient pressure; compressor at rest.
State hot_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);
/// Hot stack with protective current and flow: compressor turning, recycle valve open, pressures and inlet CO as the
/// choked apertures, the feed line and the machine of this plant settle at them.
State standby_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);
/// Hot stack under working pressures with the compressor and the current near their rated values.
State producing_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);

}  // namespace duskline::plant
