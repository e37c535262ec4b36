// Modes, permissives and interlocks. Expected answers come from the tables in supervise/modes.hpp and the
// issue's text.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <vector>

#include "controller/supervise/modes.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::test;
using duskline::controller::kModes;
using duskline::controller::kNext;
using duskline::controller::kTransitions;
using duskline::controller::refused_by;

TEST_CASE("the tables of modes agree with each other") {
  for (uint32_t from = 0; from < CTL_MODES; ++from) {
    CHECK(kModes[from].mode == from);
    CHECK(kNext[from][from] == from);
    for (uint32_t to = 0; to < CTL_MODES; ++to) {
      const uint32_t next = kNext[from][to];
      if (next != from) CHECK(refused_by(from, next) != ~0u);  // every step of a walk is a listed transition
      // and the walk arrives or stays in at most CTL_MODES steps
      uint32_t at = from;
      for (int k = 0; k < CTL_MODES; ++k) at = kNext[at][to];
      CHECK(kNext[at][to] == at);
    }
  }
}

TEST_CASE("a request for production walks from off through warm-up and standby") {
  Rig rig(250.0);
  std::vector<uint32_t> visited{CTL_OFF};
  double fastest = 0.0, previous = 250.0;
  for (int k = 0; k < 16000; ++k) {
    rig.step(CTL_PRODUCTION);
    if (rig.out.mode != visited.back()) visited.push_back(rig.out.mode);
    fastest = std::max(fastest, rig.plant.stack - previous);
    previous = rig.plant.stack;
    if (rig.plant.zone(2) < 933.0) {  // protection_temperature is 660 degC
      REQUIRE(rig.out.compressor_speed == 0.0f);
      REQUIRE(rig.out.stack_current == 0.0f);
    }
    if (rig.out.compressor_speed > 0.0f) REQUIRE(rig.out.stack_current > 0.0f);       // never flow without CO
    if (rig.out.mode == CTL_WARM_UP) REQUIRE(rig.out.stack_current <= 0.5f + 1e-6f);  // protective at most
  }
  CHECK(visited == std::vector<uint32_t>{CTL_OFF, CTL_WARM_UP, CTL_STANDBY, CTL_PRODUCTION});
  CHECK(fastest * 60.0 < 4.0 * 1.15);  // ramp limit of 4 K/min with 15 % for the start of the ramp
  CHECK(rig.out.limiter == CTL_BY_DEMAND);
  CHECK(rig.out.oxygen_rate == Approx(10e-3 / 3600.0).epsilon(1e-3));
}

TEST_CASE("a request for off walks from production through standby and cool-down") {
  Rig rig = rig_in(CTL_PRODUCTION);
  std::vector<uint32_t> visited{CTL_PRODUCTION};
  for (int k = 0; k < 40000 && visited.back() != CTL_OFF; ++k) {
    rig.step(CTL_OFF);
    if (rig.out.mode != visited.back()) visited.push_back(rig.out.mode);
    if (rig.out.mode == CTL_COOL_DOWN) {
      if (rig.plant.stack < 850.0) REQUIRE(rig.out.stack_current == 0.0f);  // protection_end is 585 degC
      if (rig.plant.stack < 840.0) REQUIRE(rig.out.compressor_speed == 0.0f);
      if (rig.plant.stack > 875.0 && k > 60) REQUIRE(rig.out.stack_current > 0.1f);  // protective
      REQUIRE(rig.out.unmet_permissives == CTL_STACK_HOT);
    }
  }
  CHECK(visited == std::vector<uint32_t>{CTL_PRODUCTION, CTL_STANDBY, CTL_COOL_DOWN, CTL_OFF});
  CHECK(rig.plant.stack < 473.15);
  CHECK(rig.out.end_power[0] == 0.0f);
  CHECK(rig.out.recycle_opening == 0.0f);
}

TEST_CASE("the set-point waits for an uneven stack") {
  Rig rig = rig_in(CTL_WARM_UP);
  rig.run(CTL_WARM_UP, 600);
  const float before = rig.out.temperature_setpoint;
  for (int k = 0; k < 60; ++k) rig.step(CTL_WARM_UP, [](ctl_inputs& in) { in.zone_temperature[4] -= 45.0f; });
  CHECK(rig.out.temperature_setpoint == before);
  rig.run(CTL_WARM_UP, 60);
  CHECK(rig.out.temperature_setpoint > before + 2.0f);
}

namespace {

struct Fault {
  uint32_t from, request, reason;
  std::function<void(ctl_inputs&)> edit;
};

}  // namespace

