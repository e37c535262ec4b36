// Signs and stability of the loops around the stand-in plant. The bounds are design aims stated here, not
// plant facts.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/controller_rig.hpp"

using namespace duskline::test;

TEST_CASE("utilisation stays at its set-point while the density falls by a third in two hours") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.run(CTL_PRODUCTION, 600);
  const float speed = rig.out.compressor_speed;
  for (int k = 0; k < 7200; ++k) {
    rig.plant.ambient_pressure = 700.0 * (1.0 - 0.33 * k / 7200.0);
    rig.step(CTL_PRODUCTION);
    REQUIRE(rig.out.utilisation == Approx(rig.params.utilisation_setpoint).margin(0.005));
    REQUIRE(rig.out.limiter == CTL_BY_DEMAND);
  }
  CHECK(rig.out.compressor_speed > 1.4f * speed);
}

TEST_CASE("when the compressor is at its highest speed the current gives way") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.plant.ambient_pressure = 250.0;  // at 600 rad/s and 0.82 less than the demand asks for
  double highest = 0.0;
  for (int k = 0; k < 3000; ++k) {
    rig.step(CTL_PRODUCTION);
    if (k > 300) highest = std::max(highest, static_cast<double>(rig.out.utilisation));
  }
  CHECK(rig.out.compressor_speed > 599.5f);
  CHECK(rig.out.mode == CTL_PRODUCTION);
  CHECK((rig.out.limiter == CTL_BY_UTILISATION || rig.out.limiter == CTL_BY_COKE_MARGIN));
  CHECK(rig.out.stack_current < 4.0f);
  CHECK(highest < rig.params.utilisation_max + 0.01);
  // and comes back without winding up
  rig.plant.ambient_pressure = 700.0;
  rig.run(CTL_PRODUCTION, 400);
  CHECK(rig.out.stack_current == Approx(4.19).margin(0.01));  // 10 g/h by Faraday's law at 0.999
  CHECK(rig.out.utilisation == Approx(rig.params.utilisation_setpoint).margin(0.01));
}

TEST_CASE("a stalled compressor takes the current down before the gas is used up") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.plant.compressor_stalled = true;
  double highest = 0.0;
  for (int k = 0; k < 600; ++k) {
    rig.step(CTL_PRODUCTION);
    highest = std::max(highest, rig.plant.outlet_co());
  }
  CHECK(rig.out.stack_current == 0.0f);
  CHECK(highest < 0.86);  // of 0.951; 0.05 + 0.82 x 0.90 = 0.79 and the lag of the flow meter
}

TEST_CASE("a resistance that grows is answered by flow, then by current, at the margin set-point") {
  Rig rig = rig_in(CTL_PRODUCTION);
  for (int k = 0; k < 6000; ++k) {
    rig.plant.resistance += 1.2e-8;
    rig.step(CTL_PRODUCTION);
    REQUIRE(rig.out.coke_margin > rig.params.margin_setpoint - 0.005f);
    REQUIRE(rig.out.mode == CTL_PRODUCTION);
  }
  CHECK(rig.out.limiter == CTL_BY_COKE_MARGIN);
  CHECK(rig.out.utilisation_setpoint < rig.params.utilisation_setpoint - 0.05f);
  CHECK(rig.out.stack_current < 4.0f);
  CHECK(rig.out.coke_margin == Approx(rig.params.margin_setpoint).margin(0.003));
}

TEST_CASE("a power ceiling sheds current and keeps the heat") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.run(CTL_PRODUCTION, 1500);
  const double free = rig.plant.power;
  const double ceiling = free - 15.0;
  for (int k = 0; k < 1500; ++k)
    rig.step(CTL_PRODUCTION, [&](ctl_inputs& in) { in.power_ceiling = static_cast<float>(ceiling); });
  // current_step holds what would move the power by less than 0.01 A / 0.012 A/W
  CHECK(rig.plant.power == Approx(ceiling - rig.params.ceiling_headroom).margin(0.85));
  CHECK(rig.out.limiter == CTL_BY_POWER);
  CHECK(rig.out.utilisation ==
        Approx(rig.params.utilisation_setpoint).margin(0.02));  // flow follows down: it draws power too
  CHECK(rig.plant.stack == Approx(1073.0).margin(5.0));
}

TEST_CASE("heaters never draw more than a ceiling leaves") {
  Rig rig(600.0);
  for (int k = 0; k < 1800; ++k) {
    rig.step(CTL_WARM_UP, [](ctl_inputs& in) { in.power_ceiling = 90.0f; });
    REQUIRE(rig.plant.heater < 90.0);
    if (k > 200) REQUIRE(rig.plant.power < 92.0);
  }
  CHECK(rig.plant.heater > 60.0);
}

TEST_CASE("the stack settles at its set-point with even ends") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.run(CTL_PRODUCTION, 4000);
  double mean = 0.0;
  for (int k = 0; k < CTL_ZONES; ++k) mean += rig.plant.zone(k) / CTL_ZONES;
  CHECK(mean == Approx(1073.15).margin(0.5));
  CHECK(std::abs(rig.plant.end[0] - rig.plant.end[1]) < 1.0);  // their losses differ by 30 %
  const double before = rig.plant.stack;
  rig.run(CTL_PRODUCTION, 600);
  CHECK(std::abs(rig.plant.stack - before) < 0.2);
}

TEST_CASE("inlet CO is held in standby and in production") {
  Rig rig = rig_in(CTL_STANDBY);
  rig.run(CTL_STANDBY, 2500);
  CHECK(rig.plant.inlet_co > 0.03);
  CHECK(rig.plant.inlet_co < 0.08);
  rig.reach(CTL_PRODUCTION, CTL_PRODUCTION);
  for (int k = 0; k < 3000; ++k) {
    rig.step(CTL_PRODUCTION);
    REQUIRE(rig.plant.inlet_co > 0.02);
    REQUIRE(rig.plant.inlet_co < 0.10);
  }
  CHECK(rig.plant.inlet_co == Approx(0.05).margin(0.01));
}

TEST_CASE("noise on the measurements does not shake the commands") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.run(CTL_PRODUCTION, 600);
  uint32_t random = 99;
  const auto noise = [&random](float size) {
    random = random * 1664525u + 1013904223u;
    return size * (static_cast<float>(random >> 8) * (2.0f / 16777216.0f) - 1.0f);
  };
  float lowest = 1e9f, highest = 0.0f, least = 1e9f, most = 0.0f;
  for (int k = 0; k < 1200; ++k) {
    rig.step(CTL_PRODUCTION, [&](ctl_inputs& in) {
      in.feed_flow += noise(2.0e-7f);
      in.stack_current += noise(0.01f);
      in.ambient_pressure += noise(3.0f);
      in.outlet_co_fraction += noise(0.01f);
      for (float& v : in.cell_voltage) v += noise(0.001f);
      for (float& t : in.zone_temperature) t += noise(0.5f);
      for (float& t : in.end_temperature) t += noise(0.5f);
    });
    lowest = std::min(lowest, rig.out.compressor_speed),
    highest = std::max(highest, rig.out.compressor_speed);
    least = std::min(least, rig.out.stack_current), most = std::max(most, rig.out.stack_current);
    REQUIRE(rig.out.mode == CTL_PRODUCTION);
  }
  CHECK(highest - lowest < 0.05f * highest);
  CHECK(most - least < 0.01f);
}
