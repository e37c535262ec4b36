// The intake train with lobe blowers in series: filter, suction node, duct, stages with coolers, shaft and drive.
//
// Equation     from the feed header backwards: the pressure before each stage from that behind it and the flow (lobe.hpp);
//              dN/dt = A/(L M) (p_suction - p_1); power = sum V n (p2 - p1)/eta
// Symbols      N [mol/s] flow, a state; p_1 [Pa] before the first stage; A [m2], L [m] duct
// Validity     the machine turns; each cooler brings the gas to the temperature of the casing
// Left out     gas between the stages, pressure that coolers cost, backflow through a machine that stands (a thousandth
//              of the design speed is the least, so that a pressure belongs to each flow)
#include "plant-model/compressors/intake_flows.hpp"
#include "plant-model/compressors/lobe.hpp"
#include "plant-model/compressors/surge.hpp"

namespace duskline::plant {
namespace {

template <class S>
struct LobeChain {
  S before;   // Pa, before the first stage
  S work;     // W, of the shaft
  S hottest;  // K, behind any stage
};

class LobeTrain final : public PartOf<LobeTrain> {
 public:
  LobeTrain(Layout& layout, const IntakeTerminals& terminals)
      : flow_(layout.implicit({"compressor.flow", "mol/s", 1e-5, -5, 5})),
        places_{layout.implicit({"compressor.speed", "rad/s", 0.2, -50, 2000}),
                layout.implicit({"casing.temperature", "K", 0.05, 100, 1600}),
                layout.slow({"filter.dust", "kg", 1e-6, -1e-9, 100})},
        terminals_(terminals) {}

  template <class S>
  void flow_on(Board<S>& b) const {
    const LobeParameters& l = b.plant().lobe;
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const S& speed = b.x[places_.speed];
    const S& casing = b.x[places_.shell];
    const S& flow = b.x[flow_];

    S temperature;  // K, at the suction
    const IntakeFlows<S> node =
        suction_node(*b.boundary, b.into(terminals_.suction), discharge, flow, temperature);
    const LobeChain<S> chain = through(l, b.boundary->lobe, node.forward, temperature, casing,
                                       discharge.pressure, turning(speed, l.design_speed));
    const S shaft_load = chain.work + bearing_friction(l.friction_torque, l.bearing_wear, speed) * speed;
    const S acceleration = drive_acceleration(l, b.commands.compressor_speed, speed);
    const IntakeDrive<S> drive{shaft_load, acceleration, drive_power(l, shaft_load, acceleration, speed)};
    settle_intake(b, terminals_, places_, shell_of(l), node, drive, casing);
    b.dx[flow_] = duct_acceleration({l.duct_area, l.duct_length}, b.boundary->air_molar_mass, node.pressure,
                                    chain.before);
    read_intake(b, terminals_, places_, node, drive, chain.hottest,
                bearing_tone(l.tone, l.bearing_wear, speed));
  }

  void command(Board<double>& b) const override {
    const LobeParameters& l = b.plant().lobe;
    command_intake(b, places_, shell_of(l), l);
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += p.shared->lobe.casing_heat_capacity * x[places_.shell];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[flow_] = s.flow;
    x[places_.speed] = s.speed;
    x[places_.shell] = s.housing;
  }

 private:
  static IntakeShell shell_of(const LobeParameters& l) {
    return {l.casing_heat_capacity, l.casing_conductance};
  }

  template <class S>
  static S turning(const S& speed, double design) {
    constexpr double kLeast = 1e-3;
    return sqrt(speed * speed + kLeast * kLeast * design * design);
  }

  template <class S>
  static LobeChain<S> through(const LobeParameters& l, const LobeSize& size, const S& flow,
                              const S& suction_temperature, const S& casing, const S& behind,
                              const S& speed) {
    constexpr double kTwoPi = 6.28318530717958647693;
    LobeChain<S> chain{behind, S(0.0), casing};
    for (std::size_t i = size.count; i-- > 0;) {
      const LobeStage& stage = size.stages[i];
      const S& T = i == 0 ? suction_temperature : casing;
      const S swept = speed * (stage.displacement / kTwoPi);
      const S before = lobe_inlet_pressure(stage, flow, T, chain.before, swept);
      const LobeResult<S> r = lobe_stage(stage, l.isentropic_exponent, before, T, chain.before, speed);
      chain.work = chain.work + r.power;
      if (value_of(r.temperature) > value_of(chain.hottest)) chain.hottest = r.temperature;
      chain.before = before;
    }
    return chain;
  }

  std::size_t flow_;
  IntakePlaces places_;
  IntakeTerminals terminals_;
};

}  // namespace

std::unique_ptr<Part> lobe_train(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<LobeTrain>(layout, terminals);
}

}  // namespace duskline::plant
