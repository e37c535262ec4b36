// Every interlock, under every law, in every mode that it guards: safe outputs in the tick in which its reason
// shows. Reasons and modes: the table in supervise/modes.hpp. Only the fixed law waives one, margin lost.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <vector>

#include "controller/supervise/modes.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::test;

namespace {

struct Cause {
  uint32_t reason;
  std::function<void(ctl_inputs&)> edit;
  int ticks = 1;  // a lost measurement is held for sensor_hold first
};

const std::vector<Cause> kCauses = {
    {CTL_OVER_PRESSURE, [](ctl_inputs& in) { in.cathode_pressure = 91000.0f; }},
    {CTL_OVER_PRESSURE, [](ctl_inputs& in) { in.anode_pressure = 150000.0f; }},
    {CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.zone_temperature[2] = 1160.0f; }},
    {CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.end_temperature[1] = 1210.0f; }},
    {CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.preheater_temperature = 1240.0f; }},
    {CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.compressor_temperature = 430.0f; }},
    {CTL_OVER_VOLTAGE, [](ctl_inputs& in) { in.cell_voltage[6] = 1.51f; }},
    {CTL_BUS_LOW, [](ctl_inputs& in) { in.bus_voltage = 21.0f; }},
    {CTL_MARGIN_LOST, [](ctl_inputs& in) { in.cell_voltage[3] = 1.30f; }},
    {CTL_SENSOR_LOST, [](ctl_inputs& in) { in.end_temperature[0] = NAN; }, 4},
    {CTL_SENSOR_LOST, [](ctl_inputs& in) { in.zone_temperature[0] = in.zone_temperature[1] = NAN; }, 4},
    {CTL_SENSOR_LOST, [](ctl_inputs& in) { in.stack_current = NAN; }, 4},
    {CTL_SENSOR_LOST, [](ctl_inputs& in) { in.feed_flow = NAN; }, 4},
};

ctl_params with_law(uint32_t law) {
  ctl_params p = default_params();
  p.law = law;
  p.table_rows = 1;
  p.table_speed[0] = 300.0f;
  p.table_current[0] = 4.0f;
  return p;
}

}  // namespace

TEST_CASE("no law disables an interlock") {
  for (uint32_t law = 0; law < CTL_LAWS; ++law) {
    for (const uint32_t mode : {CTL_WARM_UP, CTL_STANDBY, CTL_PRODUCTION, CTL_COOL_DOWN}) {
      const Rig start = rig_in(mode, with_law(law));
      for (const Cause& cause : kCauses) {
        const bool needs_current =
            cause.reason == CTL_MARGIN_LOST ||
            (cause.reason == CTL_SENSOR_LOST && cause.ticks > 1 && &cause >= &kCauses[11]);
        if (needs_current && mode != CTL_PRODUCTION)
          continue;  // warm-up and cool-down stop flow and current instead
        if (law == CTL_LAW_FIXED && cause.reason == CTL_MARGIN_LOST)
          continue;  // documented: it flies blind to coke
        Rig rig = start;
        for (int k = 0; k < cause.ticks; ++k) rig.step(mode, cause.edit);
        INFO("law " << law << " mode " << mode << " reason " << cause.reason);
        CHECK(rig.out.mode == CTL_SAFE);
        CHECK((rig.out.tripped & cause.reason) != 0);
        CHECK(rig.out.stack_current == 0.0f);
        if (cause.reason == CTL_OVER_PRESSURE || cause.reason == CTL_BUS_LOW)
          CHECK(rig.out.compressor_speed == 0.0f);
        if (cause.reason == CTL_BUS_LOW)
          CHECK(rig.out.end_power[0] + rig.out.end_power[1] + rig.out.preheater_power == 0.0f);
      }
    }
  }
}

TEST_CASE("nothing is energised in a mode whose row forbids it") {
  for (uint32_t law = 0; law < CTL_LAWS; ++law) {
    Rig rig(1073.15, with_law(law));
    uint32_t random = 12345;
    int seen[CTL_MODES] = {};
    for (int k = 0; k < 20000; ++k) {
      random = random * 1664525u + 1013904223u;
      const uint32_t request = (random >> 20) % 40 == 0 ? (random >> 8) % CTL_MODES : rig.in.requested_mode;
      rig.step(request, [&](ctl_inputs& in) {
        if ((random >> 12) % 997 == 0) in.cell_voltage[1] = 1.6f;
        if ((random >> 10) % 1499 == 0) in.bus_voltage = 21.0f;
      });
      const auto& row = duskline::controller::kModes[rig.out.mode];
      ++seen[rig.out.mode];
      const float heat = rig.out.end_power[0] + rig.out.end_power[1] + rig.out.preheater_power;
      if (!row.heaters) REQUIRE(heat == 0.0f);
      if (!row.flow) REQUIRE(rig.out.compressor_speed == 0.0f);
      if (!row.current) REQUIRE(rig.out.stack_current == 0.0f);
      if (rig.out.mode == CTL_SAFE) REQUIRE(rig.out.stack_current <= rig.params.protective_current);
      if (rig.out.compressor_speed == 0.0f) REQUIRE(rig.out.stack_current == 0.0f);
    }
    CHECK(seen[CTL_SAFE] > 100);
    CHECK(seen[CTL_PRODUCTION] > 100);
  }
}