TEST_CASE("each permissive refuses with its reason") {
  const float nan = NAN;
  const std::vector<Fault> cases = {
      {CTL_OFF, CTL_WARM_UP, CTL_BUS_LOW, [](ctl_inputs& in) { in.bus_voltage = 20.0f; }},
      {CTL_OFF, CTL_WARM_UP, CTL_SENSOR_LOST, [=](ctl_inputs& in) { in.end_temperature[0] = nan; }},
      {CTL_OFF, CTL_WARM_UP, CTL_OVER_PRESSURE, [](ctl_inputs& in) { in.cathode_pressure = 95000.0f; }},
      {CTL_OFF, CTL_WARM_UP, CTL_OVER_TEMPERATURE,
       [](ctl_inputs& in) { in.compressor_temperature = 450.0f; }},
      {CTL_OFF, CTL_WARM_UP, CTL_OVER_VOLTAGE, [](ctl_inputs& in) { in.cell_voltage[2] = 1.7f; }},
      {CTL_WARM_UP, CTL_STANDBY, CTL_STACK_COLD, [](ctl_inputs&) {}},
      {CTL_WARM_UP, CTL_STANDBY, CTL_STACK_UNEVEN, [](ctl_inputs& in) { in.zone_temperature[0] -= 70.0f; }},
      {CTL_WARM_UP, CTL_STANDBY, CTL_NO_FLOW, [](ctl_inputs& in) { in.feed_flow = 0.0f; }},
      {CTL_WARM_UP, CTL_STANDBY, CTL_NO_PROTECTION, [](ctl_inputs&) {}},
      {CTL_WARM_UP, CTL_STANDBY, CTL_SENSOR_LOST, [=](ctl_inputs& in) { in.stack_current = nan; }},
      {CTL_STANDBY, CTL_PRODUCTION, CTL_STACK_COLD, [](ctl_inputs& in) { in.zone_temperature[4] = 1040.0f; }},
      {CTL_STANDBY, CTL_PRODUCTION, CTL_STACK_UNEVEN,
       [](ctl_inputs& in) { in.zone_temperature[0] += 65.0f; }},
      {CTL_STANDBY, CTL_PRODUCTION, CTL_NO_FLOW, [](ctl_inputs& in) { in.feed_flow = 0.0f; }},
      {CTL_COOL_DOWN, CTL_OFF, CTL_STACK_HOT, [](ctl_inputs&) {}},
      {CTL_COOL_DOWN, CTL_STANDBY, CTL_NO_REASON, [](ctl_inputs&) {}},  // allowed: warm-up is next
  };
  for (const Fault& c : cases) {
    INFO("from " << c.from << " to " << c.request << " reason " << c.reason);
    Rig rig = rig_in(c.from);
    for (int k = 0; k < 8; ++k) {
      rig.step(k < 7 ? c.from : c.request, c.edit);
      REQUIRE((rig.out.mode == c.from || c.reason == CTL_NO_REASON));
    }
    if (c.reason == CTL_NO_REASON)
      CHECK(rig.out.mode != c.from);
    else
      CHECK((rig.out.unmet_permissives & c.reason) != 0);
  }
}

TEST_CASE("standby waits for the protecting CO") {
  ctl_params p = default_params();
  p.protection_factor = 20.0f;  // 12 % CO/CO2 asked at the inlet, more than the loop holds
  Rig rig(1073.15, p);
  rig.run(CTL_STANDBY, 600);
  CHECK(rig.out.mode == CTL_WARM_UP);
  CHECK(rig.out.unmet_permissives == CTL_NO_PROTECTION);
}

