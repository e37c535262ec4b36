// The intake with lobe blowers in series: filter, suction node, duct, stages with coolers, shaft and drive.
//
// Equation     from the feed header backwards: the pressure before each stage from that behind it and the flow (lobe.hpp);
//              dN/dt = A/(L M) (p_suction - p_1); power = sum V n (p2 - p1)/eta
// Symbols      N [mol/s] flow, a state; p_1 [Pa] before the first stage; A [m2], L [m] duct
// Validity     the machine turns; each cooler brings the gas to the temperature of the casing
// Left out     gas between the stages, pressure that coolers cost, backflow through a machine that stands (a thousandth
//              of the design speed is the least, so that a pressure belongs to each flow)
#include "plant-model/compressors/intake_train.hpp"
#include "plant-model/compressors/lobe.hpp"

namespace duskline::plant {
namespace {

struct Lobes {
  static constexpr IntakeStates states{0.2, -50, 2000, "casing.temperature", 1e-6, 100};
  static constexpr bool kDuct = true;
  static const LobeParameters& drive(const PlantParameters& p) { return p.lobe; }
  static IntakeShell shell_of(const LobeParameters& l) { return casing_of(l); }

  template <class S>
  static Compressed<S> compress(const Board<S>& b, const IntakeFlows<S>& node, const S& suction,
                                const GasStore<S>& discharge, const S& casing, const S& speed) {
    constexpr double kTwoPi = 6.28318530717958647693, kLeast = 1e-3;
    const LobeParameters& l = b.plant().lobe;
    const LobeSize& size = b.boundary->lobe;
    const S turns = turning(speed, l.design_speed, kLeast);
    S behind = discharge.pressure, work = S(0.0), hottest = casing;
    for (std::size_t i = size.count; i-- > 0;) {
      const LobeStage& stage = size.stages[i];
      const S& T = i == 0 ? suction : casing;
      const S swept = turns * (stage.displacement / kTwoPi);
      const S before = lobe_inlet_pressure(stage, node.forward, T, behind, swept);
      const LobeResult<S> r = lobe_stage(stage, l.isentropic_exponent, before, T, behind, turns);
      work = work + r.power;
      if (value_of(r.temperature) > value_of(hottest)) hottest = r.temperature;
      behind = before;
    }
    return {.shaft_load = work + bearing_friction(l.friction_torque, l.bearing_wear, speed) * speed,
            .leaving = casing,
            .shown = hottest,
            .ahead = node.pressure,
            .behind = behind};
  }
};

}  // namespace

std::unique_ptr<Part> lobe_train(Layout& layout, const IntakeTerminals& terminals) {
  return intake_train<Lobes>(layout, terminals);
}

}  // namespace duskline::plant
