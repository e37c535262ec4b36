// The intake train with a scroll compressor: filter, suction node, compressor with its shell and drive.
#include "plant-model/compressors/scroll.hpp"

#include "plant-model/compressors/intake.hpp"
#include "plant-model/flow/suction.hpp"

namespace duskline::plant {
namespace {

class ScrollTrain final : public PartOf<ScrollTrain> {
 public:
  ScrollTrain(Layout& layout, const IntakeTerminals& terminals)
      : speed_(layout.implicit({"compressor.speed", "rad/s", 0.5, -50, 900})),
        shell_(layout.implicit({"shell.temperature", "K", 0.05, 100, 1600})),
        dust_(layout.slow({"filter.dust", "kg", 1e-7, -1e-9, 10})),
        terminals_(terminals) {}

  template <class S>
  void flow_on(Board<S>& b) const {
    const CompressorParameters& c = b.plant().compressor;
    const Ambient& air = b.boundary->ambient;
    const GasStore<S>& discharge = b.at(terminals_.discharge);
    const GasInflow<S>& recycled = b.into(terminals_.suction);
    const S& speed = b.x[speed_];
    const S& shell = b.x[shell_];

    const S temperature = air.temperature + b.plant().heat.suction_heating * (shell - air.temperature);
    const Suction<S> s = suction_manifold(air.pressure, b.boundary->filter_resistance, air.composition,
                                          swept_flow_per_pascal(c, speed, temperature), c.leakage,
                                          discharge.pressure, discharge.share, recycled.amount);
    const S work = kGasConstant * temperature * reduced_work(c, discharge.pressure / s.pressure);  // J/mol
    const S adiabatic = temperature + work / dot(s.gas, gas_heat_capacities(temperature));
    const S discharge_temperature = shell + (1.0 - c.cooling) * (adiabatic - shell);
    const S discharged = s.swept * dot(s.gas, gas_enthalpies(discharge_temperature));
    Composition<double> air_enthalpies;
    for (std::size_t i = 0; i < kSpecies; ++i) air_enthalpies[i] = enthalpy(kGasFits[i], air.temperature);
    const S lost = s.outflow * dot(s.gas, air_enthalpies);  // gas that flows back through the filter
    const S leaked = s.leaked * discharge.molar_enthalpy;
    const S taken = s.intake * b.boundary->air_enthalpy - lost + recycled.enthalpy + leaked;

    constexpr double kTwoPi = 6.28318530717958647693;
    const S tau_gas = c.filling * c.displacement / (kTwoPi * kGasConstant) / temperature * s.pressure * work;
    const S tau_friction =
        friction_torque(c, b.plant().variants.friction, S(discharge.pressure - s.pressure), speed);
    const S acceleration = drive_acceleration(c, b.commands.compressor_speed, speed);
    const S shaft_load = (tau_gas + tau_friction) * speed;
    const S power = drive_power(c, shaft_load, acceleration, speed);

    GasInflow<S>& to_discharge = b.into(terminals_.discharge);
    GasInflow<S>& across = b.sums.surroundings;
    for (std::size_t i = 0; i < kSpecies; ++i) {
      to_discharge.amount[i] = to_discharge.amount[i] + (s.swept * s.gas[i] - s.leaked * discharge.share[i]);
      across.amount[i] = across.amount[i] + (s.intake * air.composition[i] - s.outflow * s.gas[i]);
    }
    to_discharge.enthalpy = to_discharge.enthalpy + (discharged - leaked);
    across.enthalpy = across.enthalpy + (s.intake * b.boundary->air_enthalpy - lost);
    b.sums.bus = b.sums.bus + power;

    // the shell takes all work that is not in the gas; the few joules of the spinning rotor count as its heat
    const S from_shell = c.shell_conductance * (shell - b.at(terminals_.frame));
    b.into(terminals_.frame) = b.into(terminals_.frame) + from_shell;
    b.dx[speed_] = acceleration;
    b.dx[shell_] = (power - (discharged - taken) - from_shell) / c.shell_heat_capacity;

    const S intake = (s.intake - s.outflow) * b.boundary->air_molar_mass;  // kg/s
    if constexpr (std::is_same_v<S, double>) {
      const double air_density = density(air.pressure, air.temperature, air.composition);
      b.dslow[dust_] =
          b.plant().filter.efficiency * air.dust_concentration * std::max(0.0, intake) / air_density;
      b.memory->shaft_load = shaft_load;
    }
    for (PlantOutputsOf<S>& out : b.out) {
      out.suction_pressure = s.pressure;
      out.intake_flow = intake;
      out.compressor_power = power;
      out.discharge_temperature = discharge_temperature;
      out.shaft_load = shaft_load;
      out.filter_dust = b.slow[dust_];
      out.truth.compressor_speed = speed;
      out.truth.compressor_temperature = shell;
      out.truth.filter_differential_pressure = air.pressure - s.pressure;
      out.truth.bearing_vibration = bearing_tone(c.tone, c.bearing_wear, speed);
    }
  }

  /// The drive's power follows the torque of acceleration: shell heat, bus and boundary energy with it.
  void command(Board<double>& b) const override {
    const CompressorParameters& c = b.plant().compressor;
    const double speed = b.x[speed_], load = b.memory->shaft_load;
    const double before = b.dx[speed_], now = drive_acceleration(c, b.commands.compressor_speed, speed);
    const double change = drive_power(c, load, now, speed) - drive_power(c, load, before, speed);
    b.dx[speed_] = now;
    b.dx[shell_] += change / c.shell_heat_capacity;
    b.dq[at::energy] += change;
    b.dq[at::bus_energy] += change;
  }

  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += p.shared->compressor.shell_heat_capacity * x[shell_];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[speed_] = s.speed;
    x[shell_] = s.housing;
  }

 private:
  std::size_t speed_, shell_, dust_;
  IntakeTerminals terminals_;
};

}  // namespace

std::unique_ptr<Part> scroll_train(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<ScrollTrain>(layout, terminals);
}

}  // namespace duskline::plant
