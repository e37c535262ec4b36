// Relay experiment: the exact limit cycle of a lag with delay, and the model that is read from it.
// Exact cycle without hysteresis: a = k d (1 - exp(-theta/tau)), P = 2 (theta + tau ln(2 - exp(-theta/tau))); with it
// as in hil-harness/tune/relay.hpp (both derived; figures worked out apart from this program). True ultimate point:
// omega theta + atan(omega tau) = pi. Method: Astrom and Hagglund, Automatica 20 (1984) 645.
#include <catch2/catch.hpp>
#include <cmath>
#include <deque>

#include "hil-harness/tune/relay.hpp"

using namespace duskline::harness;

namespace {

struct Process {
  double gain, lag, delay;
};

/// The relay around the process, exact between ticks of `h`.
Relay experiment(const RelayPlan& plan, const Process& p, double h) {
  Relay relay(plan);
  std::deque<double> line(static_cast<std::size_t>(std::lround(p.delay / h)), plan.input);
  double y = plan.output;
  for (double t = 0.0; relay.state() == RelayState::working; t += h) {
    line.push_back(relay.step(t, y));
    const double settled = plan.output + p.gain * (line.front() - plan.input);
    line.pop_front();
    y = settled + (y - settled) * std::exp(-h / p.lag);
  }
  return relay;
}

struct Row {
  double ratio, true_gain, true_period, describing_gain, period;
};
// control handbook table of the exact cycle, k = tau = 1: theta/tau, Ku, Pu/tau, describing-function Ku, P/tau
constexpr Row kTable[] = {{0.1, 16.3506, 0.3850, 13.3796, 0.3818}, {0.25, 6.9345, 0.9156, 5.7561, 0.8997},
                          {0.5, 3.8069, 1.7106, 3.2359, 1.6636},   {1.0, 2.26183, 3.09706, 2.01424, 2.97976},
                          {2.0, 1.5198, 5.4901, 1.4725, 5.2462},   {5.0, 1.1321, 11.8387, 1.2819, 11.3795}};

}  // namespace

TEST_CASE("the ultimate point of a lag with delay") {
  for (const Row& row : kTable) {
    INFO(row.ratio);
    const Ultimate u = ultimate_of(1.0, 1.0, row.ratio);
    CHECK(u.gain == Approx(row.true_gain).epsilon(5e-5));
    CHECK(u.period == Approx(row.true_period).epsilon(2e-4));
    CHECK(ultimate_of(-2.0, 3.0, 3.0 * row.ratio).gain == Approx(row.true_gain / 2.0).epsilon(5e-5));
  }
}

TEST_CASE("the limit cycle of a relay around a lag with delay") {
  for (const Row& row : kTable) {
    INFO(row.ratio);
    const double h = row.ratio / 2000.0;
    RelayPlan plan;
    plan.up = plan.down = 1.0;
    plan.static_gain = 1.0;
    plan.hysteresis = 0.0;
    const RelayResult r = evaluate(experiment(plan, {1.0, 1.0, row.ratio}, h));
    REQUIRE(r.good);
    // the relay sees a crossing at the next tick, up to h late
    CHECK(r.period == Approx(row.period).epsilon(3e-3));
    CHECK(r.describing_gain == Approx(row.describing_gain).epsilon(3e-3));
    CHECK(r.peak_up == Approx(1.0 - std::exp(-row.ratio)).epsilon(3e-3));
    CHECK(r.ultimate_gain == Approx(row.true_gain).epsilon(5e-3));
  }
}

TEST_CASE("unequal steps and hysteresis give the model back, and a PI by SIMC") {
  RelayPlan plan;
  plan.input = 3.0, plan.output = 10.0;
  plan.up = 0.5, plan.down = 0.4;
  plan.hysteresis = 0.1;
  plan.falls = true;
  const Process p{-2.0, 4.0, 2.0};
  const RelayResult r = evaluate(experiment(plan, p, 1e-3));
  REQUIRE(r.good);
  CHECK(r.gain == Approx(p.gain).epsilon(0.01));
  CHECK(r.lag == Approx(p.lag).epsilon(0.01));
  CHECK(r.delay == Approx(p.delay).epsilon(0.01));
  // Skogestad 2003 with tau_c = theta: Kc = 4/(2 x 2 x 2) = 0.5, Ti = min(4, 16) = 4
  CHECK(r.proportional == Approx(0.5).epsilon(0.02));
  CHECK(r.integral_time == Approx(4.0).epsilon(0.02));
  CHECK(r.spread < 0.01);
}

TEST_CASE("an experiment is aborted beyond its limits, and gives no model") {
  RelayPlan plan;
  plan.up = plan.down = 1.0;
  plan.highest = 0.3;
  const Relay relay = experiment(plan, {1.0, 1.0, 1.0}, 1e-2);
  CHECK(relay.state() == RelayState::called_off);
  // back to rest at once: at 0.3 = 1 - exp(-t), 0.357 s after the delay
  CHECK(relay.samples().back().time == Approx(1.357).margin(0.02));
  const RelayResult r = evaluate(relay);
  CHECK_FALSE(r.good);
  CHECK(r.error.find("left its limits") != std::string::npos);
}

TEST_CASE("an oscillation as fast as the ticks is no model") {
  RelayPlan plan;
  plan.up = plan.down = 1.0;
  plan.tick = 1.0;
  const RelayResult r = evaluate(experiment(plan, {1.0, 0.2, 0.0}, 1.0));
  CHECK_FALSE(r.good);
  CHECK(r.error.find("as fast as the ticks") != std::string::npos);
}
