/// What hours, heating and gas leave in the cells: the slow entries of a module.
///
/// What it is   rates of carbon, oxide, damage and ageing of each cell
/// Equation     dR/dt = r (I/A)/(3000 A/m2) + c |dT/dt|/(1560 K) max(1, (dT/dt / 2 K/min)^2); damage grows with what
///              forms and does not heal
/// Symbols      R [ohm m2] added resistance, r [ohm m2/s], c [ohm m2] a full cycle of 780 K up and down, T [K] mean of the
///              zone
/// Validity     rates of carbon and oxide as the stack was last evaluated (cell_limits.hpp)
/// Source       estimates of the plant file
/// Left out     chromium, sulphur
#pragma once

#include <algorithm>
#include <cmath>

#include "plant-model/stack/stack.hpp"

namespace duskline::plant {

/// `rates` are those of the module's implicit entries, `d` of its slow ones.
template <std::size_t N>
void slow_rates(const DegradationParameters& g, const CellParameters& cell, const StackParameters& stack,
                double current, const StackMemory& memory, const double* rates, double* d) {
  const double current_density = std::abs(current) / cell.area;
  for (std::size_t c = 0; c < kCells; ++c) {
    const auto zone = static_cast<std::size_t>(stack.zone[c]);
    double rate = 0.0;  // K/s, mean over the zone
    for (std::size_t k = 0; k < N; ++k) rate += rates[at::stack + zone * N + k] / static_cast<double>(N);
    constexpr double kGentle = 2.0 / 60.0, kFullCycle = 2.0 * 780.0;  // K/s; K up and down
    const double harsh = std::max(1.0, (rate / kGentle) * (rate / kGentle));
    d[at::carbon + c] = memory.carbon_rate[c];
    d[at::carbon_damage + c] = g.carbon_damage * std::max(0.0, memory.carbon_rate[c]);
    d[at::oxide + c] = memory.oxide_rate[c];
    d[at::oxide_damage + c] = g.oxide_damage / g.nickel_amount * std::max(0.0, memory.oxide_rate[c]);
    d[at::ageing + c] =
        g.ageing_rate * current_density / 3000.0 + g.cycle_ageing * std::abs(rate) / kFullCycle * harsh;
  }
}

}  // namespace duskline::plant
