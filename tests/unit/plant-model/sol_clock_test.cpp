#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/environment/sol_clock.hpp"

using namespace duskline::plant;

namespace {
double degrees(double rad) {
  return rad / kDegree;
}
/// Days since J2000 from a Julian date (UTC) and TT - UTC in seconds.
double days(double julian_utc, double tt_minus_utc) {
  return julian_utc - 2451545.0 + tt_minus_utc / 86400.0;
}
}  // namespace

// Source of both cases: the worked examples that accompany Allison & McEwen (2000) on the Mars solar time
// page.
TEST_CASE("Worked example A: 2000-01-06 00:00 UTC at longitude 0") {
  const double d = days(2451549.5, 64.184);
  CHECK(d == Approx(4.500743).margin(1e-6));
  CHECK(degrees(mean_anomaly(d)) == Approx(21.74558).margin(2e-5));
  CHECK(degrees(fictitious_mean_sun(d)) == Approx(272.74566).margin(2e-5));
  CHECK(degrees(planetary_terms(d)) == Approx(0.00142).margin(1e-5));
  CHECK(degrees(equation_of_centre(d)) == Approx(4.44193).margin(2e-5));
  CHECK(degrees(areocentric_longitude(d)) == Approx(277.18758).margin(2e-5));
  CHECK(degrees(equation_of_time(d)) == Approx(-5.18774).margin(2e-5));
  CHECK(mars_sol_date(d) == Approx(44795.99976).margin(1e-5));
  CHECK(24.0 * coordinated_mars_time(d) == Approx(23.99425).margin(1e-4));
  CHECK(24.0 * local_true_solar_time(d, 0.0) == Approx(23.0 + 38.0 / 60 + 54.0 / 3600).margin(0.5 / 3600));
  CHECK(degrees(solar_declination(areocentric_longitude(d))) == Approx(-25.228).margin(1e-3));
  CHECK(heliocentric_distance(d) / kAstronomicalUnit == Approx(1.3936).margin(5e-5));
}

TEST_CASE("Worked example B: 2004-01-03 13:46:31 UTC at 184.702 W") {
  const double d = days(2453007.5 + (13 * 3600 + 46 * 60 + 31) / 86400.0, 64.184);
  const double east = -184.702 * kDegree;
  CHECK(degrees(wrap(mean_anomaly(d), kTurn)) == Approx(66.06858).margin(2e-5));
  CHECK(degrees(wrap(fictitious_mean_sun(d), kTurn)) == Approx(317.09457).margin(2e-5));
  CHECK(degrees(planetary_terms(d)) == Approx(0.01614).margin(1e-5));
  CHECK(degrees(equation_of_centre(d)) == Approx(10.22959).margin(2e-5));
  CHECK(degrees(areocentric_longitude(d)) == Approx(327.32416).margin(2e-5));
  CHECK(degrees(equation_of_time(d)) == Approx(-12.77553).margin(2e-5));
  CHECK(24.0 * coordinated_mars_time(d) == Approx(13.16537).margin(1e-4));
  CHECK(24.0 * local_mean_solar_time(d, east) == Approx(0.85190).margin(1e-4));
  CHECK(24.0 * local_true_solar_time(d, east) == Approx(0.0002).margin(2e-4));
  // Declination and distance: computed for this project with an independent script from the same formulas.
  CHECK(degrees(solar_declination(areocentric_longitude(d))) == Approx(-13.42).margin(5e-3));
  CHECK(heliocentric_distance(d) / kAstronomicalUnit == Approx(1.4777).margin(5e-5));
}

TEST_CASE("Sunrise by latitude and season") {
  struct Case {
    double latitude, ls, hour;
  };
  // Source: H = acos[(sin h0 - sin lat sin decl)/(cos lat cos decl)]/15 with h0 = -0.17 deg, worked by hand
  // to 0.01 h.
  constexpr std::array<Case, 9> kCases{{{-4.6, 90, 6.13},
                                        {-4.6, 180, 5.99},
                                        {-4.6, 270, 5.84},
                                        {22.0, 90, 5.25},
                                        {22.0, 180, 5.99},
                                        {22.0, 270, 6.72},
                                        {47.7, 90, 3.88},
                                        {47.7, 180, 5.98},
                                        {47.7, 270, 8.08}}};
  for (const Case& c : kCases) {
    CAPTURE(c.latitude, c.ls);
    const double latitude = c.latitude * kDegree, ls = c.ls * kDegree;
    CHECK(24.0 * sunrise(latitude, ls) == Approx(c.hour).margin(0.0101));
    CHECK(sunrise(latitude, ls) + sunset(latitude, ls) == Approx(1.0));
    // The centre of the sun stands 0.17 deg below the horizon at that moment (definition of h0).
    const double elevation = solar_elevation(latitude, solar_declination(ls), sunrise(latitude, ls));
    CHECK(degrees(elevation) == Approx(-0.17).margin(1e-6));
  }
  CHECK(half_day(85 * kDegree, 90 * kDegree) == 0.5);   // polar day: the sun never sets
  CHECK(half_day(85 * kDegree, 270 * kDegree) == 0.0);  // polar night
}

TEST_CASE("Sols since the northern spring equinox") {
  // Source: computed from the formulas of Allison & McEwen for another Mars year; years differ by up to 0.1
  // sol.
  constexpr std::array<double, 11> kSols{61.2,  126.6, 193.3, 257.8, 317.5, 371.8,
                                         421.6, 468.5, 514.6, 562.0, 612.8};
  for (std::size_t i = 0; i < kSols.size(); ++i) {
    const double ls = 30.0 * static_cast<double>(i + 1);
    CHECK(sols_since_equinox(ls * kDegree) == Approx(kSols[i]).margin(0.1));
  }
  CHECK(sols_since_equinox(359.9999 * kDegree) == Approx(668.6).margin(0.1));
  CHECK(sols_since_equinox(0.0) == Approx(0.0).margin(1e-9));
  for (double ls = 0.5; ls < 360.0; ls += 0.7) {  // the two functions are inverses of each other
    CHECK(degrees(longitude_after_sols(sols_since_equinox(ls * kDegree))) == Approx(ls).margin(1e-6));
  }
  // Ten years on, the season has come round: 668.5921 sols a year, within the planetary terms (0.01 deg each
  // way).
  CHECK(degrees(wrap(longitude_after_sols(10 * kSolsPerYear) + 0.01, kTurn)) ==
        Approx(0.01 / kDegree).margin(0.1));
}

TEST_CASE("The equation of time over a year") {
  // Source: sweep of the formulas for this project: +39.9 min near Ls 188, -51.1 min near Ls 329.
  double most = -1e9, least = 1e9, ls_max = 0, ls_min = 0;
  for (double d = 0; d < 687; d += 0.25) {
    const double minutes = 4.0 * degrees(equation_of_time(d));
    if (minutes > most) most = minutes, ls_max = degrees(areocentric_longitude(d));
    if (minutes < least) least = minutes, ls_min = degrees(areocentric_longitude(d));
  }
  CHECK(most == Approx(39.9).margin(0.1));
  CHECK(least == Approx(-51.1).margin(0.1));
  CHECK(ls_max == Approx(188).margin(1.5));
  CHECK(ls_min == Approx(329).margin(1.5));
}

TEST_CASE("wrap stays inside its period") {
  CHECK(wrap(-0.25, 1.0) == 0.75);
  CHECK(wrap(1.0, 1.0) == 0.0);
  CHECK(wrap(-1e-20, 1.0) < 1.0);  // the sum rounds to the period itself
}
