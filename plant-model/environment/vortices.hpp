/// Convective vortices (dust devils) that pass over the plant, and gusts set by hand.
/// dp = -depth/(1 + x^2), dT = warming/(1 + x^2), wind = sqrt(depth/rho) 2x/(1 + x^2), x = 2 (t - time)/width
/// depth: Pa; warming: K; width: full width at half depth, s; rho: air density; dust: in the core, kg/m3.
/// Valid for 0.5-9 Pa: 4.9 a sol under a high sun, half-sine in time from 7 h to 17 h, P(> depth) ~ depth^-2.
/// Source: Hueso et al. 2023, Lorenz et al., PSS 207 (2021) 105337; warming and passing speed estimated.
/// Left out: direction of the wind, vortices at night.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "plant-model/random/noise.hpp"

namespace duskline::plant {

struct VortexEvent {
  double time{};     ///< s after the start of the run, at closest approach
  double depth{};    ///< Pa
  double width{};    ///< s
  double warming{};  ///< K
  double dust{};     ///< kg/m3
};

/// A gust set by hand: sin^2 of the given length added to the mean wind.
struct GustEvent {
  double time{};    ///< s after the start of the run, at the peak
  double speed{};   ///< m/s
  double length{};  ///< s from start to end
};

/// What events add to the calm air.
struct Disturbance {
  double pressure{}, temperature{}, wind_speed{}, dust{};
};

/// Beyond this many half widths a vortex is no longer felt (its tail is shifted so that it ends at zero).
inline constexpr double kVortexReach = 60.0;

Disturbance vortex_at(const VortexEvent& vortex, double t, double air_density);
double gust_at(const GustEvent& gust, double t);

/// The vortices of one sol, in the order of being drawn. `expected` is their mean number; times are fractions
/// of the sol.
struct SolVortex {
  double local_time, depth, diameter, warming, dust;
};
std::vector<SolVortex> vortices_of_sol(const NoiseStream& stream, std::int64_t sol, double expected);

}  // namespace duskline::plant
