/// The plant as a system for the integrator: the network of its parts with parameters, surroundings and commands.
///
/// Every flow enters one store with + and leaves another with -, with the same enthalpy, so atoms and energy
/// balance (network/board.hpp). Parts are templates over the scalar: double simulates, duals give the exact Jacobian
/// with respect to the implicit states; linear.hpp asks for them with respect to the commands too.
#pragma once

#include <algorithm>

#include "plant-model/environment/ambient.hpp"
#include "plant-model/integrate/dense_matrix.hpp"
#include "plant-model/network/network.hpp"

namespace duskline::plant {

/// The parameters of each module of a plant with several: those of the plant with the module's differences.
std::vector<PlantParameters> module_parameters(const PlantParameters& p);

Boundary make_boundary(const PlantParameters& p, const Ambient& ambient, double dust);

/// Value semantics, one instance a run. The division of the cells is that of the parameters it is made with.
class Plant {
 public:
  /// In the form that the parameters say.
  explicit Plant(const PlantParameters& parameters);
  /// In the usual form with this many modules.
  Plant(PlantParameters parameters, std::size_t modules);

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
  void observe(const State& x, State& dxdt, PlantOutputs& out) { evaluate(x, dxdt, {&out, 1}, nullptr); }
  /// The same of each module, with what all share in it, and of what is shared in a plant with headers.
  void observe(const State& x, State& dxdt, std::span<PlantOutputs> of_modules, SharedOutputs& shared) {
    evaluate(x, dxdt, of_modules, &shared);
  }

  const Layout& layout() const { return network_->layout(); }
  const Network& network() const { return *network_; }
  const PlantParameters& parameters() const { return parameters_; }
  PlantParameters& parameters() { return parameters_; }
  /// Those of one module, from 0: where there are several, each has its own copy, and a change to one of them is a change to
  /// that module.
  PlantParameters& module_parameters(std::size_t module) {
    return modules_.empty() ? parameters_ : modules_[module];
  }
  std::size_t modules() const { return network_->modules(); }
  const Boundary& boundary() const { return boundary_; }
  void set_boundary(const Ambient& ambient, double dust) {
    boundary_ = make_boundary(parameters_, ambient, dust);
  }
  /// With the dust that the filter holds at x.
  void set_boundary(const Ambient& ambient, const State& x) { set_boundary(ambient, x[dust_]); }
  /// All modules alike.
  void set_commands(const Commands& u) {
    commands_ = u;
    board_.command(u);
  }
  /// One for each module.
  void set_commands(std::span<const ModuleCommands> of_modules, const SharedCommands& shared) {
    std::copy_n(of_modules.begin(), board_.module_commands.size(), board_.module_commands.begin());
    board_.commands = shared;
  }
  /// All of them, to keep a run and to go on with it.
  struct CommandsInForce {
    Commands all;
    std::array<ModuleCommands, kMostModules> modules;
    SharedCommands shared;
  };
  CommandsInForce commands_in_force() const {
    CommandsInForce u{commands_, {}, board_.commands};
    std::copy(board_.module_commands.begin(), board_.module_commands.end(), u.modules.begin());
    return u;
  }
  void set_commands(const CommandsInForce& u) {
    commands_ = u.all;
    set_commands(u.modules, u.shared);
  }
  std::span<const ModuleCommands> module_commands() const { return board_.module_commands; }
  const SharedCommands& shared_commands() const { return board_.commands; }
  const Commands& commands() const { return commands_; }
  int newton_steps() const { return memory_.stacks[0].newton_steps; }
  const Memory& memory() const { return memory_; }

  /// Atoms (mol) and energy (J) held by all stores at x.
  std::array<double, kElements> atoms(const State& x) const { return holdings(x).atoms; }
  double energy(const State& x) const { return holdings(x).energy; }
  Holdings holdings(const State& x) const { return network_->holdings(view(), x); }
  ParameterView view() const { return {&parameters_, modules_}; }

 private:
  void evaluate(const State& x, State& dxdt, std::span<PlantOutputs> out, SharedOutputs* shared);
  Board<PlantDual> dual_board(const State& x);
  /// Points the board at a state and its rates.
  void lay(const State& x, State& dxdt);

  std::shared_ptr<const Network> network_;
  std::size_t dust_;  ///< place in the state
  PlantParameters parameters_;
  std::vector<PlantParameters> modules_;  ///< where there are several
  Boundary boundary_;
  Commands commands_;
  Memory memory_;
  Board<double> board_;
};

/// Where the actuators stand.
Commands actuator_positions(const Layout& layout, const State& x);

/// At which a plant with headers begins its work, Pa: the set-points of its usual controller
/// (controller/include/plant_controller_parameters.h).
inline constexpr double kFeedHeader = 65e3, kExhaustHeader = 55e3, kProductHeader = 55.5e3;

/// Initial states; the housing stands at the ambient temperature (cold) or above it by its own heat.
/// Cold: the stack at `temperature` (0: ambient), all at ambient pressure; `co`: the CO share left in the
/// cathode.
State cold_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);
/// Hot stack at `temperature` with protective gas at ambient pressure; compressor at rest.
State hot_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);
/// Hot stack with protective current and flow: compressor turning, recycle valve open, pressures and inlet CO as the
/// choked apertures, the feed line and the machine of this plant settle at them.
State standby_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);
/// The same with the rated current of this plant and two thirds of its CO2 converted.
State producing_state(const PlantParameters& p, const Ambient& ambient, double temperature, double co);

}  // namespace duskline::plant
