// Linear models of the closed loop against the closed loop itself, and the margins of the shipped gains.
//
// The comparison needs no number from outside: the same run twice, once with a small push on one command, against the
// step response of the model. Both runs see the same noise and the same weather, so that their difference shows the
// loop; steps of the converters and the change of the air within the time leave the few per cent that are allowed.
#include <catch2/catch.hpp>
#include <cmath>
#include <complex>

#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/plant_side.hpp"
#include "plant-model/linear.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::harness;

namespace {

constexpr double kAt = 1200.0;  // s, in production
constexpr std::size_t kTicks = 121;

/// Dead-bands hold small changes back and are in no linear model.
scenarios::Case without_dead_bands(const std::string& name) {
  return tests::read_shipped(tests::library() / name, {"controller.parameters.speed_step=0 rad/s",
                                                       "controller.parameters.current_step=0 A",
                                                       "controller.parameters.recycle_step=0"});
}

/// The controller with a push on one of its commands from a tick on.
class Disturbed final : public Link {
 public:
  Disturbed(const ctl_params& params, std::uint32_t from, float ctl_outputs::*command, float push)
      : inner_(params), from_(from), command_(command), push_(push) {}
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const ctl_status status = inner_.step(in, out);
    if (in.tick >= from_) out.*command_ += push_;
    return status;
  }

 private:
  InProcess inner_;
  std::uint32_t from_;
  float ctl_outputs::*command_;
  float push_;
};

/// The largest singular value of the matrix of these rows and columns, by repeated multiplication.
template <class Entry>
double largest_gain(const std::vector<Eigen::Index>& places, const Entry& entry) {
  std::vector<std::complex<double>> x(places.size(), 1.0), y(places.size());
  double size = 0.0;
  for (int k = 0; k < 2000; ++k) {
    for (std::size_t i = 0; i < places.size(); ++i) {
      y[i] = 0.0;
      for (std::size_t j = 0; j < places.size(); ++j) y[i] += entry(places[i], places[j]) * x[j];
    }
    size = 0.0;
    for (std::size_t j = 0; j < places.size(); ++j) {
      x[j] = 0.0;
      for (std::size_t i = 0; i < places.size(); ++i) x[j] += std::conj(entry(places[i], places[j])) * y[i];
      size += std::norm(x[j]);
    }
    size = std::sqrt(size);
    for (auto& v : x) v /= size;
  }
  return std::sqrt(size);
}

struct Watch {
  std::vector<double> speed, flow, plenum, margin;
};

Watch run_stepped(scenarios::Case c, float ctl_outputs::*command, float push) {
  c.scenario.duration = kAt + static_cast<double>(kTicks);
  Disturbed link(c.scenario.controller, static_cast<std::uint32_t>(kAt), command, push);
  Watch w;
  LoopOptions options;
  options.watch = [&](const Snapshot& s) {
    if (s.time < kAt) return;
    w.speed.push_back(s.plant.truth.compressor_speed);
    w.flow.push_back(s.plant.feed_flow);
    w.plenum.push_back(s.plant.plenum_pressure);
    w.margin.push_back(s.coke_margin);
  };
  run_loop(c, link, options);
  return w;
}

Eigen::Index find(const std::vector<Channel>& channels, const std::string& name) {
  for (std::size_t k = 0; k < channels.size(); ++k)
    if (channels[k].name == name) return static_cast<Eigen::Index>(k);
  throw std::runtime_error("no channel " + name);
}

/// Largest distance of the two responses, over the largest of the model.
double apart(const std::vector<double>& with, const std::vector<double>& without,
             const Eigen::VectorXd& model) {
  double worst = 0.0;
  for (std::size_t k = 0; k < kTicks; ++k)
    worst = std::max(worst, std::abs(with[k] - without[k] - model[static_cast<Eigen::Index>(k)]));
  return worst / model.cwiseAbs().maxCoeff();
}

const LoopMargins& loop(const std::vector<LoopMargins>& all, const std::string& name) {
  for (const LoopMargins& l : all)
    if (l.name == name) return l;
  throw std::runtime_error("no loop " + name);
}

}  // namespace

TEST_CASE("A push on a command moves the closed loop as its linear model says") {
  const scenarios::Case c = without_dead_bands("dawn-dusk/equinox-sol.yaml");
  std::string problem;
  const auto point = operating_point(c, kAt, problem);
  REQUIRE(point);
  const LinearLoop linear(*point);
  const StateSpace& closed = linear.closed();
  const auto model = [&](const Eigen::MatrixXd& y, const char* output, double push) {
    return Eigen::VectorXd(push * y.col(find(closed.outputs, output)));
  };
  const Watch calm = run_stepped(c, &ctl_outputs::compressor_speed, 0.0F);
  {
    const double push = 5.0;  // rad/s
    const Watch stepped = run_stepped(c, &ctl_outputs::compressor_speed, static_cast<float>(push));
    const Eigen::MatrixXd y = step_response(closed, 0, static_cast<Eigen::Index>(kTicks));
    CHECK(apart(stepped.speed, calm.speed, model(y, "compressor_speed", push)) < 0.08);
    CHECK(apart(stepped.flow, calm.flow, model(y, "feed_flow", push)) < 0.10);
    CHECK(apart(stepped.plenum, calm.plenum, model(y, "plenum_pressure", push)) < 0.08);
  }
  {
    const double push = -0.1;  // A
    const Watch stepped = run_stepped(c, &ctl_outputs::stack_current, static_cast<float>(push));
    const Eigen::MatrixXd y = step_response(closed, 1, static_cast<Eigen::Index>(kTicks));
    CHECK(apart(stepped.margin, calm.margin, model(y, "coke_margin", push)) < 0.08);
  }
}

