#include "hil-harness/tune/relay_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {
namespace {

constexpr double kSettling = 1800.0;    // s
constexpr double kStep = 300.0;         // s with a step, for the static gain
constexpr double kTail = 60.0;          // s of them that count
constexpr double kRest = 300.0;         // s back at rest after it
constexpr double kLooking = 300.0;      // s before the relay, for rest and noise
constexpr double kLeastMargin = 0.020;  // V, estimated: below it the experiment is aborted

enum class Loop { flow, margin };

/// The controller with one command taken over by a relay from `kSettling` on.
class RelayLink final : public Link {
 public:
  RelayLink(const ctl_params& params, Loop loop) : params_(params), loop_(loop), inner_(params) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const ctl_status status = inner_.step(in, out);
    const double time = static_cast<double>(in.tick) * static_cast<double>(params_.period);
    // the loop sees the flow through the filter of the controller
    const double raw = static_cast<double>(in.feed_flow);
    const auto h = static_cast<double>(params_.period), lag = static_cast<double>(params_.flow_filter);
    if (std::isfinite(raw)) flow_ = started_ ? flow_ + h / (h + lag) * (raw - flow_) : raw;
    started_ = true;
    const double output = loop_ == Loop::flow ? flow_ : static_cast<double>(out.coke_margin);
    const double per_command = loop_ == Loop::flow ? flow_per_speed(out) : 1.0;
    const double command =
        static_cast<double>(loop_ == Loop::flow ? out.compressor_speed : out.stack_current);
    if (time < kSettling - kLooking) return status;
    if (time < kSettling) {
      outputs_.push_back(output);
      inputs_.push_back(command * per_command);
      return status;
    }
    if (!relay_) begin();
    if (out.mode != CTL_PRODUCTION || static_cast<double>(out.coke_margin) < kLeastMargin) danger_ = true;
    if (danger_ || relay_->state() != RelayState::working) return status;
    const double input = input_at(time, output) / per_command;
    (loop_ == Loop::flow ? out.compressor_speed : out.stack_current) = static_cast<float>(input);
    return status;
  }

  RelayResult result() const {
    RelayResult r = relay_ ? evaluate(*relay_) : RelayResult{};
    if (!relay_) r.error = "the plant did not reach the operating point";
    if (danger_ && !r.good) r.error = "aborted: the coke margin fell short or an interlock acted";
    return r;
  }
  RelayPlan plan() const { return relay_ ? relay_->plan() : RelayPlan{}; }
  bool over() const { return danger_ || (relay_ && relay_->state() != RelayState::working); }

 private:
  double flow_per_speed(const ctl_outputs& out) const {
    return static_cast<double>(out.intake_density * params_.compressor_displacement *
                               params_.volumetric_efficiency) /
           (2.0 * std::numbers::pi);
  }

  /// First a step and back, then the relay.
  double input_at(double time, double output) {
    if (time < kSettling + kStep) {
      if (time >= kSettling + kStep - kTail) step_sum_ += output, step_count_ += 1.0;
      return plan_.input + plan_.up;
    }
    if (time < kSettling + kStep + kRest) return plan_.input;
    if (!stepped_) {
      stepped_ = true;
      plan_.static_gain = std::abs(step_sum_ / step_count_ - plan_.output) / plan_.up;
      relay_.emplace(plan_);
    }
    return relay_->step(time, output);
  }

  void begin() {
    const auto mean = [](const std::vector<double>& v) {
      double sum = 0.0;
      for (const double x : v) sum += x;
      return sum / static_cast<double>(std::max<std::size_t>(v.size(), 1));
    };
    RelayPlan& plan = plan_;
    plan.tick = static_cast<double>(params_.period);
    plan.input = mean(inputs_);
    plan.output = mean(outputs_);
    double squares = 0.0;
    for (const double y : outputs_) squares += (y - plan.output) * (y - plan.output);
    const double sigma = std::sqrt(squares / static_cast<double>(std::max<std::size_t>(outputs_.size(), 1)));
    plan.hysteresis = 3.0 * sigma;
    plan.falls = loop_ == Loop::margin;
    // unequal steps, so that the static gain shows
    const double size = (loop_ == Loop::flow ? 0.10 : 0.06) * plan.input;
    plan.up = 1.25 * size;
    plan.down = size;
    if (loop_ == Loop::flow) {
      plan.lowest = 0.6 * plan.output;
      plan.highest = 1.4 * plan.output;
    } else {
      plan.lowest = kLeastMargin;
      plan.highest = plan.output + 0.1;
    }
    relay_.emplace(plan);
  }

  ctl_params params_;
  Loop loop_;
  InProcess inner_;
  double flow_ = 0.0;
  bool started_ = false, danger_ = false, stepped_ = false;
  double step_sum_ = 0.0, step_count_ = 0.0;
  RelayPlan plan_;
  std::vector<double> inputs_, outputs_;
  std::optional<Relay> relay_;
};

