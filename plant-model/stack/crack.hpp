/// Cracks: when the ceramic gives way, and what leaks then.
///
/// Equation     a cell cracks where the difference between neighbouring zones or between cathode and anode
///              reaches what it stands; leak = seals + sum of cracks x repeats
/// Symbols      gradient [K], pressure difference [Pa], leak [mol/s/Pa]
/// Source       estimates of the plant file
/// Left out     growth of a crack, fatigue, the place within the cell
#pragma once

#include "plant-model/stack/stack_parameters.hpp"

namespace duskline::plant {

/// `gradient`: largest difference between neighbouring zones, K; `pressure`: that across the cells, Pa.
inline bool overloaded(const StackParameters& s, double gradient, double pressure) {
  return gradient >= s.crack_gradient || pressure >= s.crack_pressure;
}

inline void crack(StackParameters& s, std::size_t cell) {
  s.crack_leak[cell] += s.crack_size;
}

/// Leak from cathode to anode through all seals and cracks, mol/s/Pa.
inline double total_leak(double seals, const StackParameters& s) {
  double leak = seals;
  for (const double each : s.crack_leak) leak += each * s.repeats;
  return leak;
}

}  // namespace duskline::plant
