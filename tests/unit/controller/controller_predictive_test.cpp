// The predictive law: plans, limits, offset-free flow, and how it gives way. Expected figures follow by hand from the
// linear model that the test itself puts around the law.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/controller_rig.hpp"
#include "tests/support/law_scene.hpp"

using namespace duskline::test;
using namespace duskline::controller;

namespace {

/// The law around a feed that is a lag of plenum_lag with a compressor that draws `surplus` times its model, and a
/// margin that is linear in current and feed.
struct Plant {
  Scene scene{CTL_LAW_PREDICTIVE};
  float surplus = 1.15f, speed = 300.0f, margin_at_rated = 0.060f;
  float speed_max = 600.0f;
  LawOutput output{};

  Plant() {
    scene.memory.feed_setpoint = 1.25e-5f;
    begin_plan(scene.memory, scene.input(), speed);
  }

  void tick() {
    const LawInput in = scene.input();
    output = predictive_law(scene.memory, in);
    speed = clamp(output.speed, 20.0f, speed_max);
    scene.applied = clamp(output.current, max_of(0.0f, scene.applied - 0.5f), scene.applied + 0.02f);
    scene.active_limiter = output.limiter;
    law_applied(scene.memory, in, speed, scene.applied);
    const float drawn = surplus * speed * flow_per_speed(scene.params, scene.density);
    scene.feed += (drawn - scene.feed) / 35.0f;
    scene.gas.feed = scene.feed / scene.gas.molar_mass;
    scene.gas.conversion = converted(scene.params, scene.applied) / scene.gas.feed;
    // 40 mV/A and 0.15 V for the feed over its rated size
    scene.coke.margin =
        margin_at_rated - 0.040f * (scene.applied - 4.2f) + 0.15f * (scene.feed / 1.53e-5f - 1.0f);
    scene.signals.value[in_bus_power] = 200.0f + 9.0f * (scene.applied - 4.2f) + 0.3f * (speed - 300.0f);
    scene.signals.value[in_cathode_pressure] = 42000.0f * scene.feed / 1.53e-5f;
  }
  void run(int ticks) {
    for (int k = 0; k < ticks; ++k) tick();
  }
};

}  // namespace

TEST_CASE("a compressor that draws more than its model leaves no offset in the feed") {
  for (const float surplus : {0.85f, 1.0f, 1.15f}) {
    Plant plant;
    plant.surplus = surplus;
    plant.run(4000);
    CHECK(plant.scene.feed == Approx(plant.scene.memory.feed_setpoint).epsilon(2e-3));
    CHECK(plant.scene.applied == Approx(4.2f).margin(2e-3));
    CHECK(plant.output.limiter == CTL_BY_DEMAND);
    // what the model misses, by definition: (surplus - 1) of what it draws
    CHECK(plant.scene.memory.plan.flow_disturbance ==
          Approx((surplus - 1.0f) * plant.scene.memory.plan.drawn).margin(0.01f * plant.scene.feed));
  }
}

TEST_CASE("a margin too short for the demand is kept by the current once the speed is at its highest") {
  Plant plant;
  plant.speed_max = plant.scene.params.speed_max = 330.0f;
  plant.margin_at_rated = 0.045f;
  plant.scene.wanted = 6.0f;
  plant.run(3000);
  const float kept = margin_setpoint(plant.scene.input());
  CHECK(plant.scene.coke.margin == Approx(kept).margin(0.001));
  CHECK(plant.output.limiter == CTL_BY_COKE_MARGIN);
  CHECK(plant.speed == Approx(330.0f).margin(2.0));
  CHECK(plant.scene.applied < 6.0f);
}

TEST_CASE("a bus that allows less than the demand needs is kept to the watt") {
  Plant plant;
  plant.scene.ceiling = 195.0f;
  plant.scene.wanted = 6.0f;
  plant.run(3000);
  CHECK(plant.scene.signals[in_bus_power] == Approx(195.0f).margin(1.0));
  CHECK(plant.output.limiter == CTL_BY_POWER);
}

TEST_CASE("a feed that cannot carry the demand bounds the current") {
  Plant plant;
  plant.speed_max = plant.scene.params.speed_max = 200.0f;
  plant.margin_at_rated = 0.30f;
  plant.scene.wanted = 6.0f;
  plant.run(3000);
  CHECK(plant.output.limiter == CTL_BY_UTILISATION);
  const float carried = plant.scene.params.utilisation_max * plant.scene.gas.feed *
                        plant.scene.gas.inlet_co2 / converted(plant.scene.params, 1.0f);
  CHECK(plant.scene.applied == Approx(carried).epsilon(0.01));
}

TEST_CASE("soft limits beyond reach never make the programme fail") {
  Plant plant;
  plant.margin_at_rated = -0.5f;
  plant.scene.ceiling = 1.0f;
  plant.run(200);
  CHECK(plant.scene.memory.plan.status == static_cast<uint32_t>(QpStatus::solved));
  CHECK(plant.scene.applied == Approx(0.0f).margin(0.02));
}

TEST_CASE(
    "a programme that fails leaves the output to the loops and the law to the adaptive one for a while") {
  Plant plant;
  plant.run(100);
  const float speed = plant.speed, current = plant.scene.applied;
  plant.scene.coke.margin = NAN;
  const LawInput in = plant.scene.input();
  plant.scene.memory.plan.age = 100.0f;
  const LawOutput output = predictive_law(plant.scene.memory, in);
  CHECK(plant.scene.memory.plan.status != static_cast<uint32_t>(QpStatus::solved));
  CHECK(output.current <= current + 1e-3f);
  CHECK(std::abs(output.speed - speed) < 30.0f);
  int away = 0;
  while (select_law(plant.scene.memory, plant.scene.params, plant.scene.signals, NAN, false) ==
         CTL_LAW_ADAPTIVE)
    REQUIRE(++away < 1000);
  CHECK(away == 60);  // predictive_return over the period
}

