// Control laws: selection, tracking, bumpless changes, the fixed table. Bounds are the rates and gains of the
// parameters.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/controller_rig.hpp"
#include "tests/support/law_scene.hpp"

using namespace duskline::test;
using namespace duskline::controller;

TEST_CASE("loops that are not selected track the current applied and do not wind up") {
  Scene scene;
  for (int k = 0; k < 5000; ++k) scene.tick();
  const ctl_params& p = scene.params;
  // stationary: output - applied = K Tt/Ti e with Tt = Ti (see the PI test)
  const float e = scene.coke.margin - p.margin_setpoint;
  CHECK(scene.memory.margin.output - scene.applied == Approx(p.margin_gain * e).epsilon(1e-3));
  CHECK(scene.memory.voltage.output - scene.applied ==
        Approx(p.voltage_gain * (p.voltage_max - scene.coke.highest_voltage)).epsilon(1e-3));
  CHECK(scene.memory.power.output == Approx(scene.applied).epsilon(1e-6));
}

TEST_CASE("an override takes over at once and by no more than its gain times the change of error") {
  Scene scene;
  for (int k = 0; k < 1000; ++k) scene.tick();
  const float before = scene.applied, margin = scene.coke.margin;
  scene.coke.margin = scene.params.margin_setpoint - 0.010f;
  const LawOutput output = scene.tick();
  CHECK(output.limiter == CTL_BY_COKE_MARGIN);
  CHECK(output.current < before);
  CHECK(before - output.current <= scene.params.margin_gain * (margin - scene.coke.margin) + 1e-4f);
  // while it is short the current keeps falling by K/Ti e a second
  const float at = scene.applied;
  scene.tick();
  CHECK(at - scene.applied ==
        Approx(scene.params.margin_gain / scene.params.margin_time * 0.010f).epsilon(0.01));
  // when the margin is back the demand takes over without a step above it
  scene.coke.margin = 0.12f;
  for (int k = 0; k < 200; ++k) REQUIRE(scene.tick().current <= scene.wanted);
  CHECK(scene.applied == scene.wanted);
}

TEST_CASE("each limit of the current is the one reported") {
  Scene scene;
  for (int k = 0; k < 200; ++k) scene.tick();
  CHECK(scene.tick().limiter == CTL_BY_DEMAND);
  scene.gas.feed = 2.0e-4f;
  const LawOutput starved = scene.tick();
  CHECK(starved.limiter == CTL_BY_UTILISATION);
  // by hand: 0.82 (utilisation_max) x 2e-4 x 0.901 x 2F/(8 x 0.999)
  CHECK(starved.current == Approx(0.82 * 2e-4 * 0.901 * 2 * 96485.33 / (8 * 0.999)).epsilon(1e-4));
  scene.gas.feed = 3.6e-4f;
  scene.coke.highest_voltage = 1.36f;
  LawOutput output{};
  for (int k = 0; k < 20; ++k) output = scene.tick();
  CHECK(output.limiter == CTL_BY_VOLTAGE);
  scene.coke.highest_voltage = 1.04f;
  scene.ceiling = 200.0f;
  scene.signals.value[in_bus_power] = 230.0f;
  for (int k = 0; k < 20; ++k) output = scene.tick();
  CHECK(output.limiter == CTL_BY_POWER);
}

TEST_CASE("a short margin asks for more flow while the speed has room") {
  Scene scene;
  for (int k = 0; k < 200; ++k) scene.tick();
  const float flow = scene.memory.feed_setpoint;
  // by hand: 4.2 A x 8 x 0.999/(2F) / (0.65 (utilisation_setpoint) x 0.901) x 0.0425
  CHECK(flow == Approx(4.2 * 8 * 0.999 / (2 * 96485.33) / (0.65 * 0.901) * 0.0425).epsilon(1e-4));
  scene.coke.margin = scene.params.relief_margin - 0.020f;
  for (int k = 0; k < 300; ++k) {
    scene.memory.saturated = 0.0f;
    scene.tick();
  }
  CHECK(utilisation_setpoint(scene.params, scene.memory) == Approx(0.65 - 3.0 * 0.020).epsilon(1e-3));
  CHECK(scene.memory.feed_setpoint > 1.05f * flow);

  Scene full;
  for (int k = 0; k < 300; ++k) {
    full.coke.margin = full.params.relief_margin - 0.020f;
    full.memory.saturated = 1.0f;
    full.tick();
  }
  CHECK(utilisation_setpoint(full.params, full.memory) == full.params.utilisation_setpoint);
}

TEST_CASE("taking the flow loop over is exactly without a bump") {
  Scene scene;
  for (int k = 0; k < 50; ++k) scene.tick();
  const float speed = 317.0f;
  LawInput in = scene.input();
  in.applied_feed = speed;
  in.takes_over = true;
  CHECK(cascade_law(scene.memory, in).feed == Approx(speed).epsilon(2e-6));
}

