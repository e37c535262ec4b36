#include "hil-harness/batch/clairvoyant.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace duskline::harness {
namespace {

/// What the oracle knows of the plant.
struct Truth {
  double margin = std::nan(""), nickel = std::nan(""), bus_power = 0.0;
};

/// The shipped controller would take speeds and currents that it did not ask for for faults.
ctl_params undetected(ctl_params params) {
  params.detection = 0.0f;
  return params;
}

class Oracle final : public Link {
 public:
  Oracle(const ctl_params& params, const Truth& truth, double speed, const KeptMargins& kept)
      : inner_(undetected(params)), params_(params), truth_(truth), speed_(speed), kept_(kept) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const ctl_status status = inner_.step(in, out);
    if (status != CTL_OK || out.mode != CTL_PRODUCTION) return status;
    constexpr double kGain = 4.0, kRise = 0.02;  // A/V a tick, a fifth of the cells' 0.025 V/A; A a tick
    if (current_ < 0.0) current_ = in.stack_current;
    double change = std::isfinite(truth_.margin) ? kGain * (truth_.margin - kept_.coke) : 0.0;
    if (truth_.bus_power > in.power_ceiling)
      change = std::min(change, -0.002 * (truth_.bus_power - in.power_ceiling));
    const double wanted = in.oxygen_demand * 4.0 * 96485.33212 / (0.0319988 * plant::kCells);
    const double most = std::min<double>(wanted, params_.current_max);
    current_ = std::clamp(current_ + std::min(change, kRise), 0.0, most);
    out.stack_current = static_cast<float>(current_);
    out.compressor_speed = static_cast<float>(speed_);
    // the ratio follows the opening by about 8 within the 35 s of the plenum: a tenth of that pace
    constexpr double kOpen = 4e-4;
    if (opening_ < 0.0) opening_ = out.recycle_opening;
    if (std::isfinite(truth_.nickel))
      opening_ = std::clamp(opening_ + kOpen * std::clamp(kept_.nickel - truth_.nickel, -5.0, 5.0), 0.0, 1.0);
    out.recycle_opening = static_cast<float>(opening_);
    return status;
  }

 private:
  InProcess inner_;
  ctl_params params_;
  const Truth& truth_;
  double speed_;
  KeptMargins kept_;
  double current_ = -1.0, opening_ = -1.0;
};

}  // namespace

double Clairvoyant::total() const {
  return std::accumulate(oxygen.begin(), oxygen.end(), 0.0);
}

std::vector<double> clairvoyant_speeds(const scenarios::Case& c, double step) {
  const double most = c.plant.parameters.power.speed_max;
  std::vector<double> speeds;
  for (double speed = most; speed > 0.25 * most; speed -= step) speeds.push_back(speed);
  return speeds;
}

Clairvoyant clairvoyant(const scenarios::Case& c, const KeptMargins& kept, std::span<const double> speeds,
                        double bin, double between) {
  Clairvoyant best;
  best.bin = bin;
  const auto bins = static_cast<std::size_t>(std::ceil(c.scenario.duration / bin));
  best.speed.assign(bins, 0.0);
  best.oxygen.assign(bins, 0.0);
  scenarios::Case every = c;
  every.scenario.record = every.scenario.period;
  // one speed for the whole run; gives the oxygen made
  const auto run_at = [&](double speed) {
    std::vector<double> made(bins, 0.0);
    Truth truth;
    Oracle oracle(c.scenario.controller, truth, speed, kept);
    LoopOptions options;
    options.record = [&](const Snapshot& s) {
      truth = {s.coke_margin, s.plant.min_nickel_ratio, s.plant.bus_power};
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
    return std::accumulate(made.begin(), made.end(), 0.0);
  };
  double most = -1.0, fastest = 0.0;
  const auto try_at = [&](double speed) {
    const double made = run_at(speed);
    if (made > most) most = made, fastest = speed;
  };
  for (const double speed : speeds) try_at(speed);
  constexpr int kHalvings = 4;  // the best speed may lie just below one that trips
  double step = between;
  for (int n = 0; n < kHalvings && between > 0.0; ++n) {
    step *= 0.5;
    const double centre = fastest;
    try_at(centre - step);
    if (fastest == centre) try_at(centre + step);
  }
  return best;
}

}  // namespace duskline::harness
