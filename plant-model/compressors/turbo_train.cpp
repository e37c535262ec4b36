// Intakes with turbo stages: filter, suction node, stages with coolers, duct, shaft and drive.
#include "plant-model/compressors/intake_train.hpp"

namespace duskline::plant {
namespace {

struct Turbo {
  static constexpr IntakeStates states{2.0, -200, 10000, "casing.temperature", 1e-6, 100};
  static constexpr bool kDuct = true;
  static const TrainParameters& drive(const PlantParameters& p) { return p.train; }
  static IntakeShell shell_of(const TrainParameters& t) { return casing_of(t); }

  template <class S>
  static Compressed<S> compress(const Board<S>& b, const IntakeFlows<S>& node, const S& suction,
                                const GasStore<S>& discharge, const S& casing, const S& speed) {
    constexpr double kLeast = 0.02;
    const TrainParameters& t = b.plant().train;
    const TrainSize& size = b.boundary->train;
    const S flow = node.forward - node.backward;
    const TrainResult<S> train =
        turbo_train<S>(size.all(), size.gas, {0.0, t.cooling, t.cooler_loss}, casing, flow, node.pressure,
                       suction, turning(speed, size.speed, kLeast));
    const S friction = bearing_friction(t.friction_torque, t.bearing_wear, speed);
    return {.shaft_load =
                train.work * (node.forward + node.backward) + (friction + t.viscous_friction * speed) * speed,
            .leaving = train.temperature - t.cooling * (train.temperature - casing),
            .shown = train.temperature,
            .ahead = train.pressure,
            .behind = discharge.pressure,
            .surge = train.surge_margin,
            .choke = train.choke_margin};
  }
};

}  // namespace

std::unique_ptr<Part> turbo_intake(Layout& layout, const IntakeTerminals& terminals) {
  return intake_train<Turbo>(layout, terminals);
}

}  // namespace duskline::plant
