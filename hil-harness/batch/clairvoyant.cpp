#include "hil-harness/batch/clairvoyant.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace duskline::harness {
namespace {

/// What the oracle knows of the plant.
struct Truth {
  double margin = std::nan(""), bus_power = 0.0;
};

/// The shipped controller would take speeds and currents that it did not ask for for faults.
ctl_params undetected(ctl_params params) {
  params.detection = 0.0f;
  return params;
}

class Oracle final : public Link {
 public:
  Oracle(const ctl_params& params, const Truth& truth, double speed, double margin)
      : inner_(undetected(params)), params_(params), truth_(truth), speed_(speed), margin_(margin) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const ctl_status status = inner_.step(in, out);
    if (status != CTL_OK || out.mode != CTL_PRODUCTION) return status;
    constexpr double kGain = 4.0, kRise = 0.02;  // A/V a tick, a fifth of the cells' 0.025 V/A; A a tick
    if (current_ < 0.0) current_ = in.stack_current;
    double change = std::isfinite(truth_.margin) ? kGain * (truth_.margin - margin_) : 0.0;
    if (truth_.bus_power > in.power_ceiling)
      change = std::min(change, -0.002 * (truth_.bus_power - in.power_ceiling));
    const double wanted = in.oxygen_demand * 4.0 * 96485.33212 / (0.0319988 * plant::kCells);
    const double most = std::min<double>(wanted, params_.current_max);
    current_ = std::clamp(current_ + std::min(change, kRise), 0.0, most);
    out.stack_current = static_cast<float>(current_);
    out.compressor_speed = static_cast<float>(speed_);
    return status;
  }

 private:
  InProcess inner_;
  ctl_params params_;
  const Truth& truth_;
  double speed_, margin_, current_ = -1.0;
};

}  // namespace

double Clairvoyant::total() const {
  return std::accumulate(oxygen.begin(), oxygen.end(), 0.0);
}

Clairvoyant clairvoyant(const scenarios::Case& c, double margin, std::span<const double> speeds, double bin) {
  Clairvoyant best;
  best.bin = bin;
  const auto bins = static_cast<std::size_t>(std::ceil(c.scenario.duration / bin));
  best.speed.assign(bins, 0.0);
  best.oxygen.assign(bins, 0.0);
  scenarios::Case every = c;
  every.scenario.record = every.scenario.period;
  for (const double speed : speeds) {
    std::vector<double> made(bins, 0.0);
    Truth truth;
    Oracle oracle(c.scenario.controller, truth, speed, margin);
    LoopOptions options;
    options.record = [&](const Snapshot& s) {
      truth = {s.coke_margin, s.plant.bus_power};
      const auto i = std::min(bins - 1, static_cast<std::size_t>(s.time / bin));
      made[i] += s.plant.oxygen_made * c.scenario.period;
      return true;
    };
    run_loop(every, oracle, options);
    for (std::size_t i = 0; i < bins; ++i)
      if (made[i] > best.oxygen[i]) {
        best.oxygen[i] = made[i];
        best.speed[i] = speed;
      }
  }
  return best;
}

}  // namespace duskline::harness