TEST_CASE("each interlock acts within a tick") {
  const std::vector<Fault> cases = {
      {CTL_PRODUCTION, 0, CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.zone_temperature[2] = 1160.0f; }},
      {CTL_PRODUCTION, 0, CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.end_temperature[1] = 1210.0f; }},
      {CTL_PRODUCTION, 0, CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.preheater_temperature = 1240.0f; }},
      {CTL_PRODUCTION, 0, CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.compressor_temperature = 430.0f; }},
      {CTL_PRODUCTION, 0, CTL_OVER_PRESSURE, [](ctl_inputs& in) { in.cathode_pressure = 91000.0f; }},
      {CTL_PRODUCTION, 0, CTL_OVER_PRESSURE, [](ctl_inputs& in) { in.anode_pressure = 140000.0f; }},
      {CTL_PRODUCTION, 0, CTL_OVER_VOLTAGE, [](ctl_inputs& in) { in.cell_voltage[6] = 1.51f; }},
      {CTL_PRODUCTION, 0, CTL_MARGIN_LOST, [](ctl_inputs& in) { in.cell_voltage[3] = 1.20f; }},
      {CTL_PRODUCTION, 0, CTL_BUS_LOW, [](ctl_inputs& in) { in.bus_voltage = 21.0f; }},
      {CTL_STANDBY, 0, CTL_OVER_VOLTAGE, [](ctl_inputs& in) { in.cell_voltage[6] = 1.51f; }},
      {CTL_STANDBY, 0, CTL_BUS_LOW, [](ctl_inputs& in) { in.bus_voltage = 21.0f; }},
      {CTL_WARM_UP, 0, CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.end_temperature[0] = 1210.0f; }},
      {CTL_WARM_UP, 0, CTL_OVER_PRESSURE, [](ctl_inputs& in) { in.cathode_pressure = 91000.0f; }},
      {CTL_WARM_UP, 0, CTL_RAMP_HIGH,
       [](ctl_inputs& in) { in.zone_temperature[0] += 15.0f, in.zone_temperature[1] += 15.0f; }},
      {CTL_COOL_DOWN, 0, CTL_OVER_TEMPERATURE, [](ctl_inputs& in) { in.zone_temperature[0] = 1160.0f; }},
  };
  for (const Fault& c : cases) {
    INFO("in " << c.from << " reason " << c.reason);
    Rig rig = rig_in(c.from);
    REQUIRE(rig.out.mode == c.from);
    rig.step(c.from, c.edit);
    CHECK(rig.out.mode == CTL_SAFE);
    CHECK((rig.out.tripped & c.reason) != 0);
    CHECK(rig.out.stack_current == 0.0f);
  }
}

TEST_CASE("an interlock may be asked to wait for more ticks") {
  ctl_params p = default_params();
  p.interlock_ticks = 3.0f;
  Rig rig = rig_in(CTL_PRODUCTION, p);
  const auto spike = [](ctl_inputs& in) { in.cell_voltage[6] = 1.6f; };
  rig.step(CTL_PRODUCTION, spike);
  rig.step(CTL_PRODUCTION, spike);
  CHECK(rig.out.mode == CTL_PRODUCTION);
  rig.step(CTL_PRODUCTION);  // the count starts again
  rig.step(CTL_PRODUCTION, spike);
  rig.step(CTL_PRODUCTION, spike);
  CHECK(rig.out.mode == CTL_PRODUCTION);
  rig.step(CTL_PRODUCTION, spike);
  CHECK(rig.out.mode == CTL_SAFE);
}

TEST_CASE("a lost measurement is held, then trips the modes that need it") {
  using Edit = std::function<void(ctl_inputs&)>;
  const std::vector<Edit> needed = {
      [](ctl_inputs& in) { in.stack_current = NAN; },
      [](ctl_inputs& in) { in.feed_flow = 1.0f; },  // outside its span
      [](ctl_inputs& in) { in.cathode_pressure = INFINITY; },
      [](ctl_inputs& in) { in.anode_pressure = -5.0f; },
      [](ctl_inputs& in) { in.end_temperature[1] = 0.0f; },
      [](ctl_inputs& in) { in.cell_voltage[0] = in.cell_voltage[7] = NAN; },
      [](ctl_inputs& in) { in.zone_temperature[0] = in.zone_temperature[4] = NAN; },
  };
  for (const Edit& edit : needed) {
    Rig rig = rig_in(CTL_PRODUCTION);
    for (int k = 0; k < 3; ++k) rig.step(CTL_PRODUCTION, edit);  // sensor_hold is 3 s
    CHECK(rig.out.mode == CTL_PRODUCTION);
    rig.step(CTL_PRODUCTION, edit);
    CHECK(rig.out.mode == CTL_SAFE);
    CHECK(rig.out.tripped == CTL_SENSOR_LOST);
  }
  const std::vector<Edit> spared = {
      [](ctl_inputs& in) { in.outlet_co_fraction = NAN; },
      [](ctl_inputs& in) { in.ambient_pressure = NAN; },
      [](ctl_inputs& in) { in.compressor_speed = NAN; },
      [](ctl_inputs& in) { in.cell_voltage[3] = NAN; },
      [](ctl_inputs& in) { in.zone_temperature[2] = NAN; },
      [](ctl_inputs& in) { in.bus_power = in.bus_voltage = NAN; },
      [](ctl_inputs& in) { in.housing_temperature = in.preheater_temperature = NAN; },
  };
  for (const Edit& edit : spared) {
    Rig rig = rig_in(CTL_PRODUCTION);
    for (int k = 0; k < 60; ++k) rig.step(CTL_PRODUCTION, edit);
    CHECK(rig.out.mode == CTL_PRODUCTION);
    CHECK(rig.out.stack_current == Approx(4.23).margin(0.05));
  }
}

