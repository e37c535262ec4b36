/// Where the states of every part stand, and what is known of each of them.
///
/// What it is   the table of states, written by the parts as the network is put together
/// Equation     state = [implicit; quadratures; slow]; implicit = [states of module 1; ...; states of the others]
/// Symbols      a place counts within its kind; index() gives the place in the whole state
/// Validity     modules are declared before the other parts; the quadratures are the same for every plant
/// Left out     states that come or go during a run
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "plant-model/gas/species.hpp"
#include "plant-model/integrate/division.hpp"

namespace duskline::plant {

/// Implicit entries first, then quadratures, then slow entries.
using State = std::vector<double>;

struct StateInfo {
  std::string name, unit;
  double tolerance;     ///< absolute, in the unit: an error of this size moves no cell voltage by 1 mV
  double lower, upper;  ///< leaving this range ends the run
  bool unfiltered =
      false;  ///< settles within a step on a curved characteristic: its error estimate is not damped
};

/// Places within the quadratures: what has come in, net, through the boundary.
namespace at {
inline constexpr std::size_t atoms = 0;                   ///< mol of each element
inline constexpr std::size_t energy = atoms + kElements;  ///< J
inline constexpr std::size_t oxygen = energy + 1;         ///< mol O2 delivered
inline constexpr std::size_t product = oxygen + 1;        ///< mol of product delivered
inline constexpr std::size_t bus_energy = product + 1;    ///< J
inline constexpr std::size_t quadrature_end = bus_energy + 1;
}  // namespace at

class Layout {
 public:
  Layout();

  /// Each returns the place of the first within its kind. `each` declares stem[1], stem[2], ...; `gas` one entry
  /// for each species.
  std::size_t implicit(const StateInfo& info) { return add(implicit_, info); }
  std::size_t slow(const StateInfo& info) { return add(slow_, info); }
  std::size_t implicit_each(std::size_t n, const StateInfo& info);
  std::size_t slow_each(std::size_t n, const StateInfo& info);
  std::size_t gas(const std::string& store, double tolerance);

  /// What is declared up to here belongs to one more module.
  void end_module();

  const Division& division() const { return division_; }
  std::size_t states() const { return division_.states(); }
  /// In the order of the state.
  std::vector<StateInfo> table() const;
  /// Place in the whole state of the entry with this name; throws std::out_of_range where there is none.
  std::size_t index(std::string_view name) const;

  std::size_t first_quadrature() const { return division_.implicit; }
  std::size_t first_slow() const { return division_.implicit + division_.coupled; }

 private:
  std::size_t add(std::vector<StateInfo>& kind, const StateInfo& info);

  std::vector<StateInfo> implicit_, quadratures_, slow_;
  Division division_;
};

}  // namespace duskline::plant
