/// A place on Mars: where it is, how its pressure swings over the year, and how warm, windy and dusty it is.
/// p(Ls) = mean exp(-(altitude - measured_at)/H) [1 + sum_k cosine_k cos(k Ls) + sine_k sin(k Ls)], k = 1..4
/// angles: rad; altitude: m above the areoid; pressure: Pa; temperatures: K; factors: 1.
/// Valid for latitudes below about 50 deg; the three places are invented, their pressure cycles are not.
/// Source: the fit named at each table; the thermal characters are estimates (docs/models/environment.md).
/// Left out: slopes, katabatic wind, frost on the ground.
#pragma once

#include <array>
#include <string_view>

#include "plant-model/environment/sol_clock.hpp"

namespace duskline::plant {

/// Seasonal harmonics of the daily mean pressure, relative to the yearly mean.
struct PressureCycle {
  double mean{};         ///< Pa
  double measured_at{};  ///< m above the areoid
  std::array<double, 4> cosine{}, sine{};
};

/// How a place departs from the equatorial composite day. Each pair swings as mean + swing cos(Ls - peak).
struct ThermalCharacter {
  double warmer{}, warmer_swing{}, warmest_at{};  ///< K, K, rad: shift of the sol-mean temperature
  double range{1.0}, range_swing{}, widest_at{};  ///< 1, 1, rad: factor on the daily range
  double middle_latitude{};  ///< 1, share of the middle-latitude day in the daily curve; 0 at the equator
  double ground_by_day{24.0}, ground_by_night{6.0};  ///< K, ground hotter than air at noon, colder at night
};

struct Site {
  std::string_view name;
  double latitude{}, longitude{};  ///< rad, longitude east
  double altitude{};               ///< m above the areoid
  PressureCycle pressure;
  ThermalCharacter thermal;
  double tide{1.0};             ///< factor on the daily tides of the composite table
  double wind{1.0};             ///< factor on the composite wind
  double dust{1.0};             ///< factor on the seasonal optical depth
  double passing_weather{1.5};  ///< Pa, amplitude of the travelling pressure waves
};

/// Four-harmonic fit to 635 full sols of an equatorial lander (4.5 N), Mars years 34-35; rms 2.3 Pa.
inline constexpr PressureCycle kEquatorialCycle{
    721.2, -2614.0, {.0497, -.0436, -.0015, -.0021}, {-.0426, .0516, -.0012, -.0039}};

/// Four-harmonic fit to 589 sols of a crater floor near the equator (4.6 S), Mars years 31-32; rms 1.9 Pa.
inline constexpr PressureCycle kCraterCycle{
    848.6, -4500.0, {.0553, -.0468, -.0013, -.0004}, {-.0362, .0501, -.0008, -.0045}};

/// The two-harmonic form of Withers, Space Sci. Rev. 170 (2012) 837, coefficients from memory, swing widened
/// by 1.22 and mean raised so that it meets the daily means sampled at 47.7 N: 764 Pa near Ls 126, and 1010
/// Pa near Ls 289 of a storm year within 2 %.
inline constexpr PressureCycle kNorthernCycle{893.0, -4500.0, {.0732, -.0610, 0, 0}, {-.0842, .0549, 0, 0}};

inline constexpr std::array<Site, 3> kSites{{
    {.name = "ember-hollow",  // equatorial and low
     .latitude = 4.5 * kDegree,
     .longitude = 131.0 * kDegree,
     .altitude = -2614.0,
     .pressure = kEquatorialCycle,
     .thermal = {}},
    {.name = "tallow-reach",  // middle northern latitude: mild summer, long cold winter, strong seasons
     .latitude = 44.0 * kDegree,
     .longitude = 228.0 * kDegree,
     .altitude = -3900.0,
     .pressure = kNorthernCycle,
     .thermal = {.warmer = -19.0,
                 .warmer_swing = 23.0,
                 .warmest_at = 115.0 * kDegree,
                 .range = 0.47,
                 .range_swing = 0.23,
                 .widest_at = 110.0 * kDegree,
                 .middle_latitude = 1.0,
                 .ground_by_day = 16.0,
                 .ground_by_night = 4.0},
     .tide = 0.25,
     .wind = 1.1,
     .dust = 0.9,
     .passing_weather = 6.0},
    {.name = "kestrel-rise",  // tropical highland: thin air, cold nights
     .latitude = -14.0 * kDegree,
     .longitude = 291.0 * kDegree,
     .altitude = 900.0,
     .pressure = kEquatorialCycle,
     .thermal = {.warmer = -7.0, .range = 1.1, .ground_by_day = 28.0, .ground_by_night = 8.0},
     .tide = 1.1,
     .wind = 1.2,
     .dust = 0.7},
}};

/// The site of this name, or nullptr.
constexpr const Site* find_site(std::string_view name) {
  for (const Site& site : kSites) {
    if (site.name == name) return &site;
  }
  return nullptr;
}

}  // namespace duskline::plant
