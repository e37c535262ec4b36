#include "plant-model/environment/sol_clock.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace duskline::plant {

double wrap(double x, double period) {
  const double r = x - period * std::floor(x / period);
  return r < period ? r : 0.0;
}

double mean_anomaly(double d) {
  return (19.3871 + 0.52402073 * d) * kDegree;
}

double fictitious_mean_sun(double d) {
  return (270.3871 + 0.524038496 * d) * kDegree;
}

double planetary_terms(double d) {
  struct Term {
    double amplitude, period, phase;  // deg, Julian years, deg
  };
  static constexpr std::array<Term, 7> kTerms{{{.0071, 2.2353, 49.409},
                                               {.0057, 2.7543, 168.173},
                                               {.0039, 1.1177, 191.837},
                                               {.0037, 15.7866, 21.736},
                                               {.0021, 2.1354, 15.704},
                                               {.0020, 2.4694, 95.528},
                                               {.0018, 32.8493, 49.095}}};
  double sum = 0.0;
  for (const Term& t : kTerms) sum += t.amplitude * std::cos((0.985626 * d / t.period + t.phase) * kDegree);
  return sum * kDegree;
}

double equation_of_centre(double d) {
  const double m = mean_anomaly(d);
  const double degrees = (10.691 + 3.0e-7 * d) * std::sin(m) + 0.623 * std::sin(2 * m) +
                         0.050 * std::sin(3 * m) + 0.005 * std::sin(4 * m) + 0.0005 * std::sin(5 * m);
  return degrees * kDegree + planetary_terms(d);
}

double unwrapped_longitude(double d) {
  return fictitious_mean_sun(d) + equation_of_centre(d);
}

double areocentric_longitude(double d) {
  return wrap(unwrapped_longitude(d), kTurn);
}

double equation_of_time(double d) {
  const double ls = unwrapped_longitude(d);
  return (2.861 * std::sin(2 * ls) - 0.071 * std::sin(4 * ls) + 0.002 * std::sin(6 * ls)) * kDegree -
         equation_of_centre(d);
}

double heliocentric_distance(double d) {
  const double m = mean_anomaly(d);
  return 1.523679 * kAstronomicalUnit *
         (1.00436 - 0.09309 * std::cos(m) - 0.004336 * std::cos(2 * m) - 0.00031 * std::cos(3 * m) -
          0.00003 * std::cos(4 * m));
}

double mars_sol_date(double d) {
  return (d - 4.5) / 1.0274912517 + 44796.0 - 0.0009626;
}

double coordinated_mars_time(double d) {
  return wrap(mars_sol_date(d), 1.0);
}

double local_mean_solar_time(double d, double east_longitude) {
  return wrap(mars_sol_date(d) + east_longitude / kTurn, 1.0);
}

double local_true_solar_time(double d, double east_longitude) {
  return wrap(mars_sol_date(d) + (east_longitude + equation_of_time(d)) / kTurn, 1.0);
}

double solar_declination(double ls) {
  return std::asin(0.42565 * std::sin(ls)) + 0.25 * kDegree * std::sin(ls);
}

double solar_elevation(double latitude, double declination, double true_time) {
  return std::asin(std::clamp(std::sin(latitude) * std::sin(declination) -
                                  std::cos(latitude) * std::cos(declination) * std::cos(kTurn * true_time),
                              -1.0, 1.0));
}

double half_day(double latitude, double ls) {
  constexpr double kUpperLimb =
      -0.17 * kDegree;  // the centre of the sun when its upper limb is on the horizon
  const double declination = solar_declination(ls);
  const double cosine = (std::sin(kUpperLimb) - std::sin(latitude) * std::sin(declination)) /
                        (std::cos(latitude) * std::cos(declination));
  return std::acos(std::clamp(cosine, -1.0, 1.0)) / kTurn;
}

double sunrise(double latitude, double ls) {
  return 0.5 - half_day(latitude, ls);
}

double sunset(double latitude, double ls) {
  return 0.5 + half_day(latitude, ls);
}

double days_at_longitude(double unwrapped_ls) {
  // Newton's method: the slope of Ls stays within 20 % of the mean motion, so it converges from anywhere.
  constexpr double kMeanMotion = 0.524038496 * kDegree;
  double d = (unwrapped_ls - fictitious_mean_sun(0.0)) / kMeanMotion;
  for (int i = 0; i < 8; ++i) {
    const double m = mean_anomaly(d);
    const double slope =
        kMeanMotion *
        (1.0 + (10.691 * std::cos(m) + 1.246 * std::cos(2 * m) + 0.15 * std::cos(3 * m)) * kDegree);
    d -= (unwrapped_longitude(d) - unwrapped_ls) / slope;
  }
  return d;
}

namespace {

double reference_equinox() {
  static const double d = days_at_longitude(kTurn);
  return d;
}

}  // namespace

double sols_since_equinox(double ls) {
  return (days_at_longitude(kTurn + wrap(ls, kTurn)) - reference_equinox()) * (kDaySeconds / kSolSeconds);
}

double longitude_after_sols(double sols) {
  return areocentric_longitude(reference_equinox() + sols * (kSolSeconds / kDaySeconds));
}

}  // namespace duskline::plant
