// Responses, derating, production_dropouts, restarts and the power ceiling. Expected values: parameters of
// controller_parameters.h and the equations in the heads of supervise/*.hpp, by hand.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <functional>

#include "controller/memory.hpp"
#include "controller/retain.hpp"
#include "controller/supervise/ceiling.hpp"
#include "controller/supervise/derate.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::controller;
using duskline::test::default_params;
using duskline::test::Rig;
using duskline::test::rig_in;

namespace {

/// Facts of a plant in steady production, for the state machine alone.
struct Scene {
  ctl_params p = default_params();
  Signals y{};
  Thermal t{};
  Gas g{};
  Coke c{};
  ModeMemory m{};
  uint32_t response = CTL_RESPOND_NONE;

  Scene() {
    y.value[in_bus_voltage] = 28.0f;
    y.value[in_compressor_temperature] = 310.0f;
    y.value[in_cathode_pressure] = 40000.0f;
    y.value[in_anode_pressure] = 50000.0f;
    y.value[in_feed_flow] = 1e-5f;
    for (uint32_t k = 0; k < CTL_CELLS; ++k) y.value[in_cell_voltage + k] = 1.1f;
    for (float& zone : t.zone) zone = 1073.0f;
    t.mean = t.coldest = t.hottest = t.hottest_part = 1073.0f;
    g.inlet_co = 0.05f;
    g.inlet_co2 = 0.9f;
    c.margin = 0.08f;
    m.mode = CTL_PRODUCTION;
    m.request_at_trip = CTL_SAFE;
  }
  Facts facts() const { return {p, y, t, g, c, 1e-5f, 4.0f, response}; }
  Supervision step(uint32_t request) {
    const Facts f = facts();
    return run_modes(m, f, observed_conditions(f), request);
  }
};

}  // namespace

TEST_CASE("the response standby stops production until it is over, the response trip moves to safe") {
  Scene s;
  CHECK(s.step(CTL_PRODUCTION).mode == CTL_PRODUCTION);
  for (const uint32_t mild : {CTL_RESPOND_FLAG, CTL_RESPOND_SUBSTITUTE, CTL_RESPOND_DERATE}) {
    s.response = mild;
    CHECK(s.step(CTL_PRODUCTION).mode == CTL_PRODUCTION);
  }
  s.response = CTL_RESPOND_STANDBY;
  Supervision answer = s.step(CTL_PRODUCTION);
  CHECK(answer.mode == CTL_STANDBY);
  CHECK(answer.unmet_permissives == CTL_FAULT_FOUND);
  for (int k = 0; k < 100; ++k) answer = s.step(CTL_PRODUCTION);
  CHECK(answer.mode == CTL_STANDBY);
  CHECK(answer.unmet_permissives == CTL_FAULT_FOUND);
  s.response = CTL_RESPOND_NONE;
  CHECK(s.step(CTL_PRODUCTION).mode == CTL_PRODUCTION);  // standby_min of 60 s is over

  s.response = CTL_RESPOND_TRIP;
  answer = s.step(CTL_PRODUCTION);
  CHECK(answer.mode == CTL_SAFE);
  CHECK(s.m.tripped == CTL_FAULT_FOUND);
  for (const uint32_t mode : {CTL_WARM_UP, CTL_STANDBY, CTL_COOL_DOWN}) {
    Scene other;
    other.m.mode = mode;
    other.response = CTL_RESPOND_TRIP;
    CHECK(other.step(mode).mode == CTL_SAFE);
  }
  CHECK(s.step(CTL_STANDBY).unmet_permissives == CTL_FAULT_FOUND);  // reset, but the reason stands
  s.response = CTL_RESPOND_NONE;
  CHECK(s.step(CTL_STANDBY).mode == CTL_STANDBY);
}

TEST_CASE("production that stops again and again ends in standby until the operator asks anew") {
  Scene s;
  int stops = 0;
  for (int k = 0; k < 1000; ++k) {
    s.response = s.m.mode == CTL_PRODUCTION ? CTL_RESPOND_STANDBY : CTL_RESPOND_NONE;
    const uint32_t before = s.m.mode;
    s.step(CTL_PRODUCTION);
    stops += before == CTL_PRODUCTION && s.m.mode == CTL_STANDBY ? 1 : 0;
  }
  CHECK(stops == 3);  // dropouts_max
  s.response = CTL_RESPOND_NONE;
  CHECK(s.step(CTL_PRODUCTION).unmet_permissives == CTL_NOT_RESET);
  s.step(CTL_STANDBY);
  CHECK(s.step(CTL_PRODUCTION).mode == CTL_PRODUCTION);
  // the first two came back after the shortest time in standby, no sooner
  s.response = CTL_RESPOND_STANDBY;
  s.step(CTL_PRODUCTION);
  s.response = CTL_RESPOND_NONE;
  int waited = 1;
  while (s.step(CTL_PRODUCTION).mode != CTL_PRODUCTION && waited < 1000) ++waited;
  CHECK(waited == 60);  // standby_min
}