RelayExperiment experiment(const scenarios::Case& c, Loop loop, const std::string& point, double local_time,
                           const std::atomic<bool>* interrupted) {
  scenarios::Case calm = settled_at(c, local_time, kSettling);
  calm.scenario.duration = 2.0 * kSettling + 3600.0;
  ctl_params& p = calm.scenario.controller;
  p.detection = 0.0F;  // a command that is not the controller's own looks like a broken shaft
  RelayExperiment e;

  if (loop == Loop::flow)
    e = {"feed flow",
         "speed as flow, kg/s",
         "feed flow, kg/s",
         "flow_gain",
         "flow_integral_time",
         point,
         {},
         {},
         static_cast<double>(p.flow_gain),
         static_cast<double>(p.flow_integral_time)};
  else
    e = {"coke margin",
         "stack current, A",
         "estimated coke margin, V",
         "margin_gain",
         "margin_time",
         point,
         {},
         {},
         static_cast<double>(p.margin_gain),
         static_cast<double>(p.margin_time)};
  RelayLink link(p, loop);
  std::atomic<bool> enough{false};
  LoopOptions options;
  options.interrupted = &enough;
  options.watch = [&](const Snapshot&) {
    if (link.over() || (interrupted != nullptr && interrupted->load(std::memory_order_relaxed)))
      enough = true;
  };
  run_loop(calm, link, options);
  e.plan = link.plan();
  e.result = link.result();
  return e;
}

}  // namespace

scenarios::Case settled_at(const scenarios::Case& c, double local_time_h, double settling) {
  scenarios::Case calm = c;
  auto& s = calm.scenario;
  s.faults.clear();
  s.events.clear();
  s.storms.clear();
  s.vortices.clear();
  s.gusts.clear();
  s.operator_actions.clear();
  s.turbulence = 0.0;
  s.initial.state = scenarios::InitialState::producing;
  s.start.local_time_h = std::fmod(local_time_h - settling / 3600.0 + 24.0, 24.0);
  s.duration = settling + 60.0;
  scenarios::Command production{0.0, CTL_PRODUCTION, 0.0};
  for (const auto& command : c.scenario.commands)
    if (command.mode == CTL_PRODUCTION && production.oxygen_demand == 0.0)
      production.oxygen_demand = command.oxygen_demand;
  s.commands = {production};
  return calm;
}

std::vector<RelayExperiment> relay_experiments(const scenarios::Case& c, const std::atomic<bool>* interrupted,
                                               const std::function<void(double)>& progress) {
  std::vector<scenarios::OperatingPoint> points = c.scenario.tuning.operating_points;
  if (points.empty()) points.push_back({"start", c.scenario.start.local_time_h});
  std::vector<RelayExperiment> all;
  for (const auto& point : points)
    for (const Loop loop : {Loop::flow, Loop::margin}) {
      if (interrupted != nullptr && interrupted->load(std::memory_order_relaxed)) return all;
      auto one = experiment(c, loop, point.name, point.local_time_h, interrupted);
      if (interrupted != nullptr && interrupted->load(std::memory_order_relaxed))
        return all;  // it was cut short
      all.push_back(std::move(one));
      if (progress) progress(static_cast<double>(all.size()) / static_cast<double>(2 * points.size()));
    }
  return all;
}

ctl_params proposed(const ctl_params& params, const std::vector<RelayExperiment>& experiments) {
  ctl_params p = params;
  const auto take = [&](const char* name, float& gain, float& time) {
    const RelayExperiment* careful = nullptr;
    for (const auto& e : experiments)
      if (e.result.good && e.gain_name == name &&
          (careful == nullptr || e.result.proportional < careful->result.proportional))
        careful = &e;
    if (careful == nullptr) return;
    gain = static_cast<float>(careful->result.proportional);
    time = static_cast<float>(careful->result.integral_time);
  };
  take("flow_gain", p.flow_gain, p.flow_integral_time);
  take("margin_gain", p.margin_gain, p.margin_time);
  return p;
}

std::string relay_json(const std::vector<RelayExperiment>& experiments) {
  nlohmann::ordered_json j;
  j["format"] = "duskline-relay/1";
  auto& all = j["experiments"] = nlohmann::ordered_json::array();
  for (const auto& e : experiments) {
    nlohmann::ordered_json x{{"loop", e.loop},
                             {"point", e.point},
                             {"input", e.input},
                             {"output", e.output},
                             {"rest", {{"input", e.plan.input}, {"output", e.plan.output}}},
                             {"steps", {{"up", e.plan.up}, {"down", e.plan.down}}},
                             {"hysteresis", e.plan.hysteresis}};
    const RelayResult& r = e.result;
    if (!r.good) {
      x["error"] = r.error;
    } else {
      x["period_s"] = r.period;
      x["spread_of_periods"] = r.spread;
      x["model"] = {{"gain", r.gain}, {"lag_s", r.lag}, {"delay_s", r.delay}};
      x["ultimate"] = {{"gain", r.ultimate_gain},
                       {"period_s", r.ultimate_period},
                       {"gain_by_describing_function", r.describing_gain}};
      x["proposed"] = {{e.gain_name, r.proportional}, {e.time_name, r.integral_time}};
    }
    x["in_force"] = {{e.gain_name, e.before_gain}, {e.time_name, e.before_time}};
    all.push_back(x);
  }
  return j.dump(2) + "\n";
}

std::string relay_text(const std::vector<RelayExperiment>& experiments) {
  std::string text = "loop         point      period   gain       lag      delay    proposed (in force)\n";
  for (const auto& e : experiments) {
    const RelayResult& r = e.result;
    text += fmt::format("{:<12} {:<10} ", e.loop, e.point);
    if (!r.good) {
      text += r.error + "\n";
      continue;
    }
    text += fmt::format("{:<8} {:<10.3g} {:<8} {:<8} {} {:.3g} ({:.3g}), {} {:.3g} s ({:.3g} s)\n",
                        fmt::format("{:.1f} s", r.period), r.gain, fmt::format("{:.1f} s", r.lag),
                        fmt::format("{:.1f} s", r.delay), e.gain_name, r.proportional, e.before_gain,
                        e.time_name, r.integral_time, e.before_time);
  }
  return text;
}

}  // namespace duskline::harness
