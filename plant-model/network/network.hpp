/// A plant as a network of parts: lays out the state, runs the rounds of an evaluation, sums atoms and energy.
///
///   surroundings -> intake train -> feed terminal (plenum) -> stack modules -> surroundings
///                        ^                                          |
///                        +------------ suction terminal <-----------+
///
/// With headers: each module stands between the feed header and those of exhaust and product, whose valves lead to the
/// surroundings, to the suction and to the tank (parts/header_valves.hpp).
///
/// What it is   the parts in order (modules, then what they share), and what each evaluation does with them
/// Equation     show, flow, settle (board.hpp); quadratures = sums at the boundary
/// Validity     immutable once made; copies of a plant share it
/// Left out     connections other than these
#pragma once

#include <memory>
#include <vector>

#include "plant-model/integrate/bordered.hpp"
#include "plant-model/network/part.hpp"

namespace duskline::plant {

class Network {
 public:
  /// `division` of the cells along their flow (variants.hpp).
  explicit Network(const PlantForm& form = {}, int division = kUsualDivision);
  /// The usual form with this many modules.
  explicit Network(std::size_t modules, int division = kUsualDivision)
      : Network(PlantForm{.modules = modules}, division) {}

  const Layout& layout() const { return layout_; }
  std::size_t modules() const { return modules_; }
  Memory memory() const { return {std::vector<StackMemory>(modules_), 0.0}; }

  /// A board with room for every terminal.
  template <class S>
  Board<S> board() const;

  /// All rates at the state that the board points to.
  template <class S>
  void evaluate(Board<S>& b) const;
  /// Corrects rates that evaluate() has given for the commands on the board.
  void command(Board<double>& b) const;

  /// Exact derivatives of implicit and quadrature rates by the implicit states of x; the board has parameters,
  /// surroundings, commands, slow states and the memory of an evaluation at x. `j` comes zeroed.
  void jacobian(Board<PlantDual>& b, const State& x, DenseMatrix& j) const;
  void jacobian(Board<PlantDual>& b, const State& x, BorderedJacobian& j) const;

  Holdings holdings(const ParameterView& p, const State& x) const;
  State start(const ParameterView& p, const Start& s) const;

 private:
  GasTerminal gas_terminal() { return static_cast<GasTerminal>(gas_terminals_++); }
  /// Rates of the quadratures from the sums.
  template <class S>
  static void cross(Board<S>& b);

  HeatTerminal heat_terminal() { return static_cast<HeatTerminal>(heat_terminals_++); }

  std::size_t modules_;
  std::size_t gas_terminals_ = 0, heat_terminals_ = 0;
  Layout layout_;
  std::vector<std::unique_ptr<const Part>> parts_;  ///< modules first
};

}  // namespace duskline::plant
