// The linear model of a plant with headers against the plant and the closed loop themselves.
//
// No number from outside is needed: the same ticks twice, once with a small push on one command, against the response of the
// model. What is left is the curvature of the plant over the push (symmetric to first order where it goes both ways).
#include <catch2/catch.hpp>
#include <cmath>

#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/loop/plant_stepper.hpp"
#include "hil-harness/loop/shared_side.hpp"
#include "hil-harness/loop/signal_rows.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::harness;
using Eigen::Index;
using Eigen::VectorXd;

namespace {

constexpr double kAt = 600.0;  // s: the headers stand at their set-points
constexpr Index kTicks = 61;
constexpr float kRaise = 300.0F;  // Pa

/// Without the dead-band of the feed valves: none is in a linear model.
scenarios::Case noon(std::vector<std::string> settings = {}) {
  settings.push_back("controller.parameters.valve_step=0");
  const auto read =
      scenarios::read_case(DUSKLINE_SOURCE_DIR "/scenarios/long/outpost-noon.yaml",
                           DUSKLINE_SOURCE_DIR "/plant-model/plants", settings, requirement_lists());
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return *read.value;
}

/// One operating point for most cases of this file.
const OperatingPoint& point() {
  static const auto at = [] {
    std::string problem;
    auto found = operating_point(noon(), kAt, problem);
    if (!found) throw std::runtime_error(problem);
    return found;
  }();
  return *at;
}
const LinearLoop& linear() {
  static const LinearLoop loop(point());
  return loop;
}

Index find(const std::vector<Channel>& channels, const std::string& name) {
  for (std::size_t k = 0; k < channels.size(); ++k)
    if (channels[k].name == name) return static_cast<Index>(k);
  throw std::runtime_error("no channel " + name);
}

/// What is looked at, and below which effect a difference is the integrator's own.
struct Seen {
  const char* name;
  double plant::SharedValues::*value;
  double floor;
};
const Seen kSeen[] = {{"feed_header_pressure", &plant::SharedValues::feed_header_pressure, 1.0},
                      {"exhaust_header_pressure", &plant::SharedValues::exhaust_header_pressure, 1.0},
                      {"product_header_pressure", &plant::SharedValues::product_header_pressure, 1.0},
                      {"feed_header_co_fraction", &plant::SharedValues::feed_header_co_fraction, 2e-5},
                      {"compressor_flow", &plant::SharedValues::compressor_flow, 1e-7}};

struct Push {
  const char* input;
  double by;
  void (*give)(plant::Plant::CommandsInForce&, double);
};
const Push kPushes[] = {
    {"compressor_speed", 1.0, [](auto& u, double by) { u.shared.compressor_speed += by; }},
    {"recycle_opening", 0.01, [](auto& u, double by) { u.shared.recycle_opening += by; }},
    {"exhaust_opening", 0.002, [](auto& u, double by) { u.shared.exhaust_opening += by; }},
    {"product_opening", 0.002, [](auto& u, double by) { u.shared.product_opening += by; }},
    {"module[2].stack_current", 0.5, [](auto& u, double by) { u.modules[1].stack_current += by; }},
    {"module[6].feed_opening", 0.005, [](auto& u, double by) { u.modules[5].feed_opening += by; }},
};

/// What the plant alone shows after a push, a row a tick. Valves are held where they stand: one that is on its way
/// changes its gain (by 1.6 % of that of the header's recycle).
Eigen::MatrixXd simulated(const Push& push, double by) {
  scenarios::Case c = noon();
  c.scenario.integrator.relative_tolerance = 1e-4;  // what is compared is less than the usual one asks for
  plant::Plant plant = point().plant;
  plant::State x = point().state, rates;
  PlantStepper stepper = make_stepper(c.scenario.integrator, plant.layout());
  auto commands = plant.commands_in_force();
  const auto opening = [&](const char* valve) { return x[plant.layout().index(valve)]; };
  commands.shared.recycle_opening = opening("header_recycle.opening");
  commands.shared.exhaust_opening = opening("exhaust.opening");
  commands.shared.product_opening = opening("product.opening");
  push.give(commands, by);
  plant.set_commands(commands);
  std::vector<plant::PlantOutputs> modules(plant.modules());
  plant::SharedOutputs shared{};
  Eigen::MatrixXd rows(kTicks, std::ssize(kSeen));
  for (Index n = 0; n < kTicks; ++n) {
    plant.observe(x, rates, modules, shared);
    for (Index k = 0; k < rows.cols(); ++k) rows(n, k) = shared.truth.*kSeen[k].value;
    const auto t = static_cast<double>(n);
    REQUIRE(stepper.advance_with(plant, x, rates, t, t + 1.0).ok());
  }
  return rows;
}

ctl_status raised(ctl_plant_state* state, const ctl_plant_params* params, const ctl_plant_inputs* in,
                  ctl_plant_outputs* out) {
  ctl_plant_params p = *params;
  if (in->tick >= static_cast<std::uint32_t>(kAt)) p.header_pressure += kRaise;
  return ctl_plant_step(state, &p, in, out);
}

/// The command of the speed pushed, without help for the shaft.
double pushed_by = 0.0;  // rad/s
ctl_status pushed(ctl_plant_state* state, const ctl_plant_params* params, const ctl_plant_inputs* in,
                  ctl_plant_outputs* out) {
  const bool now = in->tick >= static_cast<std::uint32_t>(kAt);
  ctl_plant_params p = *params;
  if (now) p.shaft_gain = 0.0F;
  const ctl_status status = ctl_plant_step(state, &p, in, out);
  if (now) out->compressor_speed += static_cast<float>(pushed_by);
  return status;
}

/// The plant controller with another step.
class Stepped final : public PlantLink {
 public:
  Stepped(const ctl_plant_params& params, decltype(&ctl_plant_step) step) : params_(params), step_(step) {
    REQUIRE(ctl_plant_init(&state_, &params_) == CTL_OK);
  }
  ctl_status step(const ctl_plant_inputs& in, ctl_plant_outputs& out) override {
    return step_(&state_, &params_, &in, &out);
  }

