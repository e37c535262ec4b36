// The surge guard alone, and at a train of nine stages with its duct, the volume behind it and the recycle valve.
#include "controller/laws/surge_guard.hpp"

#include <catch2/catch.hpp>
#include <limits>
#include <vector>

#include "plant-model/compressors/centrifugal.hpp"
#include "plant-model/compressors/surge.hpp"
#include "plant-model/flow/control_valve.hpp"

using namespace duskline;
using controller::guard_surge;
using controller::SurgeGuard;
using controller::SurgeGuardSettings;

namespace {

constexpr float kPeriod = 0.1F;  // s
constexpr int kParts = 100;
constexpr double kMass = 0.0440095, kExponent = 1.3;

/// A train of nine geared stages of 250 m/s (tests/reference/turbo_test.cpp) at fixed speed; the consumer's valve closes.
class Train {
 public:
  Train() {
    plant::TurboStage like;
    like.surge_flow = 0.06, like.design_flow = 0.08, like.throat = 0.2;
    like.shutoff_head = 0.471, like.head_height = 0.0245;  // 0.52 at the peak, 0.50 at the design flow
    like.efficiency = 0.8, like.efficiency_fall = 0.5;
    design_ = {.gas = {kMass, kExponent, 1.2177e-5},
               .between = {.coolant = 300.0, .cooling = 1.0},
               .like = like,
               .flow = 0.104,
               .pressure = 700.0,
               .temperature = 240.0,
               .blade_speed = 250.0};
    speed_ = plant::size_train(design_, stages_);
    flow_ = design_.flow;
    pressure_ = at(flow_).pressure;
    // both valves pass the design flow, the recycle twice the flow at surge (0.75 of it)
    consumer_.choke_ratio = recycle_.choke_ratio = 0.7;
    consumer_.rangeability = recycle_.rangeability = 0.0;  // linear
    consumer_.capacity =
        plant::capacity_for(consumer_, kExponent, kMass, design_.flow * kMass, pressure_, 300.0, 40e3);
    recycle_.capacity =
        plant::capacity_for(recycle_, kExponent, kMass, 1.5 * design_.flow * kMass, pressure_, 300.0, 700.0);
  }
  /// A part of a control period. The flow follows within milliseconds: linearly implicit where that is stable.
  void move(double consumer, double recycle) {
    constexpr double kStep = static_cast<double>(kPeriod) / kParts, kVolume = 0.1;  // s, m3
    const plant::SurgeDuct duct{.area = 2.5e-4, .length = 10.0};
    const plant::Dual<1> rate = plant::duct_acceleration(duct, kMass, at(plant::Dual<1>(flow_, 0)).pressure,
                                                         plant::Dual<1>(pressure_));
    flow_ += kStep * rate.value / (1.0 - kStep * std::min(rate.slope[0], 0.0));
    taken_ = valve(consumer_, consumer, pressure_, 40e3);
    const double back = valve(recycle_, recycle, pressure_, 700.0);
    pressure_ += kStep * plant::kGasConstant * 300.0 / kVolume * (flow_ - taken_ - back);
  }
  double margin() const { return at(flow_).surge_margin; }
  double flow() const { return flow_ / design_.flow; }
  double taken() const { return taken_ / design_.flow; }

 private:
  template <class S>
  plant::TrainResult<S> at(const S& flow) const {
    return plant::turbo_train<S>(stages_, design_.gas, design_.between, flow, S(design_.pressure),
                                 S(design_.temperature), S(speed_));
  }
  static double valve(const plant::ControlValve& v, double travel, double p1, double p2) {
    return plant::valve_flow(v, kExponent, travel, p1, 300.0, kMass, p2, 300.0, kMass);
  }