TEST_CASE("derating slopes begin at their start, end before the interlock and are smooth") {
  CHECK(derate_slope(400.0f, 405.0f, 420.0f) == 1.0f);
  CHECK(derate_slope(405.0f, 405.0f, 420.0f) == 1.0f);
  CHECK(derate_slope(411.75f, 405.0f, 420.0f) == Approx(0.5f));
  CHECK(derate_slope(418.5f, 405.0f, 420.0f) == Approx(0.0f).margin(1e-6));
  CHECK(derate_slope(23.375f, 24.5f, 22.0f) == Approx(0.5f));
  CHECK(derate_slope(22.25f, 24.5f, 22.0f) == Approx(0.0f).margin(1e-6));
  CHECK(derate_slope(420.0f, 420.0f, 420.0f) == 1.0f);

  using Set = std::function<void(Scene&, float)>;
  struct Cause {
    Set set;
    float start, trip;
  };
  const ctl_params p = default_params();
  const Cause causes[] = {
      {[](Scene& s, float x) { s.y.value[in_compressor_temperature] = x; }, p.shell_derate, p.compressor_max},
      {[](Scene& s, float x) { s.y.value[in_cathode_pressure] = x; }, p.cathode_derate,
       p.cathode_pressure_max},
      {[](Scene& s, float x) { s.t.hottest = s.t.coldest + x; }, p.spread_derate, p.spread_max},
      {[](Scene& s, float x) { s.y.value[in_bus_voltage] = x; }, p.bus_derate, p.bus_min}};
  for (const Cause& cause : causes) {
    float last = 1.0f;
    for (int k = 0; k <= 100; ++k) {
      Scene s;
      cause.set(s, cause.start + 0.0099f * static_cast<float>(k) * (cause.trip - cause.start));
      const float share = derated_share(s.facts());
      CHECK(share <= last);
      CHECK(last - share < 0.012f);  // a hundredth of the way is a ninetieth of the share
      last = share;
    }
    CHECK(last == 0.0f);
  }
  Scene fault;
  fault.response = CTL_RESPOND_DERATE;
  CHECK(derated_share(fault.facts()) == p.derate_share);
  CHECK(added_margin(p, CTL_RESPOND_DERATE) == p.derate_margin);
  CHECK(added_margin(p, CTL_RESPOND_STANDBY) == 0.0f);
  // a suspect model asks for margin and takes no current by itself
  CHECK(added_margin(p, CTL_RESPOND_WIDEN) == p.derate_margin);
  fault.response = CTL_RESPOND_WIDEN;
  CHECK(derated_share(fault.facts()) == 1.0f);
  fault.response = CTL_RESPOND_DERATE;
  // down at once, up in derate_recovery
  float missing = 0.0f;
  CHECK(derate(missing, fault.facts()) == Approx(p.derate_share));
  fault.response = CTL_RESPOND_NONE;
  int ticks = 0;
  while (derate(missing, fault.facts()) < 1.0f && ticks < 10000) ++ticks;
  CHECK(ticks == Approx((1.0f - p.derate_share) * p.derate_recovery).margin(2.0));
}

TEST_CASE("in the controller a hot compressor, a full cathode or a weak bus costs oxygen, not the run") {
  using Edit = std::function<void(ctl_inputs&)>;
  const Edit edits[] = {[](ctl_inputs& in) { in.compressor_temperature = 411.75f; },
                        [](ctl_inputs& in) { in.cathode_pressure = 84500.0f; },
                        [](ctl_inputs& in) { in.bus_voltage = 23.375f; }};
  for (const Edit& edit : edits) {
    Rig rig = rig_in(CTL_PRODUCTION);
    const float before = rig.out.stack_current;
    float largest_step = 0.0f, last = before;
    for (int k = 0; k < 300; ++k) {
      rig.step(CTL_PRODUCTION, edit);
      largest_step = std::max(largest_step, last - rig.out.stack_current);
      last = rig.out.stack_current;
    }
    CHECK(rig.out.mode == CTL_PRODUCTION);
    CHECK(rig.out.limiter == CTL_BY_DERATING);
    CHECK(last == Approx(0.5f + 0.5f * (before - 0.5f)).margin(0.03));  // half of what is beyond 0.5 A
    CHECK(largest_step <= rig.params.current_rate_down * 1.001f);
    rig.run(CTL_PRODUCTION, 700);
    CHECK(rig.out.limiter == CTL_BY_DEMAND);
    CHECK(rig.out.stack_current == Approx(before).margin(0.02));
  }
}