 private:
  ctl_plant_params params_;
  ctl_plant_state state_{};
  decltype(&ctl_plant_step) step_;
};

/// Pressure of the feed header from the instant on, tick by tick, in the whole loop with noise and weather.
VectorXd run_on(Index ticks, decltype(&ctl_plant_step) step) {
  scenarios::Case c = noon();
  c.scenario.duration = kAt + static_cast<double>(ticks);
  Controllers controllers;
  controllers.set_plant(
      std::make_shared<Stepped>(scenarios::plant_controller_of(c.plant.parameters, c.scenario), step));
  LoopOptions options;
  VectorXd pressure(ticks);
  options.watch = [&](const Snapshot& s) {
    const auto n = static_cast<Index>(std::lround(s.time - kAt));
    if (n >= 0 && n < ticks) pressure[n] = s.shared->plant.truth.feed_header_pressure;
  };
  run_loop(c, controllers, options);
  return pressure;
}

}  // namespace

TEST_CASE("Between headers the ticks are those of the controller with the fewest") {
  CHECK(linear().ticks() == 80);
  for (const LoopMargins& loop : linear().margins()) CHECK(loop.ticks == 80);
  // a module is taken out of service ten ticks before
  std::string problem;
  const auto soon = operating_point(
      noon({"commands=[{at: 0 s, mode: production, demand: 3 kg/h}, {at: 590 s, module: 3, service: out}]"}),
      kAt, problem);
  INFO(problem);
  REQUIRE(soon);
  const LinearLoop loop(*soon);
  CHECK(loop.ticks() > 0);
  CHECK(loop.ticks() <= 11);
}

TEST_CASE("A small step of each command moves the outpost as its linear model says") {
  const StateSpace& plant = linear().sampled_plant();
  for (const Push& push : kPushes) {
    const Eigen::MatrixXd model = step_response(plant, find(plant.inputs, push.input), kTicks);
    const Eigen::MatrixXd moved = (simulated(push, push.by) - simulated(push, -push.by)) / 2.0;
    for (Index k = 0; k < std::ssize(kSeen); ++k) {
      INFO(push.input << " to " << kSeen[k].name);
      const VectorXd expected = push.by * model.col(find(plant.outputs, kSeen[k].name));
      const double largest = expected.cwiseAbs().maxCoeff();
      INFO("largest " << largest << ", apart " << (moved.col(k) - expected).cwiseAbs().maxCoeff());
      CHECK((moved.col(k) - expected).cwiseAbs().maxCoeff() < std::max(kSeen[k].floor, 0.01 * largest));
    }
  }
}

TEST_CASE("The header pressure overshoots a step of its set-point as the closed model says") {
  constexpr Index kLong = 241;
  const StateSpace& closed = linear().closed();
  const VectorXd pressure = static_cast<double>(kRaise) *
                            step_response(closed, find(closed.inputs, "controller.header_pressure"), kLong)
                                .col(find(closed.outputs, "feed_header_pressure"));
  const VectorXd moved = run_on(kLong, raised) - run_on(kLong, ctl_plant_step);
  INFO("highest " << pressure.maxCoeff() << " and " << moved.maxCoeff() << " Pa, apart "
                  << (moved - pressure).cwiseAbs().maxCoeff());
  // both runs see the same noise; where it switches the shaft's help on and off they part by some pascals
  CHECK(moved.maxCoeff() == Approx(pressure.maxCoeff()).epsilon(0.05));
  CHECK((moved - pressure).cwiseAbs().maxCoeff() < 0.2 * pressure.maxCoeff());
}