  plant::CentrifugalDesign design_;
  std::vector<plant::TurboStage> stages_ = std::vector<plant::TurboStage>(9);
  double speed_{}, flow_{}, pressure_{}, taken_{};
  plant::ControlValve consumer_, recycle_;
};

struct Outcome {
  double least_margin = 1e9, last_margin{}, taken{}, opening{};
  int reversals = 0;
  bool trip = false;
};
/// The consumer goes from all to `share` of its opening over 30 s; 4 min in all.
Outcome turn_down(double share, bool guarded) {
  Train train;
  SurgeGuard guard;
  Outcome o;
  bool reversed = false;
  for (int tick = 0; tick < 2400; ++tick) {
    const double t = tick * static_cast<double>(kPeriod);
    const double margin = train.margin();
    const float asked = guard_surge(guard, SurgeGuardSettings{}, static_cast<float>(margin), 0.0F, kPeriod);
    o.opening = guarded ? static_cast<double>(asked) : 0.0;
    for (int k = 0; k < kParts; ++k) {
      train.move(1.0 + (share - 1.0) * std::min(t / 30.0, 1.0), o.opening);
      o.least_margin = std::min(o.least_margin, train.margin());
      o.reversals += train.flow() < 0.0 && !reversed ? 1 : 0;
      reversed = train.flow() < 0.0;
    }
  }
  o.last_margin = train.margin(), o.taken = train.taken(), o.trip = guard.trip;
  return o;
}

}  // namespace

TEST_CASE("A train that is turned down surges without the guard, and does not with it") {
  const Outcome free = turn_down(0.4, false);
  CHECK(free.reversals >= 2);
  CHECK(free.trip);  // the guard that was not connected counted them
  const Outcome guarded = turn_down(0.4, true);
  const SurgeGuardSettings s;
  CHECK(guarded.reversals == 0);
  CHECK_FALSE(guarded.trip);
  CHECK(guarded.least_margin > static_cast<double>(s.open_line));
  CHECK(guarded.last_margin ==
        Approx(static_cast<double>(s.control_line)).margin(0.01));  // the PI holds its line
  CHECK(guarded.opening > 0.1);
  CHECK(guarded.opening < 0.9);
  // where the machine is far from surge the valve stays shut
  const Outcome light = turn_down(0.95, true);
  CHECK(light.opening == 0.0);
  CHECK(light.least_margin > static_cast<double>(s.control_line));
}

TEST_CASE("The guard opens at once, closes slowly, and opens where it sees nothing") {
  const SurgeGuardSettings s;
  SurgeGuard g;
  for (int n = 0; n < 100; ++n) CHECK(guard_surge(g, s, 0.3F, 0.0F, kPeriod) == 0.0F);
  CHECK(guard_surge(g, s, 0.03F, 0.0F, kPeriod) == 1.0F);
  float before = 1.0F;
  for (int n = 0; n < 290; ++n) {
    const float opening = guard_surge(g, s, 0.3F, 0.0F, kPeriod);
    CHECK(before - opening <= kPeriod / s.close_time * 1.001F);
    before = opening;
  }
  CHECK(before < 0.05F);  // closed after 30 s, give or take
  CHECK(guard_surge(g, s, std::numeric_limits<float>::quiet_NaN(), 0.0F, kPeriod) == 1.0F);
  CHECK_FALSE(g.trip);
}

TEST_CASE("Two surges within the window trip, two that are far apart do not, each moves the line") {
  const SurgeGuardSettings s;
  const auto surge = [&](SurgeGuard& g) {
    for (const float margin : {0.0F, -0.6F, -1.2F, -0.6F, 0.1F}) guard_surge(g, s, margin, 0.0F, kPeriod);
  };
  SurgeGuard close;
  surge(close);
  CHECK_FALSE(close.trip);
  CHECK(close.shift == s.shift);
  surge(close);
  CHECK(close.trip);
  CHECK(guard_surge(close, s, 0.5F, 0.0F, kPeriod) == 1.0F);  // stays open
  SurgeGuard far;
  for (int n = 0; n < 5; ++n) {
    surge(far);
    for (int k = 0; k < 3010; ++k) guard_surge(far, s, 0.3F, 0.0F, kPeriod);
  }
  CHECK_FALSE(far.trip);
  CHECK(far.shift == s.shift_max);
}
