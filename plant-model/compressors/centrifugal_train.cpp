// The intake train with geared centrifugal stages: filter, suction node, stages with coolers, duct, shaft and drive.
#include "plant-model/compressors/intake.hpp"
#include "plant-model/compressors/scroll.hpp"
#include "plant-model/compressors/surge.hpp"

namespace duskline::plant {
namespace {

/// What stands at the suction node: filtered air, what is recycled, and gas that comes back through the machine.
template <class S>
struct Node {
  S intake, outflow;    ///< mol/s through the filter, both >= 0
  S forward, backward;  ///< mol/s through the machine, both >= 0
  S pressure;           ///< Pa
  S temperature;        ///< K
  Composition<S> gas;
};

/// Equation     p = p_a - R_f (N - N_rec), kept above a twentieth of p_a; T from the enthalpies that meet
template <class S>
Node<S> suction_node(const Boundary& at, const GasInflow<S>& recycled, const GasStore<S>& discharge,
                     const S& flow) {
  constexpr double kWidth = 1e-6;  // mol/s, at which a flow turns
  const Ambient& air = at.ambient;
  Node<S> n;
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
  n.temperature = temperature_at(n.gas, enthalpy, air.temperature);
  return n;
}

class CentrifugalTrain final : public PartOf<CentrifugalTrain> {
 public:
  CentrifugalTrain(Layout& layout, const IntakeTerminals& terminals)
      : flow_(layout.implicit({"compressor.flow", "mol/s", 1e-5, -5, 5})),
        speed_(layout.implicit({"compressor.speed", "rad/s", 2.0, -200, 10000})),
        casing_(layout.implicit({"casing.temperature", "K", 0.05, 100, 1600})),
        dust_(layout.slow({"filter.dust", "kg", 1e-6, -1e-9, 100})),
        terminals_(terminals) {}

  template <class S>
  void flow_on(Board<S>& b) const {
    const TrainParameters& t = b.plant().train;
    const TrainSize& size = b.boundary->train;
    const Ambient& air = b.boundary->ambient;
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const S& speed = b.x[speed_];
    const S& casing = b.x[casing_];
    const S& flow = b.x[flow_];

    const Node<S> node = suction_node(*b.boundary, b.into(terminals_.suction), discharge, flow);
    const TrainResult<S> train =
        turbo_train<S>(size.all(), size.gas, {0.0, t.cooling, t.cooler_loss}, casing, flow, node.pressure,
                       node.temperature, turning(speed, size.speed));
    const S discharge_temperature = train.temperature - t.cooling * (train.temperature - casing);
    const S discharged = node.forward * dot(node.gas, gas_enthalpies(discharge_temperature));
    Composition<double> air_enthalpies;
    for (std::size_t i = 0; i < kSpecies; ++i) air_enthalpies[i] = enthalpy(kGasFits[i], air.temperature);
    const S lost = node.outflow * dot(node.gas, air_enthalpies);
    const S returned = node.backward * discharge.molar_enthalpy;
    const S taken =
        node.intake * b.boundary->air_enthalpy - lost + b.into(terminals_.suction).enthalpy + returned;

    const S shaft_load =
        train.work * (node.forward + node.backward) +
        (bearing_friction(t.friction_torque, t.bearing_wear, speed) + t.viscous_friction * speed) * speed;
    const S acceleration = drive_acceleration(t, b.commands.compressor_speed, speed);
    const S power = drive_power(t, shaft_load, acceleration, speed);

    GasInflow<S>& to_discharge = b.into(terminals_.discharge);
    GasInflow<S>& across = b.sums.surroundings;
    for (std::size_t i = 0; i < kSpecies; ++i) {
      to_discharge.amount[i] =
          to_discharge.amount[i] + (node.forward * node.gas[i] - node.backward * discharge.share[i]);
      across.amount[i] = across.amount[i] + (node.intake * air.composition[i] - node.outflow * node.gas[i]);
    }
    to_discharge.enthalpy = to_discharge.enthalpy + (discharged - returned);
    across.enthalpy = across.enthalpy + (node.intake * b.boundary->air_enthalpy - lost);
    b.sums.bus = b.sums.bus + power;

    // the casing with its coolers takes all work that is not in the gas
    const S from_casing = t.casing_conductance * (casing - b.at(terminals_.frame));
    b.into(terminals_.frame) = b.into(terminals_.frame) + from_casing;
    b.dx[flow_] =
        duct_acceleration({t.duct_area, t.duct_length}, t.molar_mass, train.pressure, discharge.pressure);
    b.dx[speed_] = acceleration;
    b.dx[casing_] = (power - (discharged - taken) - from_casing) / t.casing_heat_capacity;

    const S intake = (node.intake - node.outflow) * b.boundary->air_molar_mass;  // kg/s
    if constexpr (std::is_same_v<S, double>) {
      const double air_density = density(air.pressure, air.temperature, air.composition);
      b.dslow[dust_] =
          b.plant().filter.efficiency * air.dust_concentration * std::max(0.0, intake) / air_density;
      b.memory->shaft_load = shaft_load;
    }
    for (PlantOutputsOf<S>& out : b.out) {
      out.suction_pressure = node.pressure;
      out.intake_flow = intake;
      out.compressor_power = power;
      out.discharge_temperature = train.temperature;
      out.shaft_load = shaft_load;
      out.filter_dust = b.slow[dust_];
      out.truth.compressor_speed = speed;
      out.truth.compressor_temperature = casing;
      out.truth.filter_differential_pressure = air.pressure - node.pressure;
      out.truth.bearing_vibration = bearing_tone(t.tone, t.bearing_wear, speed);
    }
    if (b.shared == nullptr) return;
    SharedOutputsOf<S>& seen = *b.shared;
    seen.intake_flow = intake;
    seen.compressor_power = power;
    seen.surge_margin = train.surge_margin;
    seen.choke_margin = train.choke_margin;
    seen.truth.filter_differential_pressure = air.pressure - node.pressure;
    seen.truth.suction_pressure = node.pressure;
    seen.truth.compressor_speed = speed;
    seen.truth.compressor_flow = flow * molar_mass(node.gas);
    seen.truth.discharge_pressure = discharge.pressure;
    seen.truth.discharge_temperature = train.temperature;
    seen.truth.compressor_vibration = bearing_tone(t.tone, t.bearing_wear, speed);
  }

  /// As the scroll: the power follows the torque of acceleration.
  void command(Board<double>& b) const override {
    const TrainParameters& t = b.plant().train;
    const double speed = b.x[speed_], load = b.memory->shaft_load;
    const double before = b.dx[speed_], now = drive_acceleration(t, b.commands.compressor_speed, speed);
    const double change = drive_power(t, load, now, speed) - drive_power(t, load, before, speed);
    b.dx[speed_] = now;
    b.dx[casing_] += change / t.casing_heat_capacity;
    b.dq[at::energy] += change;
    b.dq[at::bus_energy] += change;
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += p.shared->train.casing_heat_capacity * x[casing_];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[flow_] = s.flow;
    x[speed_] = s.speed;
    x[casing_] = s.housing;
  }

 private:
  /// The similarity numbers need a speed; at rest the stages are taken as turning at a fiftieth of the design speed.
  template <class S>
  static S turning(const S& speed, double design) {
    constexpr double kLeast = 0.02;
    return sqrt(speed * speed + kLeast * kLeast * design * design);
  }

  std::size_t flow_, speed_, casing_, dust_;
  IntakeTerminals terminals_;
};

}  // namespace

std::unique_ptr<Part> centrifugal_train(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<CentrifugalTrain>(layout, terminals);
}

}  // namespace duskline::plant