TEST_CASE("the table of the fixed law is held between its rows") {
  Scene scene;
  ctl_params& p = scene.params;
  p.table_rows = 3;
  const float rows[3][3] = {{100.0f, 250.0f, 1.0f}, {200.0f, 300.0f, 2.0f}, {300.0f, 350.0f, 3.0f}};
  for (int k = 0; k < 3; ++k)
    p.table_time[k] = rows[k][0], p.table_speed[k] = rows[k][1], p.table_current[k] = rows[k][2];
  const auto at = [&](float elapsed) {
    LawInput in = scene.input();
    in.elapsed = elapsed;
    return fixed_law(scene.memory, in);
  };
  CHECK(at(0.0f).feed == 250.0f);
  CHECK(at(199.0f).current == 1.0f);
  CHECK(at(200.0f).current == 2.0f);
  CHECK(at(1e6f).feed == 350.0f);
  CHECK(at(250.0f).limiter == CTL_BY_TABLE);
}

namespace {

ctl_params with_table(float speed, float current) {
  ctl_params p = default_params();
  p.table_rows = 1;
  p.table_speed[0] = speed;
  p.table_current[0] = current;
  return p;
}

}  // namespace

TEST_CASE("changes of law and of gains do not bump the plant") {
  Rig rig = rig_in(CTL_PRODUCTION, with_table(420.0f, 3.0f));
  rig.run(CTL_PRODUCTION, 500);
  const auto step = [&rig] {
    const float speed = rig.out.compressor_speed, current = rig.out.stack_current;
    rig.step(CTL_PRODUCTION);
    REQUIRE(std::abs(rig.out.compressor_speed - speed) <= rig.params.speed_rate * rig.params.period + 1e-3f);
    REQUIRE(rig.out.stack_current - current <= rig.params.current_rate_up * rig.params.period + 1e-5f);
    REQUIRE(current - rig.out.stack_current <= rig.params.current_rate_down * rig.params.period + 1e-5f);
  };
  rig.params.law = CTL_LAW_FIXED;
  for (int k = 0; k < 300; ++k) step();
  CHECK(rig.out.compressor_speed == 420.0f);
  CHECK(rig.out.stack_current == 3.0f);
  CHECK(rig.out.limiter == CTL_BY_TABLE);
  rig.params.law = CTL_LAW_CASCADE;
  const float held = rig.out.compressor_speed;
  step();
  CHECK(rig.out.compressor_speed ==
        Approx(held).epsilon(1e-5));  // bumpless: the loop takes over where it stands
  for (int k = 0; k < 500; ++k) step();
  CHECK(rig.out.utilisation == Approx(rig.params.utilisation_setpoint).margin(0.005));
  const float before = rig.out.compressor_speed;
  rig.params.flow_gain *= 2.0f;
  step();
  CHECK(rig.out.compressor_speed == Approx(before).epsilon(2e-3));
}

TEST_CASE("rates hold over the whole life of a plant") {
  Rig rig(1000.0);
  const uint32_t requests[] = {CTL_PRODUCTION, CTL_STANDBY, CTL_PRODUCTION, CTL_COOL_DOWN, CTL_PRODUCTION};
  for (const uint32_t request : requests) {
    for (int k = 0; k < 2500; ++k) {
      const float speed = rig.out.compressor_speed, current = rig.out.stack_current;
      rig.step(request);
      REQUIRE(std::abs(rig.out.compressor_speed - speed) <= 20.0f + 1e-3f);
      // up to the protective current it may rise as fast as it may fall
      const bool protective = rig.out.stack_current <= rig.params.protective_current;
      REQUIRE(rig.out.stack_current - current <= (protective ? 0.5f : 0.02f) + 1e-5f);
      if (rig.out.stack_current > 0.0f) REQUIRE(current - rig.out.stack_current <= 0.5f + 1e-5f);
      REQUIRE(rig.out.mode != CTL_SAFE);
    }
  }
  CHECK(rig.out.mode == CTL_PRODUCTION);
}

TEST_CASE("the fixed law keeps the hard interlocks and has no coke override") {
  ctl_params p = with_table(380.0f, 4.0f);
  p.law = CTL_LAW_FIXED;
  Rig rig = rig_in(CTL_PRODUCTION, p);
  rig.run(CTL_PRODUCTION, 300);
  for (int k = 0; k < 20; ++k) rig.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.cell_voltage[3] = 1.20f; });
  CHECK(rig.out.mode == CTL_PRODUCTION);
  CHECK(rig.out.stack_current == 4.0f);
  CHECK(rig.out.coke_margin < 0.0f);
  rig.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.cell_voltage[3] = 1.52f; });
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK(rig.out.tripped == CTL_OVER_VOLTAGE);
}
