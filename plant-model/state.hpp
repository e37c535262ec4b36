/// How finely a stack module is divided, and the places of its entries within its slices of the state.
#pragma once

#include <array>
#include <cstddef>

#include "plant-model/gas/species.hpp"
#include "plant-model/stack/column.hpp"

namespace duskline::plant {

inline constexpr std::size_t kCells = 8;  ///< modelled cells; a larger stack repeats each of them
inline constexpr std::size_t kZones = 5;  ///< along the stack
inline constexpr std::size_t kEnds = 2;   ///< end plates
inline constexpr std::size_t kStackNodes = kZones * kSegments;  ///< of the usual division

namespace at {

// Within the implicit entries of a module.
inline constexpr std::size_t cathode = 0;                            ///< mol of each species
inline constexpr std::size_t anode = cathode + kSpecies;             ///< mol
inline constexpr std::size_t current = anode + kSpecies;             ///< A, stack
inline constexpr std::size_t end_power = current + 1;                ///< W, two end-plate heaters
inline constexpr std::size_t preheater_power = end_power + kEnds;    ///< W
inline constexpr std::size_t recycle_opening = preheater_power + 1;  ///< 1
inline constexpr std::size_t feed_opening = recycle_opening;         ///< 1, where there are headers
inline constexpr std::size_t stack = recycle_opening + 1;            ///< K, zone by zone, inlet to outlet

/// The solids behind a stack whose cells have N segments, K.
template <std::size_t N>
struct Solids {
  static constexpr std::size_t end_plate = stack + kZones * N;
  static constexpr std::size_t manifold = end_plate + kEnds;  ///< hot manifolds, cathode and anode volume
  static constexpr std::size_t preheater = manifold + 1;
  static constexpr std::size_t inner_insulation = preheater + 1;
  static constexpr std::size_t outer_insulation = inner_insulation + 1;
  static constexpr std::size_t module_end = outer_insulation + 1;
};
// of the usual division
inline constexpr std::size_t end_plate = Solids<kSegments>::end_plate;
inline constexpr std::size_t manifold = Solids<kSegments>::manifold;
inline constexpr std::size_t preheater = Solids<kSegments>::preheater;
inline constexpr std::size_t inner_insulation = Solids<kSegments>::inner_insulation;
inline constexpr std::size_t outer_insulation = Solids<kSegments>::outer_insulation;
inline constexpr std::size_t module_end = Solids<kSegments>::module_end;

// Within the slow entries of a module; one for each cell.
inline constexpr std::size_t carbon = 0;                       ///< mol
inline constexpr std::size_t carbon_damage = carbon + kCells;  ///< 1
inline constexpr std::size_t oxide = carbon_damage + kCells;   ///< mol
inline constexpr std::size_t oxide_damage = oxide + kCells;    ///< 1
inline constexpr std::size_t ageing = oxide_damage + kCells;   ///< ohm m2
inline constexpr std::size_t module_slow_end = ageing + kCells;

}  // namespace at

}  // namespace duskline::plant
