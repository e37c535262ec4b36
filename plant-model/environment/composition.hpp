/// Composition of the air by season: carbon dioxide freezes out and comes back, the other gases stay.
/// x_i = mean_i [1 + swing_i cos(Ls - peak_i)] for CO, O2, N2, Ar; x_CO2 = 1 - the rest
/// x: mole fraction; Ls: rad.
/// Valid near the equator; single measurements scatter by about 20 % in O2, 5 % in N2 and Ar.
/// Source: means of Trainer et al. 2019 (doi 10.1029/2019JE006175); swings fitted to 29 dates, estimates.
/// Left out: water vapour, methane, the oxygen excess of some northern springs.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/environment/sol_clock.hpp"
#include "plant-model/gas/species.hpp"

namespace duskline::plant {

/// The minor gases in the order of Species; the entry of CO2 is unused.
struct SeasonalFraction {
  double mean, swing, peak;  ///< 1, 1, rad
};
inline constexpr std::array<SeasonalFraction, kSpecies> kSeasonalFractions{{{},
                                                                            {7.0e-4, .08, 190 * kDegree},
                                                                            {1.6e-3, .13, 204 * kDegree},
                                                                            {.0259, .08, 190 * kDegree},
                                                                            {.0194, .09, 176 * kDegree}}};

/// Sets CO2 to what the other gases leave.
constexpr void close_composition(Composition<double>& x) {
  x[CO2] = 1.0 - (x[CO] + x[O2] + x[N2] + x[Ar]);
}

inline Composition<double> seasonal_composition(double ls) {
  Composition<double> x{};
  for (std::size_t i = CO; i < kSpecies; ++i) {
    const SeasonalFraction& f = kSeasonalFractions[i];
    x[i] = f.mean * (1.0 + f.swing * std::cos(ls - f.peak));
  }
  close_composition(x);
  return x;
}

}  // namespace duskline::plant
