/// The state of the plant: names, units, tolerances and bounds of every entry, in one table.
///
/// The state has three parts. Implicit entries take part in the linearly implicit step; quadratures collect
/// what crossed the boundary and nothing depends on them; slow entries (carbon, oxide, ageing, dust) are
/// explicit.
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <string>

#include "plant-model/gas/species.hpp"
#include "plant-model/stack/column.hpp"

namespace duskline::plant {

inline constexpr std::size_t kCells = 8;  ///< modelled cells; a larger stack repeats each of them
inline constexpr std::size_t kZones = 5;  ///< along the stack
inline constexpr std::size_t kEnds = 2;   ///< end plates
inline constexpr std::size_t kStackNodes = kZones * kSegments;

/// Offsets of the implicit entries.
namespace at {
enum : std::size_t {
  plenum = 0,                           ///< mol of each species
  cathode = plenum + kSpecies,          ///< mol
  anode = cathode + kSpecies,           ///< mol
  speed = anode + kSpecies,             ///< rad/s, compressor shaft
  current,                              ///< A, stack
  end_power,                            ///< W, two end-plate heaters
  preheater_power = end_power + kEnds,  ///< W
  recycle_opening,                      ///< 1
  stack,                                ///< K, zone by zone, inlet to outlet
  end_plate = stack + kStackNodes,      ///< K
  manifold = end_plate + kEnds,         ///< K, hot manifolds with the cathode and anode volumes
  preheater,                            ///< K
  inner_insulation,                     ///< K
  outer_insulation,                     ///< K
  housing,                              ///< K
  shell,                                ///< K, compressor shell
  plenum_wall,                          ///< K
  implicit_end
};
/// Offsets within the quadratures.
enum : std::size_t { atoms = 0, energy = atoms + kElements, oxygen, product, bus_energy, quadrature_end };
/// Offsets within the slow entries; per cell where an array.
enum : std::size_t {
  carbon = 0,                       ///< mol
  carbon_damage = carbon + kCells,  ///< 1
  oxide = carbon_damage + kCells,   ///< mol
  oxide_damage = oxide + kCells,    ///< 1
  ageing = oxide_damage + kCells,   ///< ohm m2
  dust = ageing + kCells,           ///< kg on the filter
  slow_end
};
}  // namespace at

inline constexpr std::size_t kImplicit = at::implicit_end;
inline constexpr std::size_t kQuadratures = at::quadrature_end;
inline constexpr std::size_t kSlow = at::slow_end;
inline constexpr std::size_t kStates = kImplicit + kQuadratures + kSlow;

using State = std::array<double, kStates>;

struct StateInfo {
  std::string name, unit;
  double tolerance;     ///< absolute, in the unit: an error of this size moves no cell voltage by 1 mV
  double lower, upper;  ///< leaving this range ends the run
};

/// One row per entry of State, in order.
std::span<const StateInfo> state_table();

}  // namespace duskline::plant
