// The adaptive law: set-points that the estimates move, and the preview of the density. Expected figures follow by
// hand from the parameters named beside them.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

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

namespace {

/// Density with a sharp dawn and dusk; the shape is ours.
double density_at(double local_time) {
  const double angle = 2.0 * std::numbers::pi * local_time;
  return 0.016 + 0.003 * std::tanh(4.0 * std::cos(angle));
}

double slope_at(double local_time) {
  constexpr double kStep = 1e-5;
  return (density_at(local_time + kStep) - density_at(local_time - kStep)) / (2.0 * kStep * double(kSol));
}

/// Mean square of expected less true rate over a sol, `lead` seconds ahead, after `sols` whole sols.
double error_of_preview(int sols, bool clock) {
  const ctl_params p = [] {
    ctl_params q = default_params();
    q.preview_lead = 300.0f;
    q.period = 10.0f;
    return q;
  }();
  PreviewMemory m{};
  double sum = 0.0;
  const int ticks = static_cast<int>(kSol / p.period);
  for (int k = 0; k < (sols + 1) * ticks; ++k) {
    const double at = std::fmod(k * double(p.period) / double(kSol), 1.0);
    const float rate = preview(m, p, static_cast<float>(density_at(at)), static_cast<float>(slope_at(at)),
                               clock ? static_cast<float>(at) : NAN);
    if (k < sols * ticks) continue;
    const double e = double(rate) - slope_at(at + 300.0 / double(kSol));
    sum += e * e / ticks;
  }
  return sum;
}

}  // namespace

TEST_CASE("the sol before improves the rate expected ahead") {
  const double without = error_of_preview(1, false), with = error_of_preview(1, true);
  CHECK(with / without < 0.7);
  // on the first sol nothing is known ahead: the measured rate stands alone
  CHECK(error_of_preview(0, true) < 1.1 * error_of_preview(0, false));
}

TEST_CASE("the preview is bounded for any bits") {
  const ctl_params p = default_params();
  PreviewMemory m{};
  uint32_t random = 7;
  for (int k = 0; k < 200000; ++k) {
    random = random * 1664525u + 1013904223u;
    const float time = float_of(random);
    const float density = 1e-3f + static_cast<float>(random >> 8) * 1e-9f;
    const float rate = preview(m, p, density, float_of(random * 3u), time);
    REQUIRE(std::abs(rate) <= kFastestDensity * density * 1.0001f);
  }
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
