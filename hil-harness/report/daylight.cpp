#include "hil-harness/report/daylight.hpp"

#include <cmath>
#include <numbers>

namespace duskline::harness {
namespace {

constexpr double kLow = 6.0 * std::numbers::pi / 180.0;

enum class Light { night, low, day };

Light light(double elevation) {
  return elevation < -kLow ? Light::night : elevation < kLow ? Light::low : Light::day;
}

}  // namespace

std::vector<Interval> dark_intervals(std::span<const double> times, std::span<const double> elevation) {
  std::vector<Interval> result;
  if (times.empty() || elevation.size() != times.size()) return result;
  double from = times.front();
  Light now = light(elevation.front());
  bool rising = elevation.size() > 1 && elevation[1] > elevation[0];
  const auto end = [&](double time) {
    if (now != Light::day && time > from)
      result.push_back({now == Light::night ? "night" : rising ? "dawn" : "dusk", from, time});
    from = time;
  };
  for (std::size_t i = 1; i < times.size(); ++i) {
    // The step may cross both edges of the low sun, so it is walked edge by edge.
    while (light(elevation[i]) != now) {
      const bool up = elevation[i] > elevation[i - 1];
      const double edge = up ? (now == Light::night ? -kLow : kLow) : (now == Light::day ? kLow : -kLow);
      const double share = (edge - elevation[i - 1]) / (elevation[i] - elevation[i - 1]);
      if (!std::isfinite(share)) break;
      end(times[i - 1] + share * (times[i] - times[i - 1]));
      now = now == Light::low ? (up ? Light::day : Light::night) : Light::low;
      rising = up;
    }
  }
  end(times.back());
  return result;
}

std::vector<double> unwrapped_hours(std::span<const double> fraction_of_sol) {
  std::vector<double> hours;
  double sols = 0.0;
  double before = fraction_of_sol.empty() ? 0.0 : fraction_of_sol.front();
  for (const double fraction : fraction_of_sol) {
    if (fraction < before - 0.5) sols += 1.0;
    before = fraction;
    hours.push_back(24.0 * (sols + fraction));
  }
  return hours;
}

}  // namespace duskline::harness
