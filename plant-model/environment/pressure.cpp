#include "plant-model/environment/pressure.hpp"

#include <cmath>
#include <cstddef>

#include "plant-model/environment/composites.hpp"

namespace duskline::plant {

double seasonal_pressure(const Site& site, double ls) {
  const PressureCycle& cycle = site.pressure;
  double sum = 1.0;
  for (std::size_t k = 0; k < cycle.cosine.size(); ++k) {
    const double angle = static_cast<double>(k + 1) * ls;
    sum += cycle.cosine[k] * std::cos(angle) + cycle.sine[k] * std::sin(angle);
  }
  return cycle.mean * sum * std::exp(-(site.altitude - cycle.measured_at) / kScaleHeight);
}

// Both start with the slopes seen in ordinary seasons (1 % per 0.5, 1.3 % per 1) and level off in great
// storms.
double diurnal_amplitude(double depth) {
  return 0.02 + 0.05 * (1.0 - std::exp(-(depth - 0.2) * 0.4));
}

double semidiurnal_amplitude(double depth) {
  return 0.004 + 0.043 * (1.0 - std::exp(-(depth - 0.2) / 3.3));
}

Tides::Tides() {
  std::array<double, 12> middle{};
  for (std::size_t i = 0; i < 12; ++i) middle[i] = (15.0 + 30.0 * static_cast<double>(i)) * kDegree;
  for (std::size_t k = 0; k < 3; ++k) {
    std::array<double, 12> c{}, s{};
    for (std::size_t i = 0; i < 12; ++i) {
      const TideSeason::Wave& wave = kTideSeasons[i].waves[k];
      const double phase = kTurn * static_cast<double>(k + 1) * wave.hour_of_maximum / 24.0;
      c[i] = 0.01 * wave.percent * std::cos(phase);
      s[i] = 0.01 * wave.percent * std::sin(phase);
    }
    cosine_[k] = PeriodicSpline<12>(middle, kTurn, c);
    sine_[k] = PeriodicSpline<12>(middle, kTurn, s);
  }
}

double Tides::operator()(double ls, double local_time, double scale, double season_depth,
                         double storm_depth) const {
  const bool storm = storm_depth > season_depth;
  const std::array<double, 3> growth{
      storm ? diurnal_amplitude(storm_depth) - diurnal_amplitude(season_depth) : 0.0,
      storm ? semidiurnal_amplitude(storm_depth) - semidiurnal_amplitude(season_depth) : 0.0, 0.0};
  double sum = 1.0;
  for (std::size_t k = 0; k < 3; ++k) {
    const double c = cosine_[k](ls), s = sine_[k](ls);
    const double angle = kTurn * static_cast<double>(k + 1) * local_time;
    const double gain = scale + growth[k] / std::hypot(c, s);  // a storm keeps the phase of the season
    sum += gain * (c * std::cos(angle) + s * std::sin(angle));
  }
  return sum;
}

}  // namespace duskline::plant
