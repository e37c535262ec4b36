// Carbon dioxide that freezes and sublimes.
// Where a case says "computed", the number is that of an independent calculation from the published equations.
#include <catch2/catch.hpp>

#include "plant-model/compressors/freezer.hpp"

using namespace duskline::plant;

namespace {

constexpr double kMass = 0.0440095;
constexpr double kPerKilogram = 1e-3 / kMass;  // J/mol to kJ/kg

struct Row {
  double temperature, pressure;
};

}  // namespace

TEST_CASE("Ice of carbon dioxide has the published vapour pressures, frost points and heat") {
  // Span and Wagner 1996, computed
  for (const Row& row :
       {Row{140, 183.56}, Row{145, 404.75}, Row{150, 842.65}, Row{155, 1666.5}, Row{160, 3147.5},
        Row{170, 9960.0}, Row{180, 27557.0}, Row{190, 68342.0}, Row{194.686, 101.33e3}}) {
    CHECK(sublimation_pressure(row.temperature) == Approx(row.pressure).epsilon(2e-4));
    CHECK(frost_point(sublimation_pressure(row.temperature)) == Approx(row.temperature).epsilon(1e-9));
  }
  for (const Row& row : {Row{136.41, 100.0}, Row{147.64, 600.0}, Row{148.37, 667.0}, Row{148.70, 700.0},
                         Row{151.22, 1000.0}, Row{190.28, 70e3}})
    CHECK(frost_point(row.pressure) == Approx(row.temperature).margin(0.01));
  // heat from the slope of the vapour pressure, ideal vapour: 608.5 and 600.8 kJ/kg, computed; ours within 1 %
  for (const Row& row : {Row{140, 608.5}, Row{150, 600.8}}) {
    const Dual<1> p = log_sublimation_pressure(Dual<1>(row.temperature, 0));
    const double heat = kGasConstant * row.temperature * row.temperature * p.slope[0] * kPerKilogram;
    CHECK(heat == Approx(row.pressure).epsilon(1e-3));
    CHECK(heat_of_sublimation(row.temperature) * kPerKilogram == Approx(heat).epsilon(0.01));
  }
  CHECK(heat_of_sublimation(194.7) * kPerKilogram == Approx(573.0).epsilon(1e-9));  // Giauque and Egan 1937
}

TEST_CASE(
    "Freezing takes the heat and the power that were computed, and never more than kinetic theory allows") {
  CHECK(freezing_heat(240.0, 149.0) * kPerKilogram == Approx(669.9).epsilon(1e-4));
  // 0.25 of Carnot between 150 and 300 K: 0.744 kWh/kg
  const double heat = freezing_heat(240.0, 149.0) / kMass;  // J/kg
  CHECK(cooler_power(0.25, 300.0, 150.0, heat) / 3.6e6 == Approx(0.744).epsilon(1e-3));
  CHECK(cooler_power(1.0, 300.0, 150.0, 1.0) == Approx(1.0));  // Carnot: 1.000, 1.667
  CHECK(cooler_power(1.0, 240.0, 150.0, 1.0) == Approx(1.0 / 1.667).epsilon(1e-3));
  FreezerParameters f;
  f.area = 2.0, f.transfer = 1e-5;
  CHECK(freezing_flow(f, 667.0, frost_point(667.0)) == Approx(0.0).margin(1e-12));
  CHECK(freezing_flow(f, 667.0, 140.0) == Approx(2e-5 * (667.0 - 183.56)).epsilon(1e-4));
  CHECK(freezing_flow(f, 667.0, 160.0) < 0.0);  // it sublimes
  CHECK(freezing_flow(f, 667.0, 140.0) < molecular_limit(1.0, 667.0, 140.0) * f.area);
}

TEST_CASE(
    "Air that sweeps a bed gives up carbon dioxide until what is left of it is in balance with the ice") {
  FreezerParameters f;
  f.area = 2.0, f.transfer = 1e-5;
  constexpr double kPressure = 700.0, kShare = 0.953;
  for (const double swept : {0.005, 0.05, 0.5})
    for (const double T : {135.0, 140.0, 147.0, 155.0}) {
      INFO(swept << " mol/s at " << T << " K");
      const double n = swept_freezing_flow(f, swept, kPressure, kShare, T);
      const double left = (swept * kShare - n) / (swept - n);  // share in what is swept on
      CHECK(n == Approx(f.area * f.transfer * (kPressure * left - sublimation_pressure(T))).margin(1e-12));
      CHECK(n < swept * kShare);
      CHECK((n > 0.0) == (T < frost_point(kPressure * kShare)));
    }
  // much air: as over air of its own composition; a large surface: all but what the ice's own pressure holds
  CHECK(swept_freezing_flow(f, 1e3, kPressure, kShare, 140.0) ==
        Approx(freezing_flow(f, kPressure * kShare, 140.0)).epsilon(1e-3));
  f.area = 1e4;
  const double over = sublimation_pressure(140.0) / kPressure;
  CHECK(swept_freezing_flow(f, 1.0, kPressure, kShare, 140.0) ==
        Approx((kShare - over) / (1.0 - over)).epsilon(1e-2));
}

TEST_CASE(
    "Of two beds half a cycle apart one always delivers, and each is cooled before it is opened to the air") {
  using enum FreezerPhase;
  FreezerPhase before = freezer_phase(-1e-3);
  CHECK(before == pressurising);
  for (int n = 0; n < 2000; ++n) {
    const FreezerPhase one = freezer_phase(n * 1e-3), other = freezer_phase(n * 1e-3 + 0.5);
    CHECK((one == delivering) != (other == delivering));
    const bool follows = one == before || (before == pressurising && one == delivering) ||
                         (before == delivering && one == cooling) || (before == cooling && one == freezing) ||
                         (before == freezing && one == pressurising);
    CHECK(follows);
    before = one;
  }
}

TEST_CASE("The heat that a bed holds is that of its metal, its ice and its gas") {
  FreezerParameters f;
  f.metal = 40e3, f.volume = 0.1;
  for (const double T : {140.0, 165.0, 195.0}) {
    const double ice = 500.0, gas = 4.0;
    CHECK(bed_temperature(f, FreezerBed<double>{ice, gas, bed_heat(f, ice, gas, T)}) == Approx(T));
    // a mole that sublimes takes up its heat less the work of its pressure
    const double more = bed_heat(f, ice - 1.0, gas + 1.0, T) - bed_heat(f, ice, gas, T);
    CHECK(more == Approx(heat_of_sublimation(T) - kGasConstant * T));
  }
  CHECK(kIceCapacity == Approx(55.0).epsilon(0.1));  // J/mol/K, Giauque and Egan 1937 near 170 K, from memory
}
