// The PI block: anti-windup sequence, bumpless transfer, closed loop against analytic values.
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "controller/laws/pi.hpp"

using namespace duskline::controller;

TEST_CASE("anti-windup follows the published equation step by step") {
  // K = 2, Ti = 10, Tt = 5, h = 1, 0 <= u <= 1; e = +1 five times, then -1 three times. Values worked by hand
  // from v = K e + I, I += h (K/Ti e + (u - v)/Tt) (equation of Astrom and Hagglund, PID Controllers, 1995).
  const PiGains gains{2.0f, 10.0f, 5.0f, 1.0f};
  const float error[8] = {1, 1, 1, 1, 1, -1, -1, -1};
  const float output[8] = {2.0f, 2.0f, 2.0f, 2.0f, 2.0f, -2.0f, -1.8f, -1.64f};
  const float integral[8] = {0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.2f, 0.36f, 0.488f};
  Pi pi{};
  for (int k = 0; k < 8; ++k) {
    const float v = pi_output(pi, gains, error[k], 0.0f);
    CHECK(v == Approx(output[k]).margin(1e-6));
    pi_track(pi, gains, 1.0f, clamp(v, 0.0f, 1.0f));
    CHECK(pi.integral == Approx(integral[k]).margin(1e-6));
  }
}

TEST_CASE("a held output leaves the output K Tt/Ti e away and no further") {
  // stationary v - u = K Tt/Ti e, from dI/dt = 0
  const PiGains gains{3.0f, 20.0f, 10.0f, 1.0f};
  Pi pi{};
  for (int k = 0; k < 500; ++k) {
    pi_output(pi, gains, 0.7f, 0.0f);
    pi_track(pi, gains, 1.0f, 0.25f);
  }
  CHECK(pi.output - 0.25f == Approx(3.0 * 10.0 / 20.0 * 0.7).epsilon(1e-5));
}

TEST_CASE("manual to automatic is exactly without a bump") {
  const PiGains gains{1.7f, 35.0f, 35.0f, 0.4f};
  Pi pi{};
  const float manual = 0.8125f;
  pi_align(pi, gains, 0.5f, 0.25f, 0.125f, manual);
  CHECK(pi_output(pi, gains, 0.5f, 0.25f, 0.125f) == Approx(manual).margin(1e-7));
}

TEST_CASE("nothing moves at zero error without saturation") {
  const PiGains gains{2.0f, 10.0f, 10.0f, 1.0f};
  Pi pi{0.375f, 0.0f, 0.0f};
  for (int k = 0; k < 100; ++k) pi_track(pi, gains, 1.0f, pi_output(pi, gains, 5.0f, 5.0f));
  CHECK(pi.integral == 0.375f);
}

TEST_CASE("a change of gain kicks the proportional part only") {
  Pi pi{0.5f, 0.0f, 0.0f};
  const float before = pi_output(pi, {2.0f, 10.0f, 10.0f, 1.0f}, 1.0f, 0.9f);
  const float after = pi_output(pi, {3.0f, 10.0f, 10.0f, 1.0f}, 1.0f, 0.9f);
  CHECK(after - before == Approx(0.1).margin(1e-6));
}

TEST_CASE("the integral is bounded for any bounded error") {
  const PiGains gains{8.0f, 0.5f, 0.5f, 1.0f};  // Tt shorter than the period: held at the period
  Pi pi{};
  uint32_t random = 1;
  for (int k = 0; k < 100000; ++k) {
    random = random * 1664525u + 1013904223u;
    const float e = static_cast<float>(random >> 8) * (2.0f / 16777216.0f) - 1.0f;
    pi_track(pi, gains, 1.0f, clamp(pi_output(pi, gains, e, 0.0f), 0.0f, 1.0f));
    // |I| <= |I| (1 - h/Tt) + h K/Ti + (1 + K) h/Tt with h = Tt = 1
    REQUIRE(std::abs(pi.integral) <= 8.0f / 0.5f + 9.0f);
  }
}

namespace {

struct Loop {
  double iae = 0.0, ie = 0.0, overshoot = 0.0;
};

// First-order lag with delay k = tau = theta = 1, explicit Euler at 1 ms.
Loop closed_loop(float setpoint, double load) {
  const PiGains gains{0.5f, 1.0f, 1.0f, 1.0f};  // SIMC, tau_c = theta
  const double h = 1e-3;
  const std::size_t delay = 1000;
  std::vector<double> line(delay, load);  // the load enters at the plant input, before the delay
  Pi pi{};
  Loop out;
  double y = 0.0;
  for (std::size_t k = 0; k < 60000; ++k) {
    const float u = pi_output(pi, gains, setpoint, static_cast<float>(y));
    pi_track(pi, gains, static_cast<float>(h), u);
    const double delayed = k < delay ? 0.0 : line[k % delay];
    line[k % delay] = static_cast<double>(u) + load;
    y += h * (delayed - y);
    const double e = static_cast<double>(setpoint) - y;
    out.iae += h * std::abs(e);
    out.ie += h * e;
    out.overshoot = std::max(out.overshoot, y - static_cast<double>(setpoint));
  }
  return out;
}

}  // namespace

TEST_CASE("closed loop with SIMC tuning meets the reference figures") {
  // Set-point IAE 2.17 theta: Skogestad, J. Process Control 13 (2003) 291, table of the PI-controlled lag
  // (from memory); 2.169, overshoot 4.06 % and load IAE 2.035 recomputed independently in double precision.
  const Loop step = closed_loop(1.0f, 0.0);
  CHECK(step.iae == Approx(2.169).epsilon(0.005));
  CHECK(step.overshoot == Approx(0.0406).margin(0.001));
  const Loop load = closed_loop(0.0f, 1.0);
  CHECK(load.iae == Approx(2.035).epsilon(0.005));
  CHECK(load.ie == Approx(-1.0 * 1.0 / 0.5).epsilon(0.005));  // exact: IE = -d Ti/K
}
