// Curves and lists from the models.
#include "hil-harness/linearize/results.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

#include "hil-harness/linearize/headers_side.hpp"
#include "hil-harness/linearize/plant_side.hpp"
#include "hil-harness/loop/words.hpp"
#include "plant-model/linear.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;

constexpr int kFrequencies = 300;
constexpr double kLowest = 1e-4;  ///< rad/s
constexpr Index kTicksOfSteps = 601;
constexpr double kSettled = 3.0;  ///< time constants within a tick that count as at once

struct Step {
  const char* input;  ///< of the closed loop
  double amount;
};
constexpr Step kSteps[] = {{"disturbance.compressor_speed", 10.0},
                           {"disturbance.stack_current", 0.1},
                           {"disturbance.recycle_opening", 0.05},
                           {"oxygen_demand", 0.5 / 3.6e6},
                           {"controller.stack_setpoint", 1.0}};
constexpr const char* kShown[] = {"feed_flow", "coke_margin", "compressor_speed"};

// Between headers: the loops of the plant controller.
constexpr Step kHeaderSteps[] = {
    {"disturbance.compressor_speed", 10.0}, {"disturbance.recycle_opening", 0.02},
    {"disturbance.exhaust_opening", 0.02},  {"disturbance.product_opening", 0.02},
    {"controller.header_pressure", 1000.0}, {"controller.exhaust_pressure", 1000.0}};
constexpr const char* kHeaderShown[] = {"feed_header_pressure", "feed_header_co_fraction",
                                        "exhaust_header_pressure", "product_header_pressure"};

Index index_of(const std::vector<Channel>& channels, std::string_view name) {
  for (std::size_t k = 0; k < channels.size(); ++k)
    if (channels[k].name == name) return static_cast<Index>(k);
  return -1;
}

std::vector<double> column(const Eigen::MatrixXd& y, Index at, double factor) {
  std::vector<double> values;
  for (Index k = 0; k < y.rows(); ++k) values.push_back(factor * y(k, at));
  return values;
}

void add_steps(LinearResults& r, std::span<const Step> steps, std::span<const char* const> outputs) {
  constexpr std::string_view kDisturbance = "disturbance.";
  for (Index k = 0; k < kTicksOfSteps; ++k) r.time_of_steps.push_back(static_cast<double>(k) * r.period);
  for (const Step& step : steps) {
    const Index input = index_of(r.closed.inputs, step.input);
    const Eigen::MatrixXd closed = step_response(r.closed, input, kTicksOfSteps);
    Eigen::MatrixXd open;
    if (std::string_view(step.input).starts_with(kDisturbance))
      open = step_response(
          r.sampled, index_of(r.sampled.inputs, std::string_view(step.input).substr(kDisturbance.size())),
          kTicksOfSteps);
    for (const char* shown : outputs) {
      const Index output = index_of(r.closed.outputs, shown);
      StepCurve curve{r.closed.inputs[static_cast<std::size_t>(input)],
                      r.closed.outputs[static_cast<std::size_t>(output)],
                      step.amount,
                      {},
                      {}};
      curve.closed = column(closed, output, step.amount);
      if (open.size() > 0) curve.open = column(open, index_of(r.sampled.outputs, shown), step.amount);
      r.steps.push_back(std::move(curve));
    }
  }
}

void add_frequencies(LinearResults& r, const LinearLoop& loop) {
  const double highest = std::numbers::pi / r.period;
  for (int k = 0; k <= kFrequencies; ++k)
    r.frequency.push_back(kLowest * std::pow(highest / kLowest, static_cast<double>(k) / kFrequencies));
  for (LoopMargins& margins : loop.margins()) {
    LoopCurve curve{std::move(margins), {}};
    const FrequencyResponse l = loop.response_of(curve.loop);
    if (curve.loop.feedback)
      for (const double omega : r.frequency) curve.response.push_back(l(omega));
    r.loops.push_back(std::move(curve));
  }
  r.pairing = loop.pairing();
  if (!r.pairing.commands.empty() && r.loops.front().loop.feedback)
    for (const double omega : {kLowest, r.loops.front().loop.margins.crossover})
      if (omega > 0.0) r.relative_gains.push_back({omega, loop.relative_gains(omega)});
  for (const double omega : r.frequency) {
    r.sensitivity.push_back(loop.sensitivity_at(omega));
    if (r.sensitivity.back() <= r.sensitivity_peak) continue;
    r.sensitivity_peak = r.sensitivity.back();
    r.sensitivity_peak_at = omega;
  }
}

}  // namespace

std::string warning_of(const LinearResults& r) {
  std::size_t fewest = kFewestTicks;
  for (const LoopCurve& curve : r.loops)
    if (curve.loop.feedback) fewest = std::min(fewest, curve.loop.ticks);
  if (fewest == kFewestTicks) return "";
  return fmt::format(
      "a controller is a mean over {} ticks alone, because its mode or limiter changed before them or the "
      "run began: "
      "parts that act every 8 or 20 ticks may be missing in these margins; {} ticks or more would do",
      fewest, kFewestTicks);
}

LinearResults results_of(const OperatingPoint& point, const LinearLoop& loop) {
  LinearResults r;
  r.ticks = loop.ticks();
  r.time = point.time;
  r.local_time = point.local_time;
  r.period = point.period;
  r.law = word_of(law_words(), point.control.law);
  r.mode = point.shared ? word_of(plant_mode_words(), point.shared->control.mode)
                        : word_of(mode_words(), point.control.mode);
  r.limiter = point.shared ? word_of(plant_limiter_words(), point.shared->control.limiter)
                           : word_of(limiter_words(), point.control.limiter);
  r.plant = loop.plant();
  r.sampled = loop.sampled_plant();
  r.measured = loop.measured_plant();
  r.controller = loop.controller();
  r.closed = loop.closed();
  r.plant_poles = poles(r.plant);
  r.sampled_poles = poles(r.sampled);
  r.closed_poles = loop.closed_poles();
  const bool headers = point.shared.has_value();
  const plant::LinearPlant exact =
      headers ? plant::linearise_whole(point.plant, point.state) : plant::linearise(point.plant, point.state);
  r.states.assign(point.state.begin(), point.state.begin() + static_cast<std::ptrdiff_t>(
                                                                 point.plant.layout().division().implicit));
  r.rates.assign(exact.rates.begin(), exact.rates.end());
  for (const Index row : headers ? places_of_whole_outputs(point.plant.modules()) : places_of_outputs())
    r.outputs.push_back(exact.outputs[row]);
  r.inputs = commands_in_force(point);
  for (Index i = 0; i < r.plant.a.rows(); ++i)
    if (-r.plant.a(i, i) * r.period > kSettled)
      r.quasi_static.push_back(r.plant.states[static_cast<std::size_t>(i)].name);
  add_frequencies(r, loop);
  if (headers)
    add_steps(r, kHeaderSteps, kHeaderShown);
  else
    add_steps(r, kSteps, kShown);
  return r;
}

}  // namespace duskline::harness
