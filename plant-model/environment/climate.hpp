/// The smooth climate of a site: everything about the air that does not depend on chance within a sol.
/// Ambient(t) = site + season + hour + storms + sol-to-sol weather; measured columns replace modelled ones.
/// t: s after the start of the run; local time is true solar time, the equation of time included.
/// Valid for runs of many years; the first year is the one that began at the northern spring equinox of 2000.
/// Source: the headers of this folder. A pure function of time: call it in any order.
/// Left out: turbulence, vortices and gusts (environment.hpp adds them).
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "plant-model/environment/ambient.hpp"
#include "plant-model/environment/composition.hpp"
#include "plant-model/environment/dust.hpp"
#include "plant-model/environment/pressure.hpp"
#include "plant-model/environment/site.hpp"
#include "plant-model/environment/synoptic.hpp"
#include "plant-model/environment/temperature.hpp"
#include "plant-model/environment/vortices.hpp"
#include "plant-model/environment/weather_series.hpp"

namespace duskline::plant {

struct EnvironmentSettings {
  Site site = kSites[0];
  double start_ls{};              ///< rad; a weather file that tells its Ls overrides it
  double start_local_time{0.25};  ///< fraction of a sol, true solar time
  std::uint64_t seed{1};
  double turbulence{1.0};  ///< scale of fluctuations within a sol and of random vortices, 0 = off
  double synoptic{1.0};    ///< scale of differences from sol to sol, 0 = off
  std::vector<StormEvent> storms;
  std::vector<VortexEvent> vortices;  ///< besides the random ones
  std::vector<GustEvent> gusts;
  double pressure_factor{1.0};                          ///< 1
  double temperature_offset{};                          ///< K, on air, ground and sky alike
  double optical_depth_offset{};                        ///< 1
  Composition<double> minor_gas_factor{1, 1, 1, 1, 1};  ///< on CO, O2, N2, Ar; CO2 takes the remainder
  std::optional<Composition<double>> composition;       ///< fixed composition instead of the seasonal one
  std::shared_ptr<const WeatherSeries> weather;         ///< measured weather to replay
  std::optional<double> weather_start_sol;              ///< sol of the file at which the run starts
};

class Climate {
 public:
  explicit Climate(const EnvironmentSettings& settings);

  /// What turbulence and vortices need besides the ambient values.
  struct Moment {
    Ambient ambient;
    double sols;        ///< unwrapped local true solar time; 0 is the midnight before the start
    double longitude;   ///< rad, unwrapped Ls
    double convection;  ///< 1, strength of daytime convection, 0 at night
  };
  Moment at(double t) const;
  /// Time after the start at which the unwrapped local time has this value, s.
  double time_at(double sols) const;
  const EnvironmentSettings& settings() const { return settings_; }

 private:
  struct Season {
    double ls, local_time, seasonal_depth, depth;
  };
  double weather_sol(double t, double sols) const;
  bool measured(WeatherQuantity q) const { return settings_.weather && settings_.weather->has(q); }
  double air_temperature(const Season& s, double weather_sol) const;
  double pressure(const Season& s, double weather_sol) const;
  Composition<double> composition(const Season& s, double weather_sol) const;
  double equation_of_time_since_start(double t) const;

  EnvironmentSettings settings_;
  double start_day_{}, start_equation_{}, weather_offset_{};
  AirTemperature air_;
  std::optional<DailyCurve> daily_curve_;
  Tides tides_;
  OpticalDepth optical_depth_;
  PeriodicSpline<12> wind_;
  SynopticWeather synoptic_;
};

}  // namespace duskline::plant
