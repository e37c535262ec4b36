// Recuperator, insulation and housing against text-book tables.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/heat/housing.hpp"
#include "plant-model/heat/recuperator.hpp"
#include "tests/support/verification.hpp"

using namespace duskline::plant;
using duskline::tests::Deviations;
using duskline::tests::verify;

TEST_CASE("effectiveness of a counterflow exchanger") {
  // W. M. Kays, A. L. London, Compact Heat Exchangers: counterflow, transfer units against capacity ratio
  // 0, 0.25, 0.5, 0.75, 1 (the formula's own values, which the printed table rounds to three digits)
  struct Line {
    double n;
    std::array<double, 5> effectiveness;
  };
  constexpr std::array<Line, 6> table{{{0.5, {0.3935, 0.3776, 0.3623, 0.3475, 0.3333}},
                                       {1, {0.6321, 0.5983, 0.5647, 0.5319, 0.5000}},
                                       {2, {0.8647, 0.8228, 0.7746, 0.7218, 0.6667}},
                                       {3, {0.9502, 0.9188, 0.8744, 0.8171, 0.7500}},
                                       {5, {0.9933, 0.9823, 0.9572, 0.9088, 0.8333}},
                                       {10, {1.0000, 0.9996, 0.9966, 0.9781, 0.9091}}}};
  verify({"counterflow effectiveness, 0.5-10 transfer units, capacity ratio 0-1",
          "Kays and London, Compact Heat Exchangers", 1e-4, ""},
         [&](Deviations& d) {
           for (const auto& line : table)
             for (std::size_t i = 0; i < 5; ++i)
               d.absolute(counterflow_effectiveness(line.n, 0.25 * static_cast<double>(i)),
                          line.effectiveness[i]);
         });
  // continuous through c = 1, where the formula is 0/0: n/(1+n)
  for (const double n : {0.1, 1.0, 8.5, 100.0})
    CHECK(counterflow_effectiveness(n, 1.0 - 1e-7) == Approx(n / (1 + n)).epsilon(1e-4));
}

TEST_CASE("the recuperator passes on what it takes") {
  // first law and the definition of effectiveness; flows in mol/s, cp in J/mol/K
  for (const double cold : {2e-5, 3.5e-4, 8e-4})
    for (const double hot : {2e-5, 3.3e-4}) {
      const double cp_cold = 45, cp_hot = 42, ua = 0.10;
      const auto r = recuperate(ua, cold, cp_cold, 300.0, hot, cp_hot, 1073.15);
      const double c_cold = cold * cp_cold, c_hot = hot * cp_hot, least = std::min(c_cold, c_hot);
      CHECK(c_cold * (r.cold_out - 300) == Approx(c_hot * (1073.15 - r.hot_out)).epsilon(2e-3));
      const double eps = counterflow_effectiveness(ua / least, least / std::max(c_cold, c_hot));
      CHECK(c_cold * (r.cold_out - 300) == Approx(eps * least * 773.15).epsilon(2e-3));
      CHECK(r.cold_out <= 1073.15);
      CHECK(r.hot_out >= 300.0);
    }
  // standing gas: temperatures stay between the inlets
  const auto still = recuperate(0.10, 1e-9, 45.0, 300.0, 1e-9, 42.0, 1073.15);
  CHECK(still.cold_out >= 300.0);
  CHECK(still.cold_out <= 1073.15);
}

TEST_CASE("radiation of the housing to the sky") {
  // sigma e (T^4 - T_sky^4): 294.9 W/m2 for 300 K, e = 0.8, sky 200 K (CODATA sigma)
  HousingParameters h;
  h.area = 1;
  h.emissivity = 0.8;
  Ambient a;
  a.temperature = a.ground_temperature = 300;
  a.sky_temperature = 200;
  a.solar_elevation = -0.5;
  verify(
      {"radiation at 300 K to a sky of 200 K, emissivity 0.8", "Stefan-Boltzmann law, CODATA 2018", 1e-3, ""},
      [&](Deviations& d) { d.relative(housing_loss(h, housing_boundary(h, a), a, 300.0), 294.9); });
}

TEST_CASE("wind, ground and sun on the housing add up") {
  HousingParameters h;
  h.area = 0.5;
  h.still_air = 0.5;
  h.wind_term = 0.25;
  h.ground_conductance = 0.2;
  h.absorptivity = 0.3;
  h.sunlit_area = 0.12;
  Ambient a;
  a.temperature = 230;
  a.ground_temperature = 220;
  a.sky_temperature = 150;
  a.wind_speed = 10;
  a.solar_elevation = -0.1;
  // by hand: (0.5 + 0.25 * 10^0.6) * 0.5 * 40 + 0.2 * 50 = 39.905 W
  CHECK(housing_loss(h, housing_boundary(h, a), a, 270.0) == Approx(39.9054).margin(1e-3));
  // the sun at the zenith in clear air gives 0.3 * 0.12 * 590 W
  a.solar_elevation = 1.5707963267948966;
  CHECK(housing_boundary(h, a).solar_gain == Approx(0.3 * 0.12 * 590).epsilon(1e-12));
  // and less through dust and at a lower height, but never less than nothing
  a.optical_depth = 5;
  const double dusty = housing_boundary(h, a).solar_gain;
  CHECK(dusty < 0.3 * 0.12 * 590 * 0.3);
  a.solar_elevation = 0.1;
  CHECK(housing_boundary(h, a).solar_gain < dusty);
  CHECK(housing_boundary(h, a).solar_gain >= 0);
}

TEST_CASE("insulation conducts more when hot, as radiation through an opaque solid does") {
  // Rosseland limit: k_rad = 16 sigma T^3/(3E). With E = 20 000 per metre, k_rad = 15.1 mW/m/K at 1000 K, so
  // a rest of 15.1 mW/m/K makes the growth at 1000 K equal to one: the form G0 (1 + (T/1000)^3)
  const double rosseland = 16 * kStefanBoltzmann * 1e9 / (3 * 20000.0);
  verify({"insulation conductivity, 400-1000 K", "Rosseland limit, E = 20 000 per metre", 1e-9, ""},
         [&](Deviations& d) {
           for (const double T : {400.0, 700.0, 1000.0})
             d.relative(insulation_conductance(rosseland, 1.0, T + 100, T - 100),
                        rosseland + 16 * kStefanBoltzmann * T * T * T / (3 * 20000.0));
         });
  CHECK(rosseland * 1e3 == Approx(15.12).margin(0.01));  // mW/m/K, computed by hand
}