TEST_CASE("a measurement that the plan needs, or a suspect model, brings the adaptive law") {
  Scene scene(CTL_LAW_PREDICTIVE);
  const auto law = [&](float ceiling, bool suspect) {
    LawMemory m{};
    return select_law(m, scene.params, scene.signals, ceiling, suspect);
  };
  CHECK(law(NAN, false) == CTL_LAW_PREDICTIVE);
  CHECK(law(NAN, true) == CTL_LAW_ADAPTIVE);
  for (const uint32_t input : {uint32_t(in_feed_flow), uint32_t(in_stack_current),
                               uint32_t(in_cathode_pressure), uint32_t(in_cell_voltage + 3)}) {
    scene.signals.lost = bit_of(input);
    CHECK(law(NAN, false) == CTL_LAW_ADAPTIVE);
  }
  scene.signals.lost = bit_of(in_bus_power);
  CHECK(law(NAN, false) == CTL_LAW_PREDICTIVE);
  CHECK(law(200.0f, false) == CTL_LAW_ADAPTIVE);
}

TEST_CASE("slopes of the plan are those of the estimated margin") {
  // signs by physics; sizes within the bounds of the law
  Plant plant;
  const Slopes s = slopes(plant.scene.input());
  CHECK(s.margin_current < -0.01f);
  CHECK(s.margin_flow * plant.scene.feed > 0.01f);
  // by hand: eight cells of 1.03 V over 0.92
  CHECK(s.power_current == Approx(8 * 1.03 / 0.92).epsilon(1e-3));
}

TEST_CASE("any bits in a scene give a finite output or give way") {
  uint32_t random = 5;
  const auto bits = [&random] {
    random = random * 1664525u + 1013904223u;
    return float_of(random ^ (random << 13));
  };
  for (int k = 0; k < 20000; ++k) {
    Plant plant;
    plant.scene.memory.plan.age = 100.0f;
    const float x = bits();
    switch (k % 6) {
      case 0:
        plant.scene.coke.margin = x;
        break;
      case 1:
        plant.scene.gas.feed = x;
        break;
      case 2:
        plant.scene.density = x;
        break;
      case 3:
        plant.scene.signals.value[in_bus_power] = x, plant.scene.ceiling = 200.0f;
        break;
      case 4:
        plant.scene.memory.plan.flow_disturbance = x;
        break;
      default:
        plant.scene.coke.highest_voltage = x;
    }
    const LawInput in = plant.scene.input();
    predictive_law(plant.scene.memory, in);
    if (plant.scene.memory.plan.status != static_cast<uint32_t>(QpStatus::solved))
      REQUIRE(plant.scene.memory.plan.away > 0.0f);
    else
      REQUIRE(std::isfinite(plant.scene.memory.plan.current_planned));
  }
}

namespace {

ctl_params predictive_params() {
  ctl_params p = default_params();
  p.law = CTL_LAW_PREDICTIVE;
  return p;
}

}  // namespace

TEST_CASE("in production the predictive law holds the demand and tells when it gives way") {
  Rig rig = rig_in(CTL_PRODUCTION, predictive_params());
  rig.run(CTL_PRODUCTION, 1500);
  CHECK(rig.out.law == CTL_LAW_PREDICTIVE);
  CHECK((rig.out.diagnosed & CTL_LAW_FELL_BACK) == 0);
  CHECK(rig.out.oxygen_rate == Approx(rig.demand).epsilon(0.01));
  CHECK(rig.out.utilisation == Approx(rig.out.utilisation_setpoint).margin(0.01));

  // one cell voltage is lost: the adaptive law takes over without a bump, and gives back
  const auto lose = [](ctl_inputs& in) { in.cell_voltage[2] = NAN; };
  float speed = rig.out.compressor_speed, current = rig.out.stack_current;
  bool fell_back = false;
  for (int k = 0; k < 20; ++k) {
    rig.step(CTL_PRODUCTION, lose);
    CHECK(std::abs(rig.out.compressor_speed - speed) < 6.0f);
    CHECK(std::abs(rig.out.stack_current - current) < 0.03f);
    speed = rig.out.compressor_speed, current = rig.out.stack_current;
    fell_back = fell_back || (rig.out.diagnosed & CTL_LAW_FELL_BACK) != 0;
  }
  CHECK(fell_back);
  CHECK(rig.out.law == CTL_LAW_ADAPTIVE);
  rig.run(CTL_PRODUCTION, 70);
  CHECK(rig.out.law == CTL_LAW_PREDICTIVE);
  CHECK(std::abs(rig.out.compressor_speed - speed) < 10.0f);
}

TEST_CASE("changes between all laws do not bump the plant") {
  Rig rig = rig_in(CTL_PRODUCTION, predictive_params());
  rig.run(CTL_PRODUCTION, 1500);
  for (const uint32_t law : {CTL_LAW_ADAPTIVE, CTL_LAW_PREDICTIVE, CTL_LAW_CASCADE, CTL_LAW_PREDICTIVE}) {
    const float speed = rig.out.compressor_speed, current = rig.out.stack_current;
    rig.params.law = law;
    rig.step(CTL_PRODUCTION);
    CHECK(rig.out.law == law);
    CHECK(std::abs(rig.out.compressor_speed - speed) < 6.0f);
    CHECK(std::abs(rig.out.stack_current - current) < 0.02f);
    rig.run(CTL_PRODUCTION, 300);
    CHECK(rig.out.oxygen_rate == Approx(rig.demand).epsilon(0.02));
  }
}