TEST_CASE("safe is left by a new request only, and only when the reasons are gone") {
  Rig rig = rig_in(CTL_PRODUCTION);
  const auto hot = [](ctl_inputs& in) { in.compressor_temperature = 430.0f; };
  rig.step(CTL_PRODUCTION, hot);
  REQUIRE(rig.out.mode == CTL_SAFE);
  rig.run(CTL_PRODUCTION, 30);
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK((rig.out.unmet_permissives & CTL_NOT_RESET) != 0);
  for (int k = 0; k < 5; ++k) rig.step(CTL_STANDBY, hot);
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK((rig.out.unmet_permissives & CTL_OVER_TEMPERATURE) != 0);
  CHECK((rig.out.unmet_permissives & CTL_NOT_RESET) == 0);
  CHECK(rig.reach(CTL_STANDBY, CTL_STANDBY, 200) >= 0);
  CHECK(rig.out.tripped == 0);
  CHECK(rig.reach(CTL_PRODUCTION, CTL_PRODUCTION, 600) >= 0);
}

TEST_CASE("safe keeps the flow for a while where it may, and stops the flow at once where it must") {
  ctl_params p = default_params();
  p.trip_dwell = 3600.0f;  // no protective current in this test
  Rig voltage = rig_in(CTL_PRODUCTION, p);
  voltage.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.cell_voltage[6] = 1.6f; });
  REQUIRE(voltage.out.mode == CTL_SAFE);
  for (int k = 1; k < 10; ++k) {  // safe_flow_time is 10 s
    voltage.step(CTL_PRODUCTION);
    REQUIRE(voltage.out.compressor_speed > 0.0f);
    REQUIRE(voltage.out.stack_current == 0.0f);
  }
  voltage.run(CTL_PRODUCTION, 240);
  CHECK(voltage.out.compressor_speed == 0.0f);                 // CO2 alone would oxidise the nickel
  CHECK(voltage.out.temperature_setpoint < 1073.15f - 15.0f);  // 300 s at 4 K/min is 20 K
  CHECK(voltage.reach(CTL_STANDBY, CTL_STANDBY, 5) >= 0);      // and flow comes back with the current
  CHECK(voltage.reach(CTL_PRODUCTION, CTL_PRODUCTION, 600) >= 0);

  Rig pressure = rig_in(CTL_PRODUCTION);
  pressure.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.cathode_pressure = 95000.0f; });
  REQUIRE(pressure.out.mode == CTL_SAFE);
  CHECK(pressure.out.compressor_speed == 0.0f);
  pressure.run(CTL_PRODUCTION, 60);
  CHECK(pressure.out.compressor_speed == 0.0f);  // it was the reason: it stays off

  Rig asked = rig_in(CTL_PRODUCTION);
  asked.step(CTL_SAFE);
  CHECK(asked.out.mode == CTL_SAFE);
  CHECK(asked.out.tripped == 0);
  CHECK(asked.out.stack_current == 0.0f);
  CHECK(asked.reach(CTL_COOL_DOWN, CTL_COOL_DOWN, 5) >= 0);
}

TEST_CASE("production steps back to standby when the stack is too cold for current") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.step(CTL_PRODUCTION, [](ctl_inputs& in) {
    for (float& zone : in.zone_temperature) zone = 975.0f;
  });
  CHECK(rig.out.mode == CTL_STANDBY);
  CHECK(rig.out.unmet_permissives == CTL_STACK_COLD);
  for (int k = 0; k < 8; ++k)
    rig.step(CTL_PRODUCTION, [](ctl_inputs& in) {
      for (float& zone : in.zone_temperature) zone = 975.0f;
    });
  CHECK(rig.out.mode == CTL_STANDBY);
  CHECK(rig.out.stack_current <= rig.params.protective_current);  // 3.7 A less at 0.5 A/s
}

TEST_CASE("a request outside the list means stay") {
  Rig rig = rig_in(CTL_STANDBY);
  for (const uint32_t request : {6u, 17u, 0xffffffffu}) {
    rig.step(request);
    CHECK(rig.out.mode == CTL_STANDBY);
    CHECK(rig.out.unmet_permissives == 0);
  }
}
