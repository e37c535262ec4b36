// The adaptive law: set-points that the estimates move. Expected figures follow by hand from the parameters named
// beside them.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/controller_rig.hpp"
#include "tests/support/law_scene.hpp"

using namespace duskline::test;
using namespace duskline::controller;

TEST_CASE("the utilisation set-point rises slowly while the margin is ample, up to its highest") {
  Scene scene(CTL_LAW_ADAPTIVE);
  for (int k = 0; k < 100; ++k) scene.tick();
  // saving_rate 1e-4 a second
  CHECK(utilisation_setpoint(scene.params, scene.memory) == Approx(0.65 + 100 * 1e-4).epsilon(1e-4));
  for (int k = 0; k < 2000; ++k) scene.tick();
  CHECK(utilisation_setpoint(scene.params, scene.memory) ==
        Approx(scene.params.utilisation_saving).epsilon(1e-5));
}

TEST_CASE(
    "a short margin lowers the set-point by integral action until it is back or the speed is at its "
    "highest") {
  Scene scene(CTL_LAW_ADAPTIVE);
  const ctl_params& p = scene.params;
  scene.coke.margin = p.margin_setpoint + p.margin_reserve - 0.010f;
  for (int k = 0; k < 100; ++k) scene.tick();
  // relief_gain 0.05 1/V/s x 10 mV x 100 s
  CHECK(utilisation_setpoint(p, scene.memory) == Approx(0.65 - 0.05 * 0.010 * 100).epsilon(1e-4));
  scene.memory.saturated = 1.0f;
  const float held = utilisation_setpoint(p, scene.memory);
  trim_utilisation(scene.memory, scene.input());
  CHECK(utilisation_setpoint(p, scene.memory) == held);
  for (int k = 0; k < 5000; ++k) {
    scene.memory.saturated = 0.0f;
    scene.tick();
  }
  CHECK(utilisation_setpoint(p, scene.memory) == Approx(p.utilisation_min).epsilon(1e-5));
}

TEST_CASE("the margin kept is a number of standard deviations within its bounds") {
  Scene scene(CTL_LAW_ADAPTIVE);
  const auto kept = [&](float sigma, uint32_t law = CTL_LAW_ADAPTIVE) {
    LawInput in = scene.input();
    in.adapts = kLaws[law].adapts;
    in.coke_sigma = sigma;
    return margin_setpoint(in);
  };
  CHECK(kept(0.009f) == Approx(3.0 * 0.009));  // margin_sigmas 3
  CHECK(kept(0.001f) == scene.params.margin_min);
  CHECK(kept(0.1f) == scene.params.margin_max);
  CHECK(kept(NAN) == scene.params.margin_setpoint);  // not estimated
  CHECK(kept(0.009f, CTL_LAW_CASCADE) == scene.params.margin_setpoint);
}

TEST_CASE("in production the adaptive law holds the demand with more utilisation, and returns to cascade") {
  ctl_params p = default_params();
  p.law = CTL_LAW_ADAPTIVE;
  Rig rig = rig_in(CTL_PRODUCTION, p);
  CHECK(rig.out.law == CTL_LAW_ADAPTIVE);
  rig.run(CTL_PRODUCTION, 3000);
  CHECK(rig.out.mode == CTL_PRODUCTION);
  CHECK(rig.out.limiter == CTL_BY_DEMAND);
  CHECK(rig.out.oxygen_rate == Approx(rig.demand).epsilon(0.01));
  CHECK(rig.out.coke_margin > p.margin_setpoint);
  CHECK(rig.out.utilisation_setpoint > p.utilisation_setpoint);
  CHECK(rig.out.utilisation == Approx(rig.out.utilisation_setpoint).margin(0.01));
  const float speed = rig.out.compressor_speed;
  rig.params.law = CTL_LAW_CASCADE;
  rig.step(CTL_PRODUCTION);
  CHECK(rig.out.law == CTL_LAW_CASCADE);
  CHECK(std::abs(rig.out.compressor_speed - speed) <= p.speed_step);
  rig.run(CTL_PRODUCTION, 600);
  CHECK(rig.out.utilisation == Approx(p.utilisation_setpoint).margin(0.01));
}
