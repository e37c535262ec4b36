#include "hil-harness/links/module_loop.hpp"

#include <algorithm>
#include <cmath>

#include "plant-model/gas/constants.hpp"
#include "plant-model/gas/species.hpp"
#include "plant-model/state.hpp"

namespace duskline::harness {
namespace {

using plant::kFaraday;
constexpr double kTemperature = 1073.15, kHot = 1040.0, kReady = 1060.0, kCold = 400.0;  // K
constexpr double kLeast = 0.06;        // of the rated current: it protects the nickel
constexpr double kUtilisation = 0.46;  // of the feed
constexpr double kLeastFeed = 0.12;    // of the rated one
constexpr double kRamp = 0.05;         // A/s

struct Zones {
  double mean, coldest;
};
/// Without a thermometer the set-point has to do.
Zones zones_of(const ctl_inputs& in) {
  double sum = 0.0, coldest = 1e9;
  int count = 0;
  for (const float t : in.zone_temperature) {
    if (!std::isfinite(t)) continue;
    sum += static_cast<double>(t);
    coldest = std::min(coldest, static_cast<double>(t));
    ++count;
  }
  return count > 0 ? Zones{sum / count, coldest} : Zones{kTemperature, kTemperature};
}

double known(float reading, double otherwise) {
  return std::isfinite(reading) ? static_cast<double>(reading) : otherwise;
}

}  // namespace

ModuleLoop::ModuleLoop(const plant::PlantParameters& p, double opening, double period)
    : period_(period),
      cells_(static_cast<double>(plant::kCells) * p.stack.repeats),
      rated_current_(plant::kRatedCurrent * p.power.current_max),
      preheating_(0.25 * p.heat.preheater_max),
      heat_{60.0, 600.0, p.heat.end_heater_max, 200.0},
      feed_{300.0, 3.0, 1.0, opening} {}

double ModuleLoop::Pi::operator()(double error, double period) {
  const double asked = integral + gain * error, given = std::clamp(asked, 0.0, upper);
  if (asked == given || (asked - given) * error < 0.0) integral += gain / integral_time * error * period;
  return given;
}

void ModuleLoop::take_over(const ctl_inputs& in) {
  first_ = false;
  current_ = std::max(0.0, known(in.stack_current, 0.0));
  if (zones_of(in).coldest < kHot)
    mode_ = CTL_OFF;
  else
    mode_ = current_ > 2.0 * kLeast * rated_current_ ? CTL_PRODUCTION : CTL_STANDBY;
}

void ModuleLoop::change_mode(const ctl_inputs& in, double coldest) {
  const std::uint32_t asked = in.requested_mode;
  const bool on = asked == CTL_STANDBY || asked == CTL_PRODUCTION;
  if (asked == CTL_SAFE)
    mode_ = CTL_SAFE;
  else if (!on)
    mode_ = coldest > kCold ? CTL_COOL_DOWN : CTL_OFF;
  else if (mode_ == CTL_OFF || mode_ == CTL_COOL_DOWN || mode_ == CTL_SAFE || coldest < kHot)
    mode_ = coldest > kReady ? CTL_STANDBY : CTL_WARM_UP;
  else if (mode_ == CTL_WARM_UP)
    mode_ = coldest > kReady ? CTL_STANDBY : CTL_WARM_UP;
  else
    mode_ = asked;
}

ctl_status ModuleLoop::step(const ctl_inputs& in, ctl_outputs& out) {
  if (first_) take_over(in);
  const Zones zones = zones_of(in);
  change_mode(in, zones.coldest);
  const bool flows = mode_ != CTL_OFF && mode_ != CTL_SAFE && zones.coldest > kCold;
  const bool protects = flows && zones.coldest > 870.0;
  const bool heats = mode_ == CTL_WARM_UP || mode_ == CTL_STANDBY || mode_ == CTL_PRODUCTION;
  const double by_oxygen =
      4.0 * kFaraday / (cells_ * plant::kMolarMass[plant::O2]);  // A for 1 kg/s of oxygen

  double asked = protects ? kLeast * rated_current_ : 0.0;
  if (mode_ == CTL_PRODUCTION) asked = std::max(asked, known(in.oxygen_demand, 0.0) * by_oxygen);
  asked = mode_ == CTL_SAFE ? 0.0 : std::clamp(asked, current_ - kRamp * period_, current_ + kRamp * period_);
  current_ = asked;

  const auto feed_for = [&](double current) {
    return current * cells_ * plant::kMolarMass[plant::CO2] / (2.0 * kFaraday * kUtilisation);
  };
  const double wanted = flows ? std::max(kLeastFeed * feed_for(rated_current_), feed_for(current_)) : 0.0;
  const double heat = heats ? heat_(kTemperature - zones.mean, period_) : 0.0;

  out = ctl_outputs{};
  out.mode = mode_;
  out.limiter = mode_ == CTL_PRODUCTION ? CTL_BY_DEMAND : CTL_BY_NOTHING;
  out.stack_current = static_cast<float>(current_);
  for (float& end : out.end_power) end = static_cast<float>(heat);
  out.preheater_power = static_cast<float>(flows ? preheating_ : 0.0);
  out.recycle_opening =
      static_cast<float>(flows ? feed_(wanted - known(in.feed_flow, wanted), period_) : 0.0);
  out.feed_setpoint = static_cast<float>(wanted);
  out.temperature_setpoint = static_cast<float>(kTemperature);
  out.oxygen_rate = static_cast<float>(current_ / by_oxygen);
  out.coke_margin = static_cast<float>(kAssumedMargin);
  out.coke_sigma = static_cast<float>(kAssumedSigma);
  return CTL_OK;
}

}  // namespace duskline::harness
