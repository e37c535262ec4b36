// The intake train with geared centrifugal stages: filter, suction node, stages with coolers, duct, shaft and drive.
#include "plant-model/compressors/intake_flows.hpp"
#include "plant-model/compressors/surge.hpp"

namespace duskline::plant {
namespace {

class CentrifugalTrain final : public PartOf<CentrifugalTrain> {
 public:
  CentrifugalTrain(Layout& layout, const IntakeTerminals& terminals)
      : flow_(layout.implicit({"compressor.flow", "mol/s", 1e-5, -5, 5})),
        places_{layout.implicit({"compressor.speed", "rad/s", 2.0, -200, 10000}),
                layout.implicit({"casing.temperature", "K", 0.05, 100, 1600}),
                layout.slow({"filter.dust", "kg", 1e-6, -1e-9, 100})},
        terminals_(terminals) {}

  template <class S>
  void flow_on(Board<S>& b) const {
    const TrainParameters& t = b.plant().train;
    const TrainSize& size = b.boundary->train;
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const S& speed = b.x[places_.speed];
    const S& casing = b.x[places_.shell];
    const S& flow = b.x[flow_];

    S temperature;  // K, at the suction
    const IntakeFlows<S> node =
        suction_node(*b.boundary, b.into(terminals_.suction), discharge, flow, temperature);
    const TrainResult<S> train = turbo_train<S>(size.all(), size.gas, {0.0, t.cooling, t.cooler_loss}, casing,
                                                flow, node.pressure, temperature, turning(speed, size.speed));
    const S discharge_temperature = train.temperature - t.cooling * (train.temperature - casing);

    const S shaft_load =
        train.work * (node.forward + node.backward) +
        (bearing_friction(t.friction_torque, t.bearing_wear, speed) + t.viscous_friction * speed) * speed;
    const S acceleration = drive_acceleration(t, b.commands.compressor_speed, speed);
    const S power = drive_power(t, shaft_load, acceleration, speed);

    const IntakeDrive<S> drive{shaft_load, acceleration, power};
    const S tone = bearing_tone(t.tone, t.bearing_wear, speed);
    settle_intake(b, terminals_, places_, shell_of(t), node, drive, discharge_temperature);
    b.dx[flow_] =
        duct_acceleration({t.duct_area, t.duct_length}, t.molar_mass, train.pressure, discharge.pressure);
    read_intake(b, terminals_, places_, node, drive, train.temperature, tone);
    if (b.shared == nullptr) return;
    b.shared->surge_margin = train.surge_margin;
    b.shared->choke_margin = train.choke_margin;
  }

  void command(Board<double>& b) const override {
    const TrainParameters& t = b.plant().train;
    command_intake(b, places_, shell_of(t), t);
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += p.shared->train.casing_heat_capacity * x[places_.shell];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[flow_] = s.flow;
    x[places_.speed] = s.speed;
    x[places_.shell] = s.housing;
  }

 private:
  static IntakeShell shell_of(const TrainParameters& t) {
    return {t.casing_heat_capacity, t.casing_conductance};
  }

  /// The similarity numbers need a speed; at rest the stages are taken as turning at a fiftieth of the design speed.
  template <class S>
  static S turning(const S& speed, double design) {
    constexpr double kLeast = 0.02;
    return sqrt(speed * speed + kLeast * kLeast * design * design);
  }

  std::size_t flow_;
  IntakePlaces places_;
  IntakeTerminals terminals_;
};

}  // namespace

std::unique_ptr<Part> centrifugal_train(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<CentrifugalTrain>(layout, terminals);
}

}  // namespace duskline::plant
