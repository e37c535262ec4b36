/// The plant as a system for the integrator: the network of its parts with parameters, surroundings and commands.
///
/// Every flow enters one store with + and leaves another with -, with the same enthalpy, so atoms and energy
/// balance (network/board.hpp). Parts are templates over the scalar: double simulates, duals give the exact Jacobian
/// with respect to the implicit states; linear.hpp asks for them with respect to the commands too.
#pragma once

#include "plant-model/environment/ambient.hpp"
#include "plant-model/integrate/dense_matrix.hpp"
#include "plant-model/network/network.hpp"

namespace duskline::plant {

Boundary make_boundary(const PlantParameters& p, const Ambient& ambient, double dust);

/// Value semantics, one instance a run. The division of the cells is that of the parameters it is made with.
class Plant {
 public:
  explicit Plant(const PlantParameters& parameters, std::size_t modules = 1);

  /// dx/dt at x; the time only enters through the boundary, which is held during a tick.
  void operator()(const State& x, State& dxdt, double t);
  /// Exact derivatives of the implicit and quadrature rates with respect to the implicit states.
  void jacobian(const State& x, double t, DenseMatrix& j);
  /// The same block by block.
  void block_jacobian(const State& x, double t, BorderedJacobian& j);
  /// Corrects dx/dt, observed at x before a change of commands, for the new commands: they act through
  /// the actuators' own lags alone (and the shaft's share of power and heat).
  void command_rates(const State& x, State& dxdt);
  /// dx/dt together with all algebraic outputs at x.
  void observe(const State& x, State& dxdt, PlantOutputs& out);

  const Layout& layout() const { return network_->layout(); }
  const Network& network() const { return *network_; }
  const PlantParameters& parameters() const { return parameters_; }
  PlantParameters& parameters() { return parameters_; }
  const Boundary& boundary() const { return boundary_; }
  void set_boundary(const Ambient& ambient, double dust) {
    boundary_ = make_boundary(parameters_, ambient, dust);
  }
  /// With the dust that the filter holds at x.
  void set_boundary(const Ambient& ambient, const State& x) { set_boundary(ambient, x[dust_]); }
  void set_commands(const Commands& u) { commands_ = u; }
  const Commands& commands() const { return commands_; }
  int newton_steps() const { return memory_.stacks[0].newton_steps; }
  const Memory& memory() const { return memory_; }

  /// Atoms (mol) and energy (J) held by all stores at x.
  std::array<double, kElements> atoms(const State& x) const { return holdings(x).atoms; }
  double energy(const State& x) const { return holdings(x).energy; }
  Holdings holdings(const State& x) const { return network_->holdings(parameters_, x); }

 private:
  void evaluate(const State& x, State& dxdt, PlantOutputs* out);
  Board<PlantDual> dual_board(const State& x);
  /// Points the board at a state and its rates.
  void lay(const State& x, State& dxdt, PlantOutputs* out);

  std::shared_ptr<const Network> network_;
  std::size_t dust_;  ///< place in the state
  PlantParameters parameters_;
  Boundary boundary_;
  Commands commands_;
  Memory memory_;
  Board<double> board_;
};

/// Where the actuators stand.
Commands actuator_positions(const Layout& layout, const State& x);

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
