// The intake train with a scroll compressor or a bank of them: filter, suction node, compressor with its shell and drive.
#include "plant-model/compressors/scroll.hpp"

#include "plant-model/compressors/intake_flows.hpp"
#include "plant-model/compressors/scroll_bank.hpp"
#include "plant-model/flow/suction.hpp"

namespace duskline::plant {
namespace {

struct OneScroll {
  static constexpr double kMostDust = 10;  // kg
  static const CompressorParameters& machine(const PlantParameters& p) { return p.compressor; }
  static double check_valve_leak(const PlantParameters&) { return 0.0; }
};
struct BankOfScrolls {
  static constexpr double kMostDust = 100;  // kg
  static CompressorParameters machine(const PlantParameters& p) { return as_one(p.compressor, p.bank); }
  static double check_valve_leak(const PlantParameters& p) { return leak_of_standing(p.bank); }
};

template <class Machine>
class ScrollTrain final : public PartOf<ScrollTrain<Machine>> {
 public:
  ScrollTrain(Layout& layout, const IntakeTerminals& terminals)
      : places_{layout.implicit({"compressor.speed", "rad/s", 0.5, -50, 900}),
                layout.implicit({"shell.temperature", "K", 0.05, 100, 1600}),
                layout.slow({"filter.dust", "kg", 1e-7, -1e-9, Machine::kMostDust})},
        terminals_(terminals) {}

  template <class S>
  void flow_on(Board<S>& b) const {
    const CompressorParameters& c = Machine::machine(b.plant());
    const Ambient& air = b.boundary->ambient;
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const GasInflow<S>& recycled = b.into(terminals_.suction);
    const S& speed = b.x[places_.speed];
    const S& shell = b.x[places_.shell];

    const S temperature = air.temperature + b.plant().heat.suction_heating * (shell - air.temperature);
    const Suction<S> s =
        suction_manifold(air.pressure, b.boundary->filter_resistance, air.composition,
                         swept_flow_per_pascal(c, speed, temperature), c.leakage, discharge.pressure,
                         discharge.share, recycled.amount, Machine::check_valve_leak(b.plant()));
    const S work = kGasConstant * temperature * reduced_work(c, discharge.pressure / s.pressure);  // J/mol
    const S adiabatic = temperature + work / dot(s.gas, gas_heat_capacities(temperature));
    const S discharge_temperature = shell + (1.0 - c.cooling) * (adiabatic - shell);

    constexpr double kTwoPi = 6.28318530717958647693;
    const S tau_gas = c.filling * c.displacement / (kTwoPi * kGasConstant) / temperature * s.pressure * work;
    const S tau_friction =
        friction_torque(c, b.plant().variants.friction, S(discharge.pressure - s.pressure), speed);
    const S acceleration = drive_acceleration(c, b.commands.compressor_speed, speed);
    const S shaft_load = (tau_gas + tau_friction) * speed;
    const S power = drive_power(c, shaft_load, acceleration, speed);

    const IntakeFlows<S> flows{s.intake, s.outflow, s.swept, s.leaked, s.pressure, s.gas};
    const IntakeDrive<S> drive{shaft_load, acceleration, power};
    settle_intake(b, terminals_, places_, shell_of(c), flows, drive, discharge_temperature);
    read_intake(b, terminals_, places_, flows, drive, discharge_temperature,
                bearing_tone(c.tone, c.bearing_wear, speed));
  }
  void command(Board<double>& b) const override {
    const CompressorParameters& c = Machine::machine(b.plant());
    command_intake(b, places_, shell_of(c), c);
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += Machine::machine(*p.shared).shell_heat_capacity * x[places_.shell];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[places_.speed] = s.speed;
    x[places_.shell] = s.housing;
  }

 private:
  static IntakeShell shell_of(const CompressorParameters& c) {
    return {c.shell_heat_capacity, c.shell_conductance};
  }

  IntakePlaces places_;
  IntakeTerminals terminals_;
};

}  // namespace

std::unique_ptr<Part> scroll_train(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<ScrollTrain<OneScroll>>(layout, terminals);
}
std::unique_ptr<Part> scroll_bank(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<ScrollTrain<BankOfScrolls>>(layout, terminals);
}

}  // namespace duskline::plant