// With that help the run follows neither way: it acts in one direction only (docs/explain/linear-models.md).
TEST_CASE("Without help for the shaft a push on the speed moves the header as the closed model says") {
  constexpr Index kLong = 241;
  OperatingPoint at = point();
  at.shared->params.shaft_gain = 0.0F;
  const LinearLoop loop(at);
  const StateSpace& closed = loop.closed();
  const VectorXd model = step_response(closed, find(closed.inputs, "disturbance.compressor_speed"), kLong)
                             .col(find(closed.outputs, "feed_header_pressure"));
  pushed_by = 0.0;
  const VectorXd base = run_on(kLong, pushed);
  for (const double by : {10.0, -10.0}) {
    pushed_by = by;
    const VectorXd moved = run_on(kLong, pushed) - base, expected = by * model;
    INFO(by << " rad/s, apart " << (moved - expected).cwiseAbs().maxCoeff() << " Pa");
    CHECK((moved - expected).cwiseAbs().maxCoeff() < 0.2 * expected.cwiseAbs().maxCoeff());
  }
}

TEST_CASE("The linear plant controller has the gains of its parameters") {
  const StateSpace& k = linear().controller();
  const ctl_plant_params& p = point().shared->params;
  const auto gain = [&](const char* command, const char* reading) {
    return k.d(find(k.outputs, command), find(k.inputs, reading));
  };
  // the proportional part of a PI (textbooks); an opening rises with the pressure before its valve
  CHECK(gain("exhaust_opening", "exhaust_header_pressure") ==
        Approx(static_cast<double>(p.exhaust_gain)).epsilon(0.01));
  CHECK(gain("product_opening", "product_header_pressure") ==
        Approx(static_cast<double>(p.product_gain)).epsilon(0.01));
  CHECK(gain("recycle_opening", "feed_header_co_fraction") ==
        Approx(-static_cast<double>(p.recycle_gain)).epsilon(0.01));
  const Index integral = find(k.states, "plant_controller.headers.speed.integral");
  CHECK(k.b(integral, find(k.inputs, "feed_header_pressure")) ==
        Approx(-static_cast<double>(p.pressure_gain / p.pressure_time) * point().period).epsilon(0.01));
}

TEST_CASE("The loops of the headers are stable, keep their margins, and hardly meet") {
  const auto all = linear().margins();
  REQUIRE(all.size() == 6);
  for (const LoopMargins& loop : all) {
    INFO(loop.name);
    CHECK(loop.stable);
    CHECK_FALSE(loop.tuning.empty());
    if (loop.name == "anti-surge valve") {
      CHECK_FALSE(loop.feedback);  // far from its line the valve is shut
      continue;
    }
    CHECK(loop.feedback);
    CHECK(loop.margins.sensitivity < 1.8);  // what the tuning of the bench accepts
    CHECK(loop.margins.crossover > 0.0);
  }
  for (const double omega : {1e-4, 0.03}) {
    const Eigen::MatrixXcd gains = linear().relative_gains(omega);
    REQUIRE(gains.rows() == 4);
    for (Index k = 0; k < 4; ++k) {
      // rows and columns of relative gains sum to 1 (Bristol 1966)
      CHECK(std::abs(gains.row(k).sum() - 1.0) < 1e-9);
      CHECK(std::abs(gains.col(k).sum() - 1.0) < 1e-9);
      CHECK(gains(k, k).real() > 0.8);
    }
  }
}

// Far from its line the valve is shut and shows no feedback; before its gain was halved Ms was 2.7 here.
TEST_CASE("Turned down, the anti-surge valve and the speed keep their margins beside each other") {
  for (const char* plant : {"outpost", "outpost-axial"}) {
    std::string problem;
    const auto at = operating_point(
        noon({std::string("plant=") + plant, "commands=[{at: 0 min, mode: production, demand: 1.2 kg/h}]"}),
        kAt, problem);
    INFO(plant << ' ' << problem);
    REQUIRE(at);
    for (const LoopMargins& loop : LinearLoop(*at).margins()) {
      INFO(loop.name << ", Ms " << loop.margins.sensitivity);
      CHECK(loop.feedback);
      CHECK(loop.stable);
      CHECK(loop.margins.sensitivity < 1.8);  // what the tuning of the bench accepts
    }
  }
}

// 10 000 h add at least 4.18e-6 ohm m2: tests/unit/scenarios/controller_sizes_test.cpp.
TEST_CASE("The linear model of a module has the parameters that its controller runs with") {
  std::string problem;
  const auto at = operating_point(noon({"plant.module.production.3=10000 h"}), 60.0, problem);
  INFO(problem);
  REQUIRE(at);
  CHECK(at->modules[2].params.mean_resistance_prior == Approx(4.18e-6).epsilon(1e-3));
  CHECK(at->modules[0].params.mean_resistance_prior == 0.0F);
  for (const ModulePoint& module : at->modules)
    CHECK_FALSE(module.moments.empty());  // they give the bits of the run
}
