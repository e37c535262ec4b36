/// Air, ground and sky temperature: the composite day of the equator, reshaped for latitude, season and dust.
/// T = Tm + shift(Ls) + r(Ls) R(dust) [(1 - m) (Tc(Ls, h') - Tm) + m D(h')];
/// Tsky^4 = Td^4 [0.12 + 0.88 (1 - e^(-0.45 tau))]
/// Tc: composite table, K; D: day of middle latitudes, K, and m its share, 1; Tm, Td: daily means, K;
/// h': hour stretched so that the sun rises at 6, sets at 18.
/// Valid 1-2 m above ground; exact at the nodes of the table, up to 4 K of overshoot between them.
/// Source: composites.hpp; damping by dust after Guzewich et al., GRL 46 (2019) 71; the rest estimated.
/// Left out: heat conduction in the soil, frost, clouds; the sky temperature is of low confidence.
#pragma once

#include "plant-model/environment/periodic_spline.hpp"
#include "plant-model/environment/site.hpp"
#include "plant-model/gas/constants.hpp"

namespace duskline::plant {

/// Local hour (as a fraction of the sol) stretched so that sunrise falls at 0.25 and sunset at 0.75.
double sun_warped_time(double local_time, double sunrise_time);

/// Factor on the daily range, and shift of the daily mean (K), for optical depth above that of the season.
double storm_range_factor(double excess_depth);
double storm_mean_shift(double excess_depth);

/// Effective black-body temperature of the sky, K, from the daily mean air temperature and the optical depth.
double sky_temperature(double daily_mean, double optical_depth);

class AirTemperature {
 public:
  AirTemperature();
  /// Air temperature at this site, K. `excess_depth`: optical depth above the season's, >= 0.
  double operator()(const Site& site, double ls, double local_time, double excess_depth) const;
  /// Its mean over a sol, K.
  double daily_mean(const Site& site, double ls, double excess_depth) const;
  /// The composite table itself, K.
  double composite(double ls, double warped_time) const;

 private:
  PeriodicTable<7, 12> table_;
  PeriodicSpline<7> mean_;
  PeriodicSpline<12> middle_latitude_;
};

/// Where the composite day stands between its minimum (0) and its maximum (1); it expands daily extremes.
class DailyCurve {
 public:
  explicit DailyCurve(const AirTemperature& air);
  double operator()(double ls, double warped_time) const;

 private:
  AirTemperature air_;
  PeriodicSpline<24> lowest_, highest_;
};

/// Ground temperature, K. `sun` is the sine of the solar elevation, or 0 at night; `clearness` is 1 without a
/// storm.
double ground_temperature(const Site& site, double air, double sun, double range, double clearness);

/// Factor on the daily range of the site in this season, 1.
double site_range(const Site& site, double ls);

}  // namespace duskline::plant
