/// Plants as they come: parameters drawn around the design for each seed.
///
/// What it is   factors on the resistances of the cells, the flow shares of the cells and the swept volume
/// Equation     resistance_k = 1 + R (0.7 u + 0.3 u_k); share_k = (1 + F v_k)/mean; displacement *= 1 + F w
/// Symbols      R, F [1] half-widths; u, u_k, v_k, w uniform in (-1, 1), from the streams "dispersion/..."
/// Validity     R, F below 0.5; the errors of the instruments are drawn by their own streams (instruments/)
/// Source       bounds of the acceptance runs: resistance +-20 %, flow +-10 %; the split into a common and an
///              own part is an estimate (one batch of cells, one heat treatment)
/// Left out     dispersion of everything else
#pragma once

#include "plant-model/parameters.hpp"
#include "plant-model/random/noise.hpp"

namespace duskline::harness {

struct Spread {
  double resistance = 0.2;  ///< 1, half-width
  double flow = 0.1;        ///< 1, half-width
};

inline void disperse(plant::PlantParameters& p, const Spread& spread, std::uint64_t seed) {
  const auto draw = [&](const char* stream, std::int64_t i) {
    return 2.0 * plant::NoiseStream(seed, stream).uniform(i) - 1.0;
  };
  const double common = draw("dispersion/resistance", 0);
  double mean = 0.0;
  for (std::size_t c = 0; c < plant::kCells; ++c) {
    const auto k = static_cast<std::int64_t>(c) + 1;
    p.stack.resistance_factor[c] *=
        1.0 + spread.resistance * (0.7 * common + 0.3 * draw("dispersion/resistance", k));
    p.stack.flow_share[c] *= 1.0 + spread.flow * draw("dispersion/flow", k);
    mean += p.stack.flow_share[c] / static_cast<double>(plant::kCells);
  }
  for (double& share : p.stack.flow_share) share /= mean;
  p.compressor.displacement *= 1.0 + spread.flow * draw("dispersion/displacement", 0);
}

}  // namespace duskline::harness
