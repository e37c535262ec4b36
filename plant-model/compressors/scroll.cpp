// The intake with a scroll compressor or a bank of them: filter, suction node, compressor with its shell and drive.
#include "plant-model/compressors/scroll.hpp"

#include "plant-model/compressors/intake_train.hpp"
#include "plant-model/compressors/scroll_bank.hpp"
#include "plant-model/flow/suction.hpp"

namespace duskline::plant {
namespace {

struct OneScroll {
  static constexpr double kMostDust = 10;  // kg
  static const CompressorParameters& drive(const PlantParameters& p) { return p.compressor; }
  static double check_valve_leak(const PlantParameters&) { return 0.0; }
};
struct BankOfScrolls {
  static constexpr double kMostDust = 100;  // kg
  static CompressorParameters drive(const PlantParameters& p) { return as_one(p.compressor, p.bank); }
  static double check_valve_leak(const PlantParameters& p) { return leak_of_standing(p.bank); }
};

template <class Machines>
struct Scrolls : Machines {
  static constexpr IntakeStates states{0.5, -50, 900, "shell.temperature", 1e-7, Machines::kMostDust};
  static constexpr bool kDuct = false;
  static IntakeShell shell_of(const CompressorParameters& c) {
    return {c.shell_heat_capacity, c.shell_conductance};
  }

  template <class S>
  static Compressed<S> compress(const Board<S>& b, const GasInflow<S>& recycled, const GasStore<S>& discharge,
                                const S& shell, const S& speed, IntakeFlows<S>& flows) {
    const CompressorParameters& c = Machines::drive(b.plant());
    const Ambient& air = b.boundary->ambient;
    const S temperature = air.temperature + b.plant().heat.suction_heating * (shell - air.temperature);
    const Suction<S> s =
        suction_manifold(air.pressure, b.boundary->filter_resistance, air.composition,
                         swept_flow_per_pascal(c, speed, temperature), c.leakage, discharge.pressure,
                         discharge.share, recycled.amount, Machines::check_valve_leak(b.plant()));
    flows = {s.intake, s.outflow, s.swept, s.leaked, s.pressure, s.gas};
    const S work = kGasConstant * temperature * reduced_work(c, discharge.pressure / s.pressure);  // J/mol
    const S adiabatic = temperature + work / dot(s.gas, gas_heat_capacities(temperature));
    const S leaving = shell + (1.0 - c.cooling) * (adiabatic - shell);

    constexpr double kTwoPi = 6.28318530717958647693;
    const S tau_gas = c.filling * c.displacement / (kTwoPi * kGasConstant) / temperature * s.pressure * work;
    const S tau_friction =
        friction_torque(c, b.plant().variants.friction, S(discharge.pressure - s.pressure), speed);
    return {.shaft_load = (tau_gas + tau_friction) * speed,
            .leaving = leaving,
            .shown = leaving,
            .ahead = s.pressure,
            .behind = s.pressure};
  }
};

}  // namespace

std::unique_ptr<Part> scroll_train(Layout& layout, const IntakeTerminals& terminals) {
  return intake_train<Scrolls<OneScroll>>(layout, terminals);
}
std::unique_ptr<Part> scroll_bank(Layout& layout, const IntakeTerminals& terminals) {
  return intake_train<Scrolls<BankOfScrolls>>(layout, terminals);
}

}  // namespace duskline::plant
