// Lobe and scroll compressors, control valves, dryer and liquefier.
// Where a case says "computed", the number is that of an independent calculation from the published equations.
#include <catch2/catch.hpp>

#include "plant-model/compressors/lobe.hpp"
#include "plant-model/compressors/scroll_bank.hpp"
#include "plant-model/flow/control_valve.hpp"
#include "plant-model/flow/suction.hpp"
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

TEST_CASE("The pressure before a lobe stage is that at which it passes the flow") {
  const LobeStage l{.displacement = 1e-3};
  for (const double p1 : {700.0, 5e3, 4e4})
    for (const double ratio : {0.5, 1.0, 2.2, 40.0}) {
      const double speed = 50.0 * kTwoPi;
      const auto r = lobe_stage(l, kExponent, p1, 300.0, ratio * p1, speed);
      CHECK(lobe_inlet_pressure(l, r.flow, 300.0, ratio * p1, 1e-3 * 50.0) == Approx(p1).epsilon(1e-12));
    }
}

TEST_CASE("A bank of scrolls is as many as run, less what leaks back through the others") {
  CompressorParameters c;
  c.displacement = 20e-6, c.filling = 0.97, c.leakage = 1e-15, c.friction_torque = 0.05, c.inertia = 1e-4;
  c.shell_heat_capacity = 900, c.shell_conductance = 3, c.motor_efficiency = 0.85, c.volume_ratio = 10;
  const BankParameters b{.count = 6, .running = 4, .check_valve_leak = 1e-12};
  const CompressorParameters all = as_one(c, b);
  CHECK(swept_flow_per_pascal(all, 360.0, 240.0) == Approx(4 * swept_flow_per_pascal(c, 360.0, 240.0)));
  CHECK(friction_torque(all, 0, 0.0, 360.0) == Approx(4 * friction_torque(c, 0, 0.0, 360.0)));
  CHECK(all.leakage == Approx(4 * c.leakage));
  CHECK(all.inertia == Approx(4 * c.inertia));
  CHECK(all.shell_heat_capacity == 6 * c.shell_heat_capacity);
  CHECK(all.shell_conductance == 6 * c.shell_conductance);
  CHECK(all.motor_efficiency == c.motor_efficiency);  // the same for each
  CHECK(all.volume_ratio == c.volume_ratio);
  // what stands still passes the leak of its check valve from the discharge to the suction, no more
  const Composition<double> air = [] {
    Composition<double> pure{};
    pure[CO2] = 1.0;
    return pure;
  }();
  const double swept = swept_flow_per_pascal(all, 360.0, 240.0), leak = leak_of_standing(b);
  CHECK(leak == Approx(2e-12));
  const auto s =
      suction_manifold(700.0, 1e3, air, swept, all.leakage, 70e3, air, Composition<double>{}, leak);
  CHECK(s.leaked ==
        Approx(all.leakage * (70e3 * 70e3 - s.pressure * s.pressure) + leak * (70e3 - s.pressure)));
  CHECK(s.intake - s.outflow == Approx(s.swept - s.leaked));
  CHECK(s.pressure == Approx(700.0 - 1e3 * (s.intake - s.outflow)));
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
