#include "plant-model/environment/environment.hpp"

#include <algorithm>
#include <cmath>

namespace duskline::plant {
namespace {

constexpr double kMeanAirConstant = 191.2;  // J/kg/K of the mean air; only scales the swirl of a vortex
constexpr double kVorticesPerSol = 4.9;     // deeper than 0.5 Pa
constexpr double kPassingSpeed = 4.5;       // m/s, at which vortices drift past

double felt_for(double width) {
  return 0.5 * kVortexReach * width;
}

}  // namespace

Environment::Environment(const EnvironmentSettings& settings, double period)
    : climate_(settings),
      period_(period),
      turbulence_(settings.seed),
      vortex_draws_(settings.seed, "environment/vortices") {}

Environment::Knot Environment::knot(std::int64_t index) const {
  const Climate::Moment m = climate_.at(static_cast<double>(index) * kKnotSpacing);
  const Ambient& a = m.ambient;
  Knot k{};
  k.value[kPressure] = a.pressure;
  k.value[kTemperature] = a.temperature;
  k.value[kWind] = a.wind_speed;
  k.value[kSky] = a.sky_temperature;
  k.value[kGround] = a.ground_temperature;
  k.value[kDepth] = a.optical_depth;
  k.value[kDust] = a.dust_concentration;
  k.value[kElevation] = a.solar_elevation;
  k.value[kLongitude] = m.longitude;
  k.value[kSols] = m.sols;
  k.value[kConvection] = m.convection;
  k.value[kCarbonMonoxide] = a.composition[CO];
  k.value[kOxygen] = a.composition[O2];
  k.value[kNitrogen] = a.composition[N2];
  k.value[kArgon] = a.composition[Ar];
  return k;
}

void Environment::move_to(std::int64_t interval) {
  if (interval == interval_ + 1) {
    std::rotate(knots_.begin(), knots_.begin() + 1, knots_.end());
    knots_[3] = knot(interval + 2);
  } else {
    for (std::int64_t i = 0; i < 4; ++i) knots_[static_cast<std::size_t>(i)] = knot(interval - 1 + i);
  }
  interval_ = interval;
  const double from = static_cast<double>(interval) * kKnotSpacing, to = from + kKnotSpacing;
  const EnvironmentSettings& settings = climate_.settings();
  near_vortices_.clear();
  near_gusts_.clear();
  const auto keep = [&](const VortexEvent& v) {
    const double reach = felt_for(v.width);
    if (v.time + reach > from && v.time - reach < to) near_vortices_.push_back(v);
  };
  std::for_each(settings.vortices.begin(), settings.vortices.end(), keep);
  if (settings.turbulence > 0.0) {
    const auto sol = static_cast<std::int64_t>(std::floor(knots_[1].value[kSols]));
    if (sol != sol_of_vortices_) {
      sol_vortices_ = random_vortices(sol);
      sol_of_vortices_ = sol;
    }
    std::for_each(sol_vortices_.begin(), sol_vortices_.end(), keep);  // none reaches across midnight
  }
  for (const GustEvent& g : settings.gusts) {
    if (std::abs(g.time - 0.5 * (from + to)) < 0.5 * (g.length + kKnotSpacing)) near_gusts_.push_back(g);
  }
}

std::vector<VortexEvent> Environment::random_vortices(std::int64_t sol) const {
  const EnvironmentSettings& settings = climate_.settings();
  if (!(settings.turbulence > 0.0)) return {};
  // Their number follows the convection of that sol's noon.
  const double noon = climate_.time_at(static_cast<double>(sol) + 0.5);
  const double expected = kVorticesPerSol * climate_.at(noon).convection;
  std::vector<VortexEvent> events;
  for (const SolVortex& v : vortices_of_sol(vortex_draws_, sol, expected)) {
    const double time = climate_.time_at(static_cast<double>(sol) + v.local_time);
    events.push_back({time, settings.turbulence * v.depth, v.diameter / kPassingSpeed,
                      settings.turbulence * v.warming, v.dust});
  }
  std::sort(events.begin(), events.end(),
            [](const VortexEvent& a, const VortexEvent& b) { return a.time < b.time; });
  return events;
}

std::vector<VortexEvent> Environment::vortices_between(double from, double to) const {
  std::vector<VortexEvent> events;
  const auto inside = [=](const VortexEvent& v) { return v.time >= from && v.time < to; };
  const auto& scheduled = climate_.settings().vortices;
  std::copy_if(scheduled.begin(), scheduled.end(), std::back_inserter(events), inside);
  const double first = std::floor(climate_.at(from).sols), last = std::floor(climate_.at(to).sols);
  for (auto sol = static_cast<std::int64_t>(first); sol <= static_cast<std::int64_t>(last); ++sol) {
    const auto of_sol = random_vortices(sol);
    std::copy_if(of_sol.begin(), of_sol.end(), std::back_inserter(events), inside);
  }
  std::stable_sort(events.begin(), events.end(),
                   [](const VortexEvent& a, const VortexEvent& b) { return a.time < b.time; });
  return events;
}

void Environment::add_turbulence(Ambient& a, double convection, double t) {
  const double scale = climate_.settings().turbulence;
  const Turbulence::Sample x = turbulence_.at(t);
  a.temperature +=
      scale * ((0.2 + 2.3 * convection) * x.temperature_fast + (0.2 + 0.8 * convection) * x.temperature_slow);
  a.pressure +=
      scale * ((0.02 + 0.03 * convection) * x.pressure_fast + (0.06 + 0.04 * convection) * x.pressure_slow);
  // Two thirds of the variance of the wind in the fast part.
  const double gusts = 0.816 * x.wind_fast + 0.577 * x.wind_slow;
  a.wind_speed = std::max(0.0, a.wind_speed + scale * (0.25 * a.wind_speed + convection) * gusts);
}

void Environment::add_events(Ambient& a, double t) const {
  const double density = a.pressure / (kMeanAirConstant * a.temperature);
  for (const VortexEvent& v : near_vortices_) {
    const Disturbance d = vortex_at(v, t, density);
    a.pressure += d.pressure;
    a.temperature += d.temperature;
    a.wind_speed += d.wind_speed;
    a.dust_concentration += d.dust;
  }
  for (const GustEvent& g : near_gusts_) a.wind_speed += gust_at(g, t);
}

Ambient Environment::at(std::int64_t tick) {
  const double t = static_cast<double>(tick) * period_;
  const double whole = std::floor(t * (1.0 / kKnotSpacing));
  const auto interval = static_cast<std::int64_t>(whole);
  if (interval != interval_) move_to(interval);

  // Cubic through four knots with centred slopes (Catmull-Rom); the weights add up to 1.
  const double x = t * (1.0 / kKnotSpacing) - whole;
  const double w0 = 0.5 * x * (-1.0 + x * (2.0 - x)), w3 = 0.5 * x * x * (x - 1.0);
  const double w1 = 1.0 + 0.5 * x * x * (3.0 * x - 5.0), w2 = 0.5 * x * (1.0 + x * (4.0 - 3.0 * x));
  Knot k;
  for (std::size_t i = 0; i < kChannels; ++i) {
    k.value[i] = (w1 * knots_[1].value[i] + w2 * knots_[2].value[i]) +
                 (w0 * knots_[0].value[i] + w3 * knots_[3].value[i]);
  }
  const auto& v = k.value;
  Ambient a{.pressure = v[kPressure],
            .temperature = v[kTemperature],
            .wind_speed = std::max(0.0, v[kWind]),
            .sky_temperature = v[kSky],
            .ground_temperature = v[kGround],
            .optical_depth = v[kDepth],
            .dust_concentration = std::max(0.0, v[kDust]),
            .solar_elevation = v[kElevation],
            .areocentric_longitude = v[kLongitude] - kTurn * std::floor(v[kLongitude] / kTurn),
            .local_time = v[kSols] - std::floor(v[kSols]),
            .composition = {0.0, v[kCarbonMonoxide], v[kOxygen], v[kNitrogen], v[kArgon]}};
  close_composition(a.composition);
  if (climate_.settings().turbulence > 0.0) add_turbulence(a, std::max(0.0, v[kConvection]), t);
  if (!near_vortices_.empty() || !near_gusts_.empty()) add_events(a, t);
  return a;
}

}  // namespace duskline::plant
