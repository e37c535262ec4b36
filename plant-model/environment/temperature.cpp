#include "plant-model/environment/temperature.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/environment/composites.hpp"

namespace duskline::plant {
namespace {

std::array<double, 7> seasons() {
  std::array<double, 7> ls = kCompositeSeasons;
  for (double& x : ls) x *= kDegree;
  return ls;
}

std::array<double, 12> times_of_day() {
  std::array<double, 12> t = kCompositeHours;
  for (double& x : t) x /= 24.0;
  return t;
}

double site_shift(const Site& site, double ls) {
  return site.thermal.warmer + site.thermal.warmer_swing * std::cos(ls - site.thermal.warmest_at);
}

}  // namespace

double sun_warped_time(double local_time, double sunrise_time) {
  // One sine keeps noon and midnight in place and is monotone for sunrises between 3.7 h and 8.3 h.
  const double rise = std::clamp(sunrise_time, 0.155, 0.345);
  const double bend = (0.25 - rise) / std::sin(kTurn * rise);
  return local_time + bend * std::sin(kTurn * local_time);
}

double storm_range_factor(double excess_depth) {
  return 1.0 / (1.0 + 0.1 * excess_depth);
}

double storm_mean_shift(double excess_depth) {
  return -3.0 * (1.0 - std::exp(-excess_depth / 3.0));
}

double sky_temperature(double daily_mean, double optical_depth) {
  return daily_mean * std::pow(0.12 + 0.88 * (1.0 - std::exp(-0.45 * optical_depth)), 0.25);
}

double site_range(const Site& site, double ls) {
  return site.thermal.range + site.thermal.range_swing * std::cos(ls - site.thermal.widest_at);
}

AirTemperature::AirTemperature()
    : table_(seasons(), kTurn, times_of_day(), 1.0, kCompositeTemperature),
      middle_latitude_(times_of_day(), 1.0, kMiddleLatitudeDay) {
  std::array<double, 7> mean{};  // of a periodic spline through equal steps: the mean of its nodes
  for (std::size_t i = 0; i < mean.size(); ++i) {
    for (const double t : kCompositeTemperature[i]) mean[i] += t / 12.0;
  }
  mean_ = PeriodicSpline<7>(seasons(), kTurn, mean);
}

double AirTemperature::composite(double ls, double warped_time) const {
  return table_(ls, warped_time);
}

double AirTemperature::operator()(const Site& site, double ls, double local_time, double excess_depth) const {
  const double time = sun_warped_time(local_time, sunrise(site.latitude, ls));
  const double range = site_range(site, ls) * storm_range_factor(excess_depth);
  const double mean = mean_(ls);
  const double equator = table_(ls, time) - mean;
  const double departure = equator + site.thermal.middle_latitude * (middle_latitude_(time) - equator);
  return mean + site_shift(site, ls) + storm_mean_shift(excess_depth) + range * departure;
}

double AirTemperature::daily_mean(const Site& site, double ls, double excess_depth) const {
  return mean_(ls) + site_shift(site, ls) + storm_mean_shift(excess_depth);
}

DailyCurve::DailyCurve(const AirTemperature& air) : air_(air) {
  std::array<double, 24> ls{}, low{}, high{};
  for (std::size_t i = 0; i < ls.size(); ++i) {
    ls[i] = static_cast<double>(i) * 15.0 * kDegree;
    low[i] = high[i] = air.composite(ls[i], 0.0);
    for (int j = 1; j < 192; ++j) {
      const double t = air.composite(ls[i], j / 192.0);
      low[i] = std::min(low[i], t);
      high[i] = std::max(high[i], t);
    }
  }
  lowest_ = PeriodicSpline<24>(ls, kTurn, low);
  highest_ = PeriodicSpline<24>(ls, kTurn, high);
}

double DailyCurve::operator()(double ls, double warped_time) const {
  const double low = lowest_(ls);
  return std::clamp((air_.composite(ls, warped_time) - low) / (highest_(ls) - low), 0.0, 1.0);
}

double ground_temperature(const Site& site, double air, double sun, double range, double clearness) {
  return air +
         range * (site.thermal.ground_by_day * sun * clearness - site.thermal.ground_by_night * (1.0 - sun));
}

}  // namespace duskline::plant
