#include "hil-harness/tune/relay.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace duskline::harness {
namespace {

constexpr double kMostSpread = 0.1;  // of the periods, relative
constexpr double kFewestTicks = 4.0;

}  // namespace

Relay::Relay(const RelayPlan& plan) : plan_(plan) {}

double Relay::step(double time, double output) {
  if (state_ != RelayState::working) return plan_.input;
  if (start_ < 0.0) start_ = time;
  const double sign = plan_.falls ? -1.0 : 1.0, y = sign * (output - plan_.output);
  const bool before = high_;
  if (y > plan_.hysteresis) high_ = false;
  if (y < -plan_.hysteresis) high_ = true;
  if (high_ && !before) rises_.push_back(samples_.size());
  const double input = plan_.input + (high_ ? plan_.up : -plan_.down);
  samples_.push_back({time, input, output});
  if (!(output >= plan_.lowest && output <= plan_.highest)) {
    state_ = RelayState::called_off;
    error_ = fmt::format("the output left its limits ({:.4g} at {:.0f} s)", output, time);
  } else if (rises_.size() > static_cast<std::size_t>(plan_.cycles)) {
    state_ = RelayState::finished;
  } else if (time - start_ > plan_.longest) {
    state_ = RelayState::called_off;
    error_ = fmt::format("{} cycles in {:.0f} s are too few", rises_.size(), plan_.longest);
  }
  return state_ == RelayState::working ? input : plan_.input;
}

Ultimate ultimate_of(double gain, double lag, double delay) {
  double low = 0.0, high = std::numbers::pi / delay;
  for (int i = 0; i < 200; ++i) {
    const double w = 0.5 * (low + high);
    (w * delay + std::atan(w * lag) < std::numbers::pi ? low : high) = w;
  }
  return {std::hypot(1.0, low * lag) / std::abs(gain), 2.0 * std::numbers::pi / low};
}

RelayResult evaluate(const Relay& relay) {
  RelayResult r;
  const RelayPlan& plan = relay.plan();
  if (relay.state() != RelayState::finished) {
    r.error = relay.error().empty() ? "the experiment did not finish" : relay.error();
    return r;
  }
  const auto rises = relay.rises();
  const auto samples = relay.samples();
  const double sign = plan.falls ? -1.0 : 1.0;
  // the first cycle still holds the way there
  const std::size_t first = rises[1], last = rises.back();
  const auto cycles = static_cast<double>(rises.size() - 2);
  r.period = (samples[last].time - samples[first].time) / cycles;
  double shortest = r.period, longest = r.period, sum_y = 0.0, sum_u = 0.0;
  for (std::size_t c = 1; c + 1 < rises.size(); ++c) {
    const double period = samples[rises[c + 1]].time - samples[rises[c]].time;
    shortest = std::min(shortest, period), longest = std::max(longest, period);
    double up = 0.0, down = 0.0;
    for (std::size_t i = rises[c]; i < rises[c + 1]; ++i) {
      const double y = sign * (samples[i].output - plan.output);
      up = std::max(up, y), down = std::max(down, -y);
      sum_y += y;
      sum_u += samples[i].input - plan.input;
    }
    r.peak_up += up / cycles, r.peak_down += down / cycles;
  }
  r.spread = (longest - shortest) / r.period;
  if (r.spread > kMostSpread) {
    r.error = fmt::format("the periods differ by {:.0f} %", 100.0 * r.spread);
    return r;
  }
  const double e = plan.hysteresis, d = 0.5 * (plan.up + plan.down), a = 0.5 * (r.peak_up + r.peak_down);
  if (a > e) r.describing_gain = 4.0 * d / (std::numbers::pi * std::sqrt(a * a - e * e));
  if (r.period < kFewestTicks * plan.tick) {
    r.error = fmt::format("it oscillates at {:.1f} s, as fast as the ticks allow: no model", r.period);
    return r;
  }
  const double k = plan.static_gain > 0.0 ? plan.static_gain : sum_y / sum_u, up = k * plan.up,
               down = k * plan.down;
  const double q = 0.5 * ((up - r.peak_up) / (up - e) + (down - r.peak_down) / (down - e));
  if (!(k > 0.0) || !(up > e) || !(down > e) || !(q > 0.0) || !(q < 1.0)) {
    r.error = "the oscillation is not that of a lag with delay";
    return r;
  }
  r.gain = sign * k;
  r.lag = r.period / (-2.0 * std::log(q) + std::log((r.peak_up + down) / (down - e)) +
                      std::log((r.peak_down + up) / (up - e)));
  r.delay = -r.lag * std::log(q);
  const Ultimate u = ultimate_of(r.gain, r.lag, r.delay);
  r.ultimate_gain = u.gain, r.ultimate_period = u.period;
  r.proportional = r.lag / (2.0 * k * r.delay);
  r.integral_time = std::min(r.lag, 8.0 * r.delay);
  r.good = true;
  return r;
}

}  // namespace duskline::harness
