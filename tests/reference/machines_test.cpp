// Lobe and scroll compressors, control valves, dryer and liquefier.
// Where a case says "computed", the number is that of an independent calculation from the published equations.
#include <catch2/catch.hpp>

#include "plant-model/compressors/lobe.hpp"
#include "plant-model/compressors/scroll_bank.hpp"
#include "plant-model/flow/control_valve.hpp"
#include "plant-model/heat/liquefier.hpp"

using namespace duskline::plant;

namespace {

constexpr double kMass = 0.0440095, kExponent = 1.3;
constexpr double kTwoPi = 6.28318530717958647693;

}  // namespace

TEST_CASE("A lobe stage fills and works as in the handbook") {
  CHECK(lobe_filling(30.0, 2.0) == Approx(0.9375).epsilon(1e-12));  // computed, as the next
  CHECK(lobe_filling(30.0, 5.0) == Approx(0.8571).epsilon(1e-4));
  CHECK(lobe_filling(10.0, 2.0) == Approx(0.8333).epsilon(1e-4));
  CHECK(lobe_isentropic_efficiency(kExponent, 2.0) == Approx(0.7517).epsilon(1e-4));
  CHECK(lobe_isentropic_efficiency(kExponent, 3.0) == Approx(0.6252).epsilon(1e-4));
  const LobeStage l{.displacement = 1e-3};
  // handbook of vacuum technology: 30 to 60 near 1 to 5 mbar, about 10 at 100 mbar, 5 to 8 at 1 bar
  for (const double p : {100.0, 300.0, 500.0}) {
    CHECK(zero_flow_ratio(l, p) > 30.0);
    CHECK(zero_flow_ratio(l, p) < 60.0);
  }
  CHECK(zero_flow_ratio(l, 1e4) == Approx(10.0).epsilon(0.1));
  CHECK(zero_flow_ratio(l, 1e5) > 5.0);
  CHECK(zero_flow_ratio(l, 1e5) < 8.0);
  const auto r = lobe_stage(l, kExponent, 700.0, 240.0, 1400.0, 50.0 * kTwoPi);
  CHECK(r.power == Approx(1e-3 * 50.0 * 700.0 / l.mechanical_efficiency).epsilon(1e-12));
  // adiabatic: the gas that leaves carries the work of the rotors, but for their friction
  const double cp = kExponent / (kExponent - 1.0) * kGasConstant;
  CHECK(r.flow * cp * (r.temperature - 240.0) == Approx(r.power * l.mechanical_efficiency).epsilon(1e-9));
}

TEST_CASE("A bank of scrolls is as many as run, less what leaks back through the others") {
  ScrollBank b;
  b.machine.displacement = 20e-6, b.machine.filling = 0.97, b.machine.leakage = 1e-15;
  b.machine.volume_ratio = 10.0, b.machine.isentropic_exponent = 1.3, b.machine.motor_efficiency = 0.85;
  b.machine.friction_torque = 0.05;
  b.count = 6, b.check_valve_leak = 1e-12;
  const double p1 = 700.0, p2 = 70e3, T = 240.0, speed = 360.0;
  const auto one = scroll_bank(b, 1, p1, T, p2, speed), all = scroll_bank(b, 6, p1, T, p2, speed);
  const double back = b.check_valve_leak * (p2 - p1);
  CHECK(all.flow == Approx(6.0 * (one.flow + 5.0 * back)).epsilon(1e-12));
  CHECK(all.power == Approx(6.0 * one.power).epsilon(1e-12));
  CHECK(scroll_bank(b, 0, p1, T, p2, 0.0).flow == Approx(-6.0 * back).epsilon(1e-12));
}

TEST_CASE("A control valve has the capacity of the standard's example") {
  // IEC 60534-2-1, example with carbon dioxide: 3800 m3/h at 0 degC and 1 atm, 680 to 310 kPa, 433 K, Z 0.988, x_T 0.60;
  // without fittings K_v is 62.652, computed. Z acts as a factor on the temperature.
  const ControlValve v{.capacity = 1.0, .choke_ratio = 0.60};
  const double flow = 3800.0 / 3600.0 * kMass / 22.414e-3;
  CHECK(capacity_for(v, 1.30, kMass, flow, 680e3, 433.0 * 0.988, 310e3) == Approx(62.652).epsilon(5e-3));
  const ControlValve plant{.capacity = 1.0, .choke_ratio = 0.70, .leakage = 0.0};
  const double choked =
      valve_flow(plant, kExponent, 1.0, 70e3, 300.0, kMass, 0.0, 300.0, kMass) * kMass * 3600.0;
  CHECK(choked == Approx(15.85).epsilon(5e-3));  // kg/h per K_v, computed
  CHECK(capacity_for(plant, kExponent, kMass, 0.0550 / 3600.0, 70e3, 300.0, 0.0) ==
        Approx(0.00347).epsilon(5e-3));
  CHECK(capacity_for(plant, kExponent, kMass, 16.5 / 3600.0, 70e3, 300.0, 0.0) ==
        Approx(1.041).epsilon(5e-3));
  // the same flow backwards; nothing at no difference; continuous where it chokes
  CHECK(valve_flow(plant, kExponent, 1.0, 30e3, 300.0, kMass, 70e3, 300.0, kMass) ==
        -valve_flow(plant, kExponent, 1.0, 70e3, 300.0, kMass, 30e3, 300.0, kMass));
  CHECK(valve_flow(plant, kExponent, 1.0, 70e3, 300.0, kMass, 70e3, 300.0, kMass) == 0.0);
  const double edge = kExponent / 1.40 * 0.70;
  CHECK(valve_flow_number(plant, kExponent, edge - 1e-9) ==
        Approx(valve_flow_number(plant, kExponent, edge + 1e-9)));
}

TEST_CASE("Travel of a control valve: equal percentage, leakage, stroke") {
  const ControlValve v{.capacity = 2.0};
  CHECK(valve_capacity(v, 1.0) == Approx(2.0).epsilon(1e-3));
  CHECK(valve_capacity(v, 0.0) == Approx(2e-4).epsilon(1e-9));
  // ten per cent of travel change the capacity by the tenth root of 50, wherever
  CHECK(valve_capacity(v, 0.8) / valve_capacity(v, 0.7) == Approx(std::pow(50.0, 0.1)).epsilon(1e-3));
  CHECK(valve_travel_rate(v, 1.0, 0.0) < 1.0 / v.stroke);
  CHECK(valve_travel_rate(v, 0.501, 0.5) == Approx(1e-3 / v.lag).epsilon(1e-5));
}

TEST_CASE("Drying and liquefying oxygen draw what was computed") {
  const double mass = 0.0319988;
  CHECK(liquefaction_heat(Liquefier{}, 300.0) / mass == Approx(406e3).epsilon(1e-3));
  CHECK(liquefier_power(Liquefier{.carnot_share = 0.15}, 1.0 / mass, 300.0) / 3.6e6 ==
        Approx(1.76).epsilon(5e-3));
  CHECK(liquefier_power(Liquefier{.carnot_share = 0.25}, 1.0 / mass, 300.0) / 3.6e6 ==
        Approx(1.05).epsilon(5e-3));
  // 100 ppm of water: 60 J a mole of oxygen, a hundredth of what liquefying takes
  CHECK(dryer_power(Dryer{}, 1.0) == Approx(1e-4 * 300e3 / 0.5).epsilon(1e-12));
}