TEST_CASE("a new ceiling is met within three ticks and an announced one before it comes") {
  for (const bool announced : {false, true}) {
    Rig rig = rig_in(CTL_PRODUCTION);
    rig.run(CTL_PRODUCTION, 1500);
    const double free = rig.plant.power, ceiling = free - 35.0;
    double coldest = 2000.0;
    int above = 0;
    for (int k = -60; k < 900; ++k) {
      rig.step(CTL_PRODUCTION, [&](ctl_inputs& in) {
        if (k >= 0) in.power_ceiling = static_cast<float>(ceiling);
        if (k < 0 && announced) {
          in.next_power_ceiling = static_cast<float>(ceiling);
          in.ceiling_in = static_cast<float>(-k);
        }
      });
      if (k >= 0 && rig.plant.power > ceiling) ++above;
      coldest = std::min(coldest, rig.plant.stack);
    }
    INFO((announced ? "announced" : "not announced"));
    CHECK(above <= (announced ? 0 : 3));
    CHECK(rig.out.limiter == CTL_BY_POWER);
    CHECK(rig.out.mode == CTL_PRODUCTION);
    CHECK(coldest > 1068.0);  // heat is kept
    CHECK(rig.plant.power == Approx(ceiling - rig.params.ceiling_headroom).margin(1.0));
  }
}

TEST_CASE("an announcement counts by its slope and only downwards") {
  const ctl_params p = default_params();
  ctl_inputs in{};
  in.power_ceiling = 200.0f;
  CHECK(power_ceiling(p, in) == 200.0f - p.ceiling_headroom);  // zeros announce nothing
  in.next_power_ceiling = 150.0f;
  in.ceiling_in = 4.0f;
  CHECK(power_ceiling(p, in) == 150.0f + 4.0f * p.shed_slope - p.ceiling_headroom);
  in.ceiling_in = 100.0f;
  CHECK(power_ceiling(p, in) == 200.0f - p.ceiling_headroom);
  in.next_power_ceiling = 300.0f;
  in.ceiling_in = 1.0f;
  CHECK(power_ceiling(p, in) == 200.0f - p.ceiling_headroom);
  for (const float bad : {NAN, INFINITY, -INFINITY, -1.0f}) {
    in.ceiling_in = bad;
    CHECK(power_ceiling(p, in) == 200.0f - p.ceiling_headroom);
  }
  in.power_ceiling = NAN;
  in.ceiling_in = 0.0f;
  CHECK(!is_finite(power_ceiling(p, in)));
}

TEST_CASE("CRC-32 has the published check value") {
  const unsigned char text[] = {'1', '2', '3', '4', '5', '6', '7', '8', '9'};
  CHECK(crc32(text, 9) == 0xCBF43926u);  // IEEE 802.3
}

namespace {

/// Loses power: the controller starts again from what it retained.
void restart(Rig& rig) {
  ctl_retained kept{};
  ctl_retain(&rig.state, &kept);
  ctl_state fresh{};
  REQUIRE(ctl_restart(&fresh, &rig.params, &kept) == CTL_OK);
  rig.state = fresh;
}

/// The plant alone for a while: nothing driven.
void outage(Rig& rig, int seconds) {
  ctl_outputs nothing{};
  for (int k = 0; k < seconds; ++k) {
    rig.plant.move(nothing);
    ++rig.tick;
  }
}

}  // namespace

TEST_CASE("after an outage the plant comes back by itself to what the operator still asks for") {
  for (const int seconds : {5, 120, 900}) {
    Rig rig = rig_in(CTL_PRODUCTION);
    outage(rig, seconds);
    restart(rig);
    rig.step(CTL_PRODUCTION);
    CHECK((rig.out.diagnosed & CTL_RESTARTED) != 0);
    CHECK(rig.reach(CTL_PRODUCTION, CTL_PRODUCTION, 3000) >= 0);
    CHECK(rig.out.tripped == 0);
    rig.run(CTL_PRODUCTION, 600);
    CHECK((rig.out.diagnosed & CTL_RESTARTED) == 0);  // reported for ten minutes
    CHECK(rig.out.stack_current == Approx(4.23f).margin(0.1));
  }
  Rig heard = rig_in(CTL_PRODUCTION);
  restart(heard);
  heard.step(CTL_PRODUCTION);
  CHECK((heard.out.diagnosed & CTL_RESTARTED) != 0);
  CHECK(heard.out.mode == CTL_PRODUCTION);  // a reset without an outage: the running plant is taken over
  heard.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.alarm_action = CTL_ALARM_ACKNOWLEDGE_ALL; });
  CHECK((heard.out.diagnosed & CTL_RESTARTED) == 0);
}