TEST_CASE(
    "The shipped gains keep their margins, and the current has feedback only where something holds it") {
  const scenarios::Case c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml");
  const auto all = loop_margins(c, kAt);
  for (const LoopMargins& l : all) {
    INFO(l.name);
    CHECK(l.stable);
    if (!l.feedback) continue;
    CHECK(l.margins.sensitivity >= 1.0);
    CHECK(l.margins.sensitivity <= 1.8);  // the acceptance of the tuning
    CHECK(l.margins.gain >= gain_promised(l.margins.sensitivity) * (1.0 - 1e-9));
    CHECK(l.margins.phase >= phase_promised(l.margins.sensitivity) * (1.0 - 1e-9));
  }
  CHECK_FALSE(loop(all, "current").feedback);  // the demand sets it
  CHECK(loop(all, "current").margins.sensitivity == 1.0);
  CHECK(loop(all, "speed").in_charge);
  CHECK_FALSE(loop(all, "current by coke margin").in_charge);
  CHECK(loop(all, "current by coke margin").feedback);
}

TEST_CASE("More gain, less margin, a slow filter in a brisk loop is reported unstable") {
  const scenarios::Case c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml");
  std::string problem;
  const auto point = operating_point(c, kAt, problem);
  REQUIRE(point);
  ctl_params params = point->params;
  const LoopMargins shipped = loop(loop_margins(*point, params), "speed");
  params.flow_gain *= 3.0F;
  const LoopMargins brisk = loop(loop_margins(*point, params), "speed");
  CHECK(brisk.margins.sensitivity > shipped.margins.sensitivity);
  CHECK(brisk.margins.crossover > shipped.margins.crossover);
  CHECK(brisk.stable);
  // by hand: 12 (1 + 1/(5 s))/((35 s + 1)(60 s + 1)) crosses over near 0.08 rad/s at -90 - 78 - 69 deg
  params.flow_gain = 12.0F;
  params.flow_integral_time = 5.0F;
  params.flow_filter = 60.0F;
  const LoopMargins wild = loop(loop_margins(*point, params), "speed");
  CHECK(wild.feedback);
  CHECK_FALSE(wild.stable);
}

TEST_CASE("The law's PI is found in the differences: gain over flow per speed, integral once a tick") {
  const scenarios::Case c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml");
  std::string problem;
  const auto point = operating_point(c, kAt, problem);
  REQUIRE(point);
  const LinearLoop linear(*point);
  const StateSpace& k = linear.controller();
  // speed = flow output/(rho V eta/2 pi) (cascade.hpp): the slope of the speed by the flow loop's integral
  const auto integral = find(k.states, "controller.law.flow.integral");
  const double per_flow = 2.0 * 3.14159265358979 /
                          (point->control.intake_density * point->params.compressor_displacement *
                           point->params.volumetric_efficiency);
  CHECK(k.c(0, integral) ==
        Approx(per_flow).epsilon(5e-3));  // the mean over 80 ticks of a density that moves
  CHECK(k.a(integral, integral) == Approx(1.0).margin(1e-5));
  // the filter of the feed flow, backward Euler: 1 - h/(h + tau) = 0.75 at 1 s and 3 s (filters.hpp)
  const auto filter = find(k.states, "controller.feed_flow");
  CHECK(k.a(filter, filter) == Approx(0.75).margin(1e-4));
  // I += h K/Ti e, e = reference - filtered flow: -K/Ti 0.75 by the filter's state
  CHECK(k.a(integral, filter) ==
        Approx(-0.75 * point->params.flow_gain / point->params.flow_integral_time).epsilon(1e-3));
}

TEST_CASE("The largest S leaves out commands that no feedback moves") {
  const scenarios::Case c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml");
  std::string problem;
  const auto point = operating_point(c, kAt, problem);
  REQUIRE(point);
  const LinearLoop linear(*point);
  const auto loops = linear.margins();
  std::vector<Eigen::Index> moved, all;
  for (std::size_t k = 0; k < linear.controller().outputs.size(); ++k) {
    all.push_back(static_cast<Eigen::Index>(k));
    for (const LoopMargins& loop : loops)
      if (loop.in_charge && loop.feedback && loop.command == linear.controller().outputs[k].name)
        moved.push_back(all.back());
  }
  REQUIRE(moved.size() < all.size());  // the demand is met: no feedback moves the current
  // S is in the closed loop: from a disturbance of a command to that command
  const StateSpace& closed = linear.closed();
  const Transfer transfer(closed);
  const auto first = closed.c.rows() - static_cast<Eigen::Index>(all.size());
  const Eigen::VectorXd span = command_spans(*point);
  for (const double omega : {1e-3, 1e-2, 0.1, 1.0}) {
    const Eigen::MatrixXcd whole = transfer.at(omega);
    const auto entry = [&](Eigen::Index row, Eigen::Index column) {
      return whole(first + row, column) * span[column] / span[row];
    };
    CHECK(linear.sensitivity_at(omega) == Approx(largest_gain(moved, entry)).epsilon(1e-4));
    CHECK(largest_gain(moved, entry) <= largest_gain(all, entry) * 1.0001);
  }
}

TEST_CASE("An instant that the run does not reach is refused in words") {
  scenarios::Case c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml");
  std::atomic<bool> stop{true};
  std::string problem;
  CHECK(operating_point(c, 3000.0, problem, {{}, &stop}) == nullptr);
  CHECK(problem.find("interrupted") != std::string::npos);
}
