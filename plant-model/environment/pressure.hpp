/// Surface pressure: the seasonal cycle of carbon dioxide, moved to the site's height, times the daily tides.
/// p = p(Ls) exp(-(z - z0)/H) {1 + sum_k a_k cos[2 pi k (t - t_k)/24 h]}, k = 1, 2, 3; dust raises a_1, a_2.
/// p: Pa; z: m; H: scale height, m; t: local true solar hour; a_k: 1; Ls: rad.
/// Valid from 5 km below to 3 km above the areoid; the season repeats within about 1 % without great storms.
/// Source: fits of site.hpp, tides of composites.hpp; the growth of the tides with dust is an estimate.
/// Left out: travelling weather (synoptic.hpp), vortices (vortices.hpp), winds down slopes.
#pragma once

#include <array>

#include "plant-model/environment/periodic_spline.hpp"
#include "plant-model/environment/site.hpp"

namespace duskline::plant {

inline constexpr double kScaleHeight = 11.0e3;  ///< m

/// Daily mean pressure at the site, Pa.
double seasonal_pressure(const Site& site, double ls);

/// Growth of the diurnal and semidiurnal amplitudes with optical depth (fraction of the mean pressure).
double diurnal_amplitude(double optical_depth);
double semidiurnal_amplitude(double optical_depth);

class Tides {
 public:
  Tides();
  /// Pressure over its daily mean. `scale` multiplies the seasonal table; `storm_depth` is the optical depth
  /// with storms and `season_depth` the one without, as the table saw it.
  double operator()(double ls, double local_time, double scale, double season_depth,
                    double storm_depth) const;

 private:
  std::array<PeriodicSpline<12>, 3> cosine_, sine_;
};

}  // namespace duskline::plant
