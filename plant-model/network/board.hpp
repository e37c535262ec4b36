/// What the parts of a plant see of one another during one evaluation.
///
/// What it is   three rounds: stores show themselves; links work out flows from that and add them up at their ends;
///              stores turn the sums into rates
/// Equation     what leaves one terminal enters another with the same amounts and the same enthalpy, so atoms and
///              energy balance whatever is connected
/// Symbols      amounts [mol/s], enthalpy [W], heat [W], bus [W]; a terminal is a number given out by the network
/// Validity     S is double or PlantDual
/// Left out     momentum between terminals
#pragma once

#include <span>
#include <vector>

#include "plant-model/flow/gas_store.hpp"
#include "plant-model/network/boundary.hpp"
#include "plant-model/network/layout.hpp"
#include "plant-model/outputs.hpp"
#include "plant-model/parameters.hpp"

namespace duskline::plant {

/// Derivatives with respect to this many quantities at once; more take further passes.
using PlantDual = Dual<64>;

enum class GasTerminal : std::size_t {};
enum class HeatTerminal : std::size_t {};

/// What flows into a gas terminal.
template <class S>
struct GasInflow {
  Composition<S> amount;  ///< mol/s
  S enthalpy;             ///< W

  void clear() {
    amount.fill(S(0.0));
    enthalpy = S(0.0);
  }
};

/// Everything that links add up.
template <class S>
struct Sums {
  std::vector<GasInflow<S>> gas;
  std::vector<S> heat;  ///< W into each heat terminal
  GasInflow<S>
      surroundings;   ///< from the surroundings into the plant; its enthalpy counts radiation and heat too
  S bus;              ///< W drawn from the supply
  S oxygen, product;  ///< mol/s delivered

  void clear() {
    for (GasInflow<S>& g : gas) g.clear();
    for (S& q : heat) q = S(0.0);
    surroundings.clear();
    bus = oxygen = product = S(0.0);
  }
  /// f of every sum, in one order.
  template <class F>
  void each(F&& f) {
    const auto inflow = [&f](GasInflow<S>& g) {
      for (S& n : g.amount) f(n);
      f(g.enthalpy);
    };
    for (GasInflow<S>& g : gas) inflow(g);
    for (S& q : heat) f(q);
    inflow(surroundings);
    f(bus);
    f(oxygen);
    f(product);
  }
};

/// What goes along from evaluation to evaluation.
struct Memory {
  std::vector<StackMemory> stacks;  ///< of each module
  double shaft_load = 0.0;          ///< W on the compressor, without acceleration, at the latest observation
};

/// What the modules share, and each one's own, where a plant has several.
struct ParameterView {
  const PlantParameters* shared = nullptr;
  std::span<const PlantParameters> modules;

  const PlantParameters& of(std::size_t module) const { return modules.empty() ? *shared : modules[module]; }
};

template <class S>
struct Board {
  ParameterView parameters;
  const Boundary* boundary = nullptr;
  SharedCommandsOf<S> commands{};
  std::vector<ModuleCommandsOf<S>> module_commands;
  Memory* memory = nullptr;
  const S* x = nullptr;                  ///< implicit states
  const double* slow = nullptr;          ///< slow states
  S* dx = nullptr;                       ///< their rates
  S* dq = nullptr;                       ///< rates of the quadratures
  double* dslow = nullptr;               ///< rates of the slow states, in double alone
  std::span<PlantOutputsOf<S>> out;      ///< of the modules that somebody looks at, the first ones
  SharedOutputsOf<S>* shared = nullptr;  ///< may be null

  std::vector<GasStore<S>>
      gas;  ///< shown by the store at each gas terminal; a node without volume shows nothing
  std::vector<S> temperature;  ///< K, shown by each heat terminal
  Sums<S> sums;

  const PlantParameters& plant() const { return *parameters.shared; }
  /// Whether anybody looks at all.
  bool seen() const { return !out.empty() || shared != nullptr; }
  /// One set of commands, that of the demo plant, for all modules and for what they share.
  void command(const CommandsOf<S>& u) {
    commands.compressor_speed = u.compressor_speed;
    for (ModuleCommandsOf<S>& m : module_commands)
      m = {u.stack_current, u.preheater_power, u.recycle_opening, u.end_power};
  }

  GasStore<S>& at(GasTerminal t) { return gas[static_cast<std::size_t>(t)]; }
  S& at(HeatTerminal t) { return temperature[static_cast<std::size_t>(t)]; }
  GasInflow<S>& into(GasTerminal t) { return sums.gas[static_cast<std::size_t>(t)]; }
  S& into(HeatTerminal t) { return sums.heat[static_cast<std::size_t>(t)]; }
};

}  // namespace duskline::plant