TEST_CASE("a trip that stood before the outage still stands after it") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.cell_voltage[6] = 1.6f; });
  REQUIRE(rig.out.mode == CTL_SAFE);
  const uint32_t tripped = rig.out.tripped;
  outage(rig, 60);
  restart(rig);
  rig.run(CTL_PRODUCTION, 60);
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK(rig.out.tripped == tripped);
  CHECK((rig.out.unmet_permissives & CTL_NOT_RESET) != 0);
  CHECK(rig.out.alarm_state[CTL_ALARM_TRIP_VOLTAGE] == CTL_ALARM_UNACKNOWLEDGED);
  CHECK(rig.reach(CTL_PRODUCTION, CTL_STANDBY, 5) < 0);
  CHECK(rig.reach(CTL_STANDBY, CTL_STANDBY, 600) >= 0);
}

TEST_CASE("a controller that starts again and again goes to safe and stays there") {
  Rig rig = rig_in(CTL_PRODUCTION);
  for (int k = 0; k < 3; ++k) {  // restarts_max
    restart(rig);
    rig.run(CTL_PRODUCTION, 60);
    CHECK(rig.out.mode == CTL_PRODUCTION);
  }
  restart(rig);
  rig.run(CTL_PRODUCTION, 60);
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK(rig.out.tripped == CTL_RESTARTS_MANY);
  // the set-point of the heat comes down from where the stack is, by the ramp, not from nothing
  CHECK(rig.out.temperature_setpoint > rig.in.zone_temperature[2] - 60.0f / 60.0f * rig.params.ramp - 1.0f);
  CHECK(rig.out.alarm_state[CTL_ALARM_TRIP_RESTARTS] == CTL_ALARM_UNACKNOWLEDGED);
  restart(rig);
  rig.run(CTL_PRODUCTION, 60);
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK(rig.reach(CTL_STANDBY, CTL_STANDBY, 600) >= 0);
  CHECK(rig.reach(CTL_PRODUCTION, CTL_PRODUCTION, 600) >= 0);

  Rig calm = rig_in(CTL_PRODUCTION);  // an hour apart they do not count together
  for (int k = 0; k < 5; ++k) {
    restart(calm);
    calm.run(CTL_PRODUCTION, 3700);
    CHECK(calm.out.mode == CTL_PRODUCTION);
  }
}

TEST_CASE("a damaged copy is refused and the start is one from rest") {
  Rig rig = rig_in(CTL_PRODUCTION);
  ctl_retained kept{};
  ctl_retain(&rig.state, &kept);
  kept.state.words[7] ^= 0x10u;
  ctl_state fresh{}, rest{};
  CHECK(ctl_restart(&fresh, &rig.params, &kept) == CTL_NOT_RETAINED);
  REQUIRE(ctl_init(&rest, &rig.params) == CTL_OK);
  CHECK(std::memcmp(&fresh, &rest, sizeof fresh) == 0);
  CHECK(ctl_restart(&fresh, &rig.params, nullptr) == CTL_NOT_RETAINED);
}

TEST_CASE("safe keeps the nickel with a protective current where no reason bars it") {
  Rig asked = rig_in(CTL_PRODUCTION);
  asked.step(CTL_SAFE);
  CHECK(asked.out.stack_current == 0.0f);
  asked.run(CTL_SAFE, 300);
  CHECK(asked.out.stack_current == Approx(asked.params.protective_current).margin(0.01));
  CHECK(asked.out.compressor_speed > 0.0f);

  Rig returns = rig_in(CTL_PRODUCTION);  // the reason comes back with the current: never again in this safe
  for (int k = 0; k < 300; ++k)
    returns.step(CTL_PRODUCTION, [&](ctl_inputs& in) {
      if (k == 0 || returns.out.stack_current > 0.1f) in.cell_voltage[6] = 1.6f;
    });
  CHECK(returns.out.mode == CTL_SAFE);
  CHECK(returns.out.stack_current == 0.0f);
  CHECK(returns.out.compressor_speed == 0.0f);
  const std::function<void(ctl_inputs&)> barring[] = {
      [](ctl_inputs& in) { in.bus_voltage = 21.0f; }, [](ctl_inputs& in) { in.cathode_pressure = 95000.0f; },
      [](ctl_inputs& in) { in.stack_current = NAN; },
      [](ctl_inputs& in) { in.compressor_temperature = 430.0f; }};
  for (const auto& edit : barring) {
    Rig rig = rig_in(CTL_PRODUCTION);
    for (int k = 0; k < 300; ++k) rig.step(CTL_PRODUCTION, edit);
    CHECK(rig.out.mode == CTL_SAFE);
    CHECK(rig.out.stack_current == 0.0f);
    CHECK(rig.out.compressor_speed == 0.0f);
  }
}
