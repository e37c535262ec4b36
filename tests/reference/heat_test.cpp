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

namespace {

const Composition<double> kFeed{0.90, 0.05, 0.001, 0.029, 0.02}, kExhaust{0.40, 0.55, 0.0, 0.03, 0.02};

/// J/mol of a mixture.
double molar(const Composition<double>& gas, double T) {
  return dot(gas, gas_enthalpies(T));
}
Recuperated<double> exchange(double ua, double cold, double T_cold, double hot, double T_hot) {
  const auto h_cold = gas_enthalpies(T_cold), h_hot = gas_enthalpies(T_hot);
  return recuperate(ua, Stream<double>{cold, kFeed, T_cold, h_cold},
                    Stream<double>{hot, kExhaust, T_hot, h_hot});
}

/// Temperatures at the ends by integrating both streams along the exchanger with the heat capacities at that place and
/// then, shooting for the inlet of the hot stream: {cold out, hot out}.
std::array<double, 2> marched(double ua, double cold, double T_cold, double hot, double T_hot) {
  double low = T_cold, high = T_hot, c = T_cold;
  for (int n = 0; n < 60; ++n) {
    const double out = 0.5 * (low + high);
    double h = out;
    c = T_cold;
    constexpr int kSlices = 4000;
    for (int i = 0; i < kSlices; ++i) {
      const double q = ua / kSlices * (h - c);
      c += q / (cold * dot(kFeed, gas_heat_capacities(c)));
      h += q / (hot * dot(kExhaust, gas_heat_capacities(h)));
    }
    (h < T_hot ? low : high) = out;
  }
  return {c, low};
}

}  // namespace

TEST_CASE("the recuperator passes on what it takes, in enthalpy") {
  // first law on both streams, flows in mol/s; the temperatures by marching along the exchanger, where one mean heat
  // capacity for the whole length may err by some ten kelvin
  for (const double cold : {2e-4, 3.5e-4, 8e-4})
    for (const double hot : {2e-4, 3.3e-4}) {
      const double ua = 0.015, T_cold = 300,
                   T_hot = 1073.15;  // 0.3 to 2 transfer units: marching stays stable
      const auto r = exchange(ua, cold, T_cold, hot, T_hot);
      const double taken = cold * (molar(kFeed, r.cold_out) - molar(kFeed, T_cold));
      const double given = hot * (molar(kExhaust, T_hot) - molar(kExhaust, r.hot_out));
      CHECK(taken == Approx(given).epsilon(2e-4));  // the floor of 2e-8 mol/s
      CHECK(r.cold_gain * cold == Approx(taken).epsilon(1e-9));
      CHECK(r.hot_loss * hot == Approx(given).epsilon(1e-9));
      const auto [c, h] = marched(ua, cold, T_cold, hot, T_hot);
      CHECK(r.cold_out == Approx(c).margin(12));
      CHECK(r.hot_out == Approx(h).margin(12));
    }
  // without end the smaller stream reaches the other's inlet
  CHECK(exchange(100.0, 2e-4, 300.0, 8e-4, 1073.15).cold_out == Approx(1073.15).margin(0.5));
  CHECK(exchange(100.0, 8e-4, 300.0, 2e-4, 1073.15).hot_out == Approx(300.0).margin(0.5));
  // standing gas: temperatures stay between the inlets; equal inlets: nothing moves
  const auto still = exchange(0.10, 1e-9, 300.0, 1e-9, 1073.15);
  CHECK(still.cold_out >= 300.0);
  CHECK(still.cold_out <= 1073.15);
  const auto alike = exchange(0.10, 2e-4, 600.0, 2e-4, 600.0);
  CHECK(alike.cold_out == Approx(600.0).epsilon(1e-12));
  CHECK(alike.hot_out == Approx(600.0).epsilon(1e-12));
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
