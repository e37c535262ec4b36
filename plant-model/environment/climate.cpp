#include "plant-model/environment/climate.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "plant-model/environment/composites.hpp"

namespace duskline::plant {

Climate::Climate(const EnvironmentSettings& settings)
    : settings_(settings), wind_(kCompositeHours, 24.0, kCompositeWind), synoptic_(settings.seed) {
  settings_.start_local_time = wrap(settings_.start_local_time, 1.0);
  double ls = wrap(settings_.start_ls, kTurn);
  if (const WeatherSeries* weather = settings_.weather.get()) {
    // The sol of the file at the midnight before the start of the run.
    const double first = weather->by_season ? sols_since_equinox(ls) : weather->first_sol;
    weather_offset_ = std::floor(settings_.weather_start_sol.value_or(first));
    if (measured(WeatherQuantity::longitude)) {
      ls = wrap(weather->at(WeatherQuantity::longitude, weather_sol(0.0, settings_.start_local_time)), kTurn);
    }
    if (measured(WeatherQuantity::coldest)) daily_curve_.emplace(air_);
  }
  start_day_ = days_at_longitude(kTurn + ls);
  start_equation_ = equation_of_time(start_day_);
}

double Climate::equation_of_time_since_start(double t) const {
  return (equation_of_time(start_day_ + t / kDaySeconds) - start_equation_) / kTurn;
}

double Climate::time_at(double sols) const {
  double t = (sols - settings_.start_local_time) * kSolSeconds;
  for (int i = 0; i < 2; ++i) {
    t = (sols - settings_.start_local_time - equation_of_time_since_start(t)) * kSolSeconds;
  }
  return t;
}

double Climate::weather_sol(double t, double sols) const {
  return settings_.weather->from_start ? t / kSolSeconds : weather_offset_ + sols;
}

double Climate::air_temperature(const Season& s, double weather_sol) const {
  const Site& site = settings_.site;
  if (measured(WeatherQuantity::coldest)) {
    const double low = settings_.weather->at(WeatherQuantity::coldest, weather_sol);
    const double high = settings_.weather->at(WeatherQuantity::warmest, weather_sol);
    const double warped = sun_warped_time(s.local_time, sunrise(site.latitude, s.ls));
    return low + (high - low) * (*daily_curve_)(s.ls, warped);
  }
  const double excess = s.depth - s.seasonal_depth;
  if (measured(WeatherQuantity::temperature)) {
    const double value = settings_.weather->at(WeatherQuantity::temperature, weather_sol);
    if (!(*settings_.weather)[WeatherQuantity::temperature].daily()) return value;
    return value + air_(site, s.ls, s.local_time, excess) - air_.daily_mean(site, s.ls, excess);
  }
  return air_(site, s.ls, s.local_time, excess);
}

double Climate::pressure(const Season& s, double weather_sol) const {
  double mean = 0.0;
  if (measured(WeatherQuantity::pressure)) {
    mean = settings_.weather->at(WeatherQuantity::pressure, weather_sol);
    if (!(*settings_.weather)[WeatherQuantity::pressure].daily()) return mean;
  } else {
    mean = seasonal_pressure(settings_.site, s.ls);
  }
  return mean * tides_(s.ls, s.local_time, settings_.site.tide, s.seasonal_depth, s.depth);
}

Composition<double> Climate::composition(const Season& s, double weather_sol) const {
  if (settings_.composition) return *settings_.composition;
  Composition<double> x = seasonal_composition(s.ls);
  constexpr std::array<WeatherQuantity, kSpecies> kColumns{WeatherQuantity::co2, WeatherQuantity::co,
                                                           WeatherQuantity::o2, WeatherQuantity::n2,
                                                           WeatherQuantity::ar};
  for (std::size_t i = CO; i < kSpecies; ++i) {
    if (measured(kColumns[i])) x[i] = settings_.weather->at(kColumns[i], weather_sol);
    x[i] *= settings_.minor_gas_factor[i];
  }
  close_composition(x);
  return x;
}

Climate::Moment Climate::at(double t) const {
  const Site& site = settings_.site;
  const double day = start_day_ + t / kDaySeconds;
  Moment out{};
  out.longitude = unwrapped_longitude(day);
  out.sols = settings_.start_local_time + t / kSolSeconds + equation_of_time_since_start(t);
  const double weather_time = settings_.weather ? weather_sol(t, out.sols) : 0.0;

  Season s{};
  s.ls = out.longitude;
  s.local_time = out.sols - std::floor(out.sols);
  s.seasonal_depth = std::max(0.0, optical_depth_.seasonal(site, s.ls) + settings_.optical_depth_offset);
  s.depth = measured(WeatherQuantity::optical_depth)
                ? settings_.weather->at(WeatherQuantity::optical_depth, weather_time)
                : OpticalDepth::with_storms(s.seasonal_depth, settings_.storms, t);
  const double excess = std::max(0.0, s.depth - s.seasonal_depth);
  const double clearness = 1.0 / (1.0 + 0.3 * excess);

  Ambient& a = out.ambient;
  a.pressure = settings_.pressure_factor * pressure(s, weather_time);
  a.temperature = settings_.temperature_offset + air_temperature(s, weather_time);
  if (settings_.synoptic > 0.0) {
    const double cloudless = storm_range_factor(excess);
    if (!measured(WeatherQuantity::pressure)) {
      a.pressure += settings_.synoptic * synoptic_.pressure(out.sols, site.passing_weather);
    }
    if (!measured(WeatherQuantity::temperature) && !measured(WeatherQuantity::coldest)) {
      a.temperature +=
          settings_.synoptic * cloudless * site_range(site, s.ls) * synoptic_.temperature(out.sols);
    }
  }
  a.optical_depth = s.depth;
  a.dust_concentration = kDustPerOpticalDepth * s.depth;
  a.solar_elevation = solar_elevation(site.latitude, solar_declination(s.ls), s.local_time);
  const double sun = std::max(0.0, std::sin(a.solar_elevation));
  a.ground_temperature = ground_temperature(site, a.temperature, sun,
                                            site_range(site, s.ls) * storm_range_factor(excess), clearness);
  a.sky_temperature =
      sky_temperature(air_.daily_mean(site, s.ls, excess) + settings_.temperature_offset, s.depth);
  a.wind_speed = measured(WeatherQuantity::wind_speed)
                     ? settings_.weather->at(WeatherQuantity::wind_speed, weather_time)
                     : site.wind * (1.0 + 0.5 * (1.0 - std::exp(-excess))) * wind_(24.0 * s.local_time);
  a.areocentric_longitude = wrap(s.ls, kTurn);
  a.local_time = s.local_time;
  a.composition = composition(s, weather_time);

  const double warped_hour = 24.0 * sun_warped_time(s.local_time, sunrise(site.latitude, s.ls));
  const double noon_sun = std::cos(site.latitude - solar_declination(s.ls));
  out.convection = std::max(0.0, std::sin(std::numbers::pi * (warped_hour - 7.5) / 10.0)) *
                   (warped_hour > 7.5 && warped_hour < 17.5 ? std::max(0.0, noon_sun) * clearness : 0.0);
  return out;
}

}  // namespace duskline::plant
