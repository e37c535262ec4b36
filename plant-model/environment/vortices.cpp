#include "plant-model/environment/vortices.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace duskline::plant {

Disturbance vortex_at(const VortexEvent& vortex, double t, double air_density) {
  const double x = (t - vortex.time) / (0.5 * vortex.width);
  if (!(std::abs(x) < kVortexReach)) return {};
  constexpr double kEdge = 1.0 / (1.0 + kVortexReach * kVortexReach);
  const double core = (1.0 / (1.0 + x * x) - kEdge) / (1.0 - kEdge);
  const double swirl = 2.0 * std::abs(x) * core;
  return {-vortex.depth * core, vortex.warming * core, std::sqrt(vortex.depth / air_density) * swirl,
          vortex.dust * core};
}

double gust_at(const GustEvent& gust, double t) {
  const double x = (t - gust.time) / gust.length;
  if (!(std::abs(x) < 0.5)) return 0.0;
  const double c = std::cos(std::numbers::pi * x);
  return gust.speed * c * c;
}

std::vector<SolVortex> vortices_of_sol(const NoiseStream& stream, std::int64_t sol, double expected) {
  constexpr int kMost = 60;                       // of one sol; the chance of more is below 1e-30
  constexpr double kLeast = 0.5, kDeepest = 9.0;  // Pa
  constexpr std::int64_t kWordsPerSol = 1024;
  const std::int64_t base = sol * kWordsPerSol;
  // Number of events: inversion of the Poisson distribution.
  const double u = stream.uniform(base);
  double term = std::exp(-expected), below = term;
  int count = 0;
  while (u > below && count < kMost) {
    ++count;
    term *= expected / count;
    below += term;
  }
  std::vector<SolVortex> events;
  for (int i = 0; i < count; ++i) {
    const std::int64_t tick = base + 8 * (i + 1);
    const double shallow = kLeast / kDeepest;
    const double hour = 7.0 + 10.0 / std::numbers::pi * std::acos(1.0 - 2.0 * stream.uniform(tick));
    const double depth = kLeast / std::sqrt(1.0 - stream.uniform(tick + 1) * (1.0 - shallow * shallow));
    const double diameter = std::min(135.0, 5.0 - 15.0 * std::log(stream.uniform(tick + 2)));
    const double warming = std::min(10.0, 1.0 + depth);
    const double dust = depth > 2.0 && stream.uniform(tick + 3) < 0.75 ? 7.0e-5 : 0.0;
    events.push_back({hour / 24.0, depth, diameter, warming, dust});
  }
  return events;
}

}  // namespace duskline::plant
