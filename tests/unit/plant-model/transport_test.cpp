// Thermal conductivity of thin CO2 against values computed independently from the Eucken form with the
// harmonic vibrational heat capacity of CO2 (667.4 x2, 1333, 2349 cm-1), and against handbook points.
#include <catch2/catch.hpp>

#include "plant-model/gas/transport.hpp"

using namespace duskline::plant;

namespace {
const Composition<double> kCarbonDioxide{1, 0, 0, 0, 0};
}

TEST_CASE("thermal conductivity of CO2 follows its table") {
  // mu (cv + 9R/4)/M with mu by Sutherland, computed to two digits for each temperature
  struct Row {
    double T, k;
  };
  for (const Row& row : {Row{160, 0.0074}, {200, 0.0098}, {240, 0.0123}, {280, 0.0149}, {300, 0.0162}})
    CHECK(thermal_conductivity(row.T, kCarbonDioxide) == Approx(row.k).epsilon(0.012));
  // handbook: 9.6 mW/m/K at 200 K and 16.8 mW/m/K at 300 K (from memory); the form is good to 4 %
  CHECK(thermal_conductivity(200.0, kCarbonDioxide) == Approx(0.0096).epsilon(0.04));
  CHECK(thermal_conductivity(300.0, kCarbonDioxide) == Approx(0.0168).epsilon(0.04));
}

TEST_CASE("thermal conductivity rises with temperature and falls when argon is added") {
  double last = 0.0;
  for (double T = 160; T < 1100; T += 20) {
    const double k = thermal_conductivity(T, kCarbonDioxide);
    CHECK(k > last);
    last = k;
  }
  // argon has no internal modes to carry heat: less per mole at equal viscosity
  CHECK(thermal_conductivity(300.0, Composition<double>{0.9, 0, 0, 0, 0.1}) <
        thermal_conductivity(300.0, kCarbonDioxide));
}
