// Carbon dioxide that freezes and sublimes.
// Where a case says "computed", the number is that of an independent calculation from the published equations.
#include <algorithm>
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

TEST_CASE("Two beds take turns: one freezes while the other delivers") {
  FreezerParameters f;
  f.full = 10.0, f.empty = 0.01, f.start_pressure = 70e3, f.stop_pressure = 50e3;
  using enum FreezerPhase;
  FreezerView v{.ice = 0.0,
                .surface = 200.0,
                .frost_point = 148.0,
                .pressure = 700.0,
                .ambient = 700.0,
                .other_delivers = true};
  CHECK(next_phase(f, cooling, v) == cooling);
  v.surface = 147.0;
  CHECK(next_phase(f, cooling, v) == freezing);
  v.ice = 9.9;
  CHECK(next_phase(f, freezing, v) == freezing);
  v.ice = 10.0;
  CHECK(next_phase(f, freezing, v) == pressurising);
  v.other_delivers = false;
  CHECK(next_phase(f, pressurising, v) == pressurising);
  v.pressure = 70e3;
  CHECK(next_phase(f, pressurising, v) == delivering);
  v.other_delivers = true;
  CHECK(next_phase(f, pressurising, v) == pressurising);  // the other is not empty yet
  v.pressure = 49e3;
  CHECK(next_phase(f, delivering, v) == delivering);  // ice is left
  v.ice = 0.0;
  CHECK(next_phase(f, delivering, v) == venting);
  v.pressure = 60e3;
  CHECK(next_phase(f, delivering, v) == delivering);  // gas is left
  v.pressure = 710.0;
  CHECK(next_phase(f, venting, v) == cooling);
}

TEST_CASE("Two beds deliver gas at 70 kPa without a pause, and no atom or joule is lost") {
  // an outpost: 0.104 mol/s (4.585 g/s) of carbon dioxide; sizes are estimates
  FreezerParameters f;
  f.area = 20.0, f.transfer = 2e-5, f.metal = 40e3, f.cooler = 6500.0, f.carnot_share = 0.25,
  f.warm_end = 300.0;
  f.heater = 6000.0, f.volume = 0.5, f.full = 300.0, f.empty = 0.5, f.start_pressure = 72e3,
  f.stop_pressure = 65e3;
  using enum FreezerPhase;
  struct Bed {
    FreezerPhase phase;
    FreezerState<double> x;
  };
  constexpr double kPartial = 667.0, kAir = 240.0, kWanted = 0.104, kStep = 0.05, kIce = 55.0;
  Bed beds[2]{{delivering, {300.0, 22.5, 191.0}}, {cooling, {0.0, 0.25, 200.0}}};
  double taken = 0.0, delivered = 0.0, vented = 0.0, electric = 0.0, heat_in = 0.0, least = 1e9, missed = 0.0;
  int turns = 0;
  bool within = true;
  const auto amount = [&] { return beds[0].x.ice + beds[0].x.gas + beds[1].x.ice + beds[1].x.gas; };
  const double amount_before = amount();
  constexpr double kHours = 6.0;
  for (int n = 0; n < static_cast<int>(kHours * 3600.0 / kStep); ++n) {
    bool supplied = false;
    for (int i = 0; i < 2; ++i) {
      Bed& b = beds[i];
      const double pressure = vessel_pressure(f, b.x.gas, b.x.surface);
      const FreezerView view{.ice = b.x.ice,
                             .surface = b.x.surface,
                             .frost_point = frost_point(kPartial),
                             .pressure = pressure,
                             .ambient = 700.0,
                             .other_delivers = beds[1 - i].phase == delivering};
      const FreezerPhase next = next_phase(f, b.phase, view);
      turns += next == delivering && b.phase != delivering ? 1 : 0;
      b.phase = next;
      double out = 0.0;
      if (b.phase == delivering && !supplied)
        out = kWanted, supplied = true, least = std::min(least, pressure);
      if (b.phase == venting) out = 0.02 * b.x.gas;
      // the heater holds the pressure while there is ice, the cooler works until the bed is full
      const double heating =
          b.x.ice > f.empty ? std::clamp((f.start_pressure + 4e3 - pressure) / 4e3, 0.0, 1.0) : 0.0;
      const auto r = freezer_rates(f, b.phase, b.x,
                                   FreezerInputs<double>{.partial = kPartial,
                                                         .air = kAir,
                                                         .outflow = out,
                                                         .cooling = b.x.ice < f.full ? 1.0 : 0.0,
                                                         .heating = heating});
      // the heat that comes with the gas, and that of the ice which it becomes, make the balance
      const double stored = (f.metal + kIce * b.x.ice) * r.rate.surface;
      const double latent = r.rate.ice * (b.phase == freezing ? freezing_heat(kAir, b.x.surface)
                                                              : heat_of_sublimation(b.x.surface));
      heat_in = std::max(heat_in, std::abs(stored - latent + r.lifted - r.heater));
      b.x.ice += kStep * r.rate.ice, b.x.gas += kStep * r.rate.gas, b.x.surface += kStep * r.rate.surface;
      taken += kStep * r.intake, electric += kStep * r.cooler;
      (b.phase == venting ? vented : delivered) += kStep * out;
      within = within && b.x.surface > 130.0 && b.x.surface < 216.0 && b.x.ice > -1e-9;
    }
    missed += supplied ? 0.0 : kStep;
  }
  CHECK(amount() - amount_before == Approx(taken - delivered - vented).margin(1e-6));
  CHECK(within);
  CHECK(heat_in < 1e-6);
  CHECK(turns >= 4);
  CHECK(missed <= 2.0 * kStep * turns);  // a turn takes a step
  CHECK(least > 60e3);
  // at 150 K and 300 K 0.744 kWh/kg, computed; the bed freezes near 142 K, and its metal is cooled each time
  CHECK(electric / 3.6e6 / (taken * kMass) > 0.744);
  CHECK(electric / 3.6e6 / (taken * kMass) < 1.1);
}
