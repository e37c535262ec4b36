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

namespace at {

// Offsets of the implicit entries.
inline constexpr std::size_t plenum = 0;                             ///< mol of each species
inline constexpr std::size_t cathode = plenum + kSpecies;            ///< mol
inline constexpr std::size_t anode = cathode + kSpecies;             ///< mol
inline constexpr std::size_t speed = anode + kSpecies;               ///< rad/s, compressor shaft
inline constexpr std::size_t current = speed + 1;                    ///< A, stack
inline constexpr std::size_t end_power = current + 1;                ///< W, two end-plate heaters
inline constexpr std::size_t preheater_power = end_power + kEnds;    ///< W
inline constexpr std::size_t recycle_opening = preheater_power + 1;  ///< 1
inline constexpr std::size_t stack = recycle_opening + 1;            ///< K, zone by zone, inlet to outlet
inline constexpr std::size_t end_plate = stack + kStackNodes;        ///< K
inline constexpr std::size_t manifold =
    end_plate + kEnds;                                  ///< K, hot manifolds with cathode and anode volume
inline constexpr std::size_t preheater = manifold + 1;  ///< K
inline constexpr std::size_t inner_insulation = preheater + 1;         ///< K
inline constexpr std::size_t outer_insulation = inner_insulation + 1;  ///< K
inline constexpr std::size_t housing = outer_insulation + 1;           ///< K
inline constexpr std::size_t shell = housing + 1;                      ///< K, compressor shell
inline constexpr std::size_t plenum_wall = shell + 1;                  ///< K
inline constexpr std::size_t implicit_end = plenum_wall + 1;

// Offsets within the quadratures: what has come in, net, through the boundary.
inline constexpr std::size_t atoms = 0;                   ///< mol of each element
inline constexpr std::size_t energy = atoms + kElements;  ///< J
inline constexpr std::size_t oxygen = energy + 1;         ///< mol O2 delivered
inline constexpr std::size_t product = oxygen + 1;        ///< mol of product delivered
inline constexpr std::size_t bus_energy = product + 1;    ///< J
inline constexpr std::size_t quadrature_end = bus_energy + 1;

// Offsets within the slow entries; one for each cell where an array.
inline constexpr std::size_t carbon = 0;                       ///< mol
inline constexpr std::size_t carbon_damage = carbon + kCells;  ///< 1
inline constexpr std::size_t oxide = carbon_damage + kCells;   ///< mol
inline constexpr std::size_t oxide_damage = oxide + kCells;    ///< 1
inline constexpr std::size_t ageing = oxide_damage + kCells;   ///< ohm m2
inline constexpr std::size_t dust = ageing + kCells;           ///< kg on the filter
inline constexpr std::size_t slow_end = dust + 1;

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
