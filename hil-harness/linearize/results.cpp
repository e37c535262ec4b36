// Curves and lists from the models.
#include "hil-harness/linearize/results.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

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

std::string word_of_mode(std::uint32_t mode) {
#define WORD(identifier, value, word, meaning) \
  if (mode == (value)) return word;
  CTL_MODE_LIST(WORD)
#undef WORD
  return "unknown";
}
std::string word_of_limiter(std::uint32_t limiter) {
#define WORD(identifier, value, word, meaning) \
  if (limiter == (value)) return word;
  CTL_LIMITER_LIST(WORD)
#undef WORD
  return "unknown";
}
std::string word_of_law(std::uint32_t law) {
#define WORD(identifier, value, word, meaning) \
  if (law == (value)) return word;
  CTL_LAW_LIST(WORD)
#undef WORD
  return "unknown";
}

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

void add_steps(LinearResults& r) {
  constexpr std::string_view kDisturbance = "disturbance.";
  for (Index k = 0; k < kTicksOfSteps; ++k) r.time_of_steps.push_back(static_cast<double>(k) * r.period);
  for (const Step& step : kSteps) {
    const Index input = index_of(r.closed.inputs, step.input);
    const Eigen::MatrixXd closed = step_response(r.closed, input, kTicksOfSteps);
    Eigen::MatrixXd open;
    if (std::string_view(step.input).starts_with(kDisturbance))
      open = step_response(
          r.sampled, index_of(r.sampled.inputs, std::string_view(step.input).substr(kDisturbance.size())),
          kTicksOfSteps);
    for (const char* shown : kShown) {
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
  for (const double omega : r.frequency) {
    r.sensitivity.push_back(loop.sensitivity_at(omega));
    if (r.sensitivity.back() <= r.sensitivity_peak) continue;
    r.sensitivity_peak = r.sensitivity.back();
    r.sensitivity_peak_at = omega;
  }
}

}  // namespace

LinearResults results_of(const OperatingPoint& point, const LinearLoop& loop) {
  LinearResults r;
  r.time = point.time;
  r.local_time = point.local_time;
  r.period = point.period;
  r.law = word_of_law(point.control.law);
  r.mode = word_of_mode(point.control.mode);
  r.limiter = word_of_limiter(point.control.limiter);
  r.plant = loop.plant();
  r.sampled = loop.sampled_plant();
  r.measured = loop.measured_plant();
  r.controller = loop.controller();
  r.closed = loop.closed();
  r.plant_poles = poles(r.plant);
  r.sampled_poles = poles(r.sampled);
  r.closed_poles = poles(r.closed);
  const plant::LinearPlant exact = plant::linearise(point.plant, point.state);
  r.states.assign(point.state.begin(), point.state.begin() + static_cast<std::ptrdiff_t>(plant::kImplicit));
  r.rates.assign(exact.rates.begin(), exact.rates.end());
  r.outputs.assign(exact.outputs.begin(), exact.outputs.end());
  const plant::Commands& u = point.plant.commands();
  r.inputs = {u.speed, u.current, u.preheater_power, u.recycle_opening, u.end_power[0], u.end_power[1]};
  for (Index i = 0; i < r.plant.a.rows(); ++i)
    if (-r.plant.a(i, i) * r.period > kSettled)
      r.quasi_static.push_back(r.plant.states[static_cast<std::size_t>(i)].name);
  add_frequencies(r, loop);
  add_steps(r);
  return r;
}

}  // namespace duskline::harness
