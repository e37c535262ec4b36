#include "plant-model/environment/dust.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/environment/composites.hpp"

namespace duskline::plant {

double storm_progress(const StormEvent& storm, double t) {
  const double since = t - storm.start;
  if (since <= 0.0) return 0.0;
  if (since < storm.rise) {
    const double x = since / storm.rise;
    return x * x * (3.0 - 2.0 * x);
  }
  return storm.decay > 0.0 ? std::exp(-(since - storm.rise) / storm.decay) : 0.0;
}

OpticalDepth::OpticalDepth() {
  std::array<double, 12> middle{}, depth{};
  for (std::size_t i = 0; i < 12; ++i) {
    middle[i] = (15.0 + 30.0 * static_cast<double>(i)) * kDegree;
    depth[i] = kTideSeasons[i].optical_depth;
  }
  season_ = PeriodicSpline<12>(middle, kTurn, depth);
}

double OpticalDepth::seasonal(const Site& site, double ls) const {
  return site.dust * season_(ls);
}

double OpticalDepth::with_storms(double seasonal_depth, std::span<const StormEvent> storms, double t) {
  double depth = seasonal_depth;
  for (const StormEvent& storm : storms) {
    depth += std::max(0.0, storm.peak - seasonal_depth) * storm_progress(storm, t);
  }
  return depth;
}

}  // namespace duskline::plant
