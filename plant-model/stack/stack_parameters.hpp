/// How the cells of the stack differ, where they lie, and what cracks them.
#pragma once

#include <array>

#include "plant-model/state.hpp"

namespace duskline::plant {

struct StackParameters {
  double repeats{};                                ///< 1, real cells that each modelled cell stands for
  std::array<double, kCells> zone{};               ///< 0..4, zone in which the cell lies
  std::array<double, kCells> resistance_factor{};  ///< 1
  std::array<double, kCells> flow_share{};         ///< 1, mean 1
  std::array<double, kCells> crack_leak{};         ///< mol/s/Pa through a cracked cell
  double crack_gradient{};                         ///< K between neighbouring zones that cracks a cell
  double crack_pressure{};                         ///< Pa between cathode and anode that cracks a cell
  double crack_size{};                             ///< mol/s/Pa that a crack adds
};

}  // namespace duskline::plant
