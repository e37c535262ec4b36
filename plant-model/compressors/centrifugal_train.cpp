// The intake train with geared centrifugal stages: filter, suction node, stages with coolers, duct, shaft and drive.
#include "plant-model/compressors/intake_flows.hpp"
#include "plant-model/compressors/surge.hpp"

namespace duskline::plant {
namespace {

/// What stands at the suction node: filtered air, what is recycled, and gas that comes back through the machine.
/// Equation     p = p_a - R_f (N - N_rec), kept above a twentieth of p_a; T from the enthalpies that meet
template <class S>
IntakeFlows<S> suction_node(const Boundary& at, const GasInflow<S>& recycled, const GasStore<S>& discharge,
                            const S& flow, S& temperature) {
  constexpr double kWidth = 1e-6;  // mol/s, at which a flow turns
  const Ambient& air = at.ambient;
  IntakeFlows<S> n;
  n.forward = positive_part(flow, kWidth);
  n.backward = n.forward - flow;
  const S recycle = total(recycled.amount);
  const S net = flow - recycle;
  n.intake = positive_part(net, kWidth);
  // intake - net, written so that what comes in leaves to the last bit
  const S inflow = n.intake + recycle + n.backward;
  n.outflow = inflow - n.forward;
  constexpr double kLeast = 0.05, kBend = 0.02;  // of the ambient pressure
  n.pressure =
      air.pressure *
      (kLeast + positive_part(S((1.0 - kLeast) - net * (at.filter_resistance / air.pressure)), kBend));
  const S per_inflow = 1.0 / inflow;
  for (std::size_t i = 0; i < kSpecies; ++i)
    n.gas[i] =
        (n.intake * air.composition[i] + recycled.amount[i] + n.backward * discharge.share[i]) * per_inflow;
  const S enthalpy =
      (n.intake * at.air_enthalpy + recycled.enthalpy + n.backward * discharge.molar_enthalpy) * per_inflow;
  temperature = temperature_at(n.gas, enthalpy, air.temperature);
  return n;
}

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
    const Ambient& air = b.boundary->ambient;
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
    read_intake(b, places_, node, drive, train.temperature, tone);
    if (b.shared == nullptr) return;
    SharedOutputsOf<S>& seen = *b.shared;
    seen.intake_flow = (node.intake - node.outflow) * b.boundary->air_molar_mass;
    seen.compressor_power = power;
    seen.surge_margin = train.surge_margin;
    seen.choke_margin = train.choke_margin;
    seen.truth.filter_differential_pressure = air.pressure - node.pressure;
    seen.truth.suction_pressure = node.pressure;
    seen.truth.compressor_speed = speed;
    seen.truth.compressor_flow = flow * molar_mass(node.gas);
    seen.truth.discharge_pressure = discharge.pressure;
    seen.truth.discharge_temperature = train.temperature;
    seen.truth.compressor_vibration = tone;
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
