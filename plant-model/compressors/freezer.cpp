// The intake by freezing: filter, fan, two beds with a cooler, regulator to the header, blower for recycled gas.
//
//   surroundings -> filter -> fan -> bed that freezes -> surroundings        bed that sublimes -> regulator -> header
//   recycled gas -> blower -> header
//
// Equation     freezer.hpp; blower W = N R T ln(p_header/p_blower)/eta, its heat goes to the housing; delivered gas is warmed
//              by the housing; the warm end of the cooler has a radiator of its own
// Symbols      W [W]; atoms and energy as in network/board.hpp
// Validity     one clock for both beds; it runs and holds the header by itself
// Left out     commands; a stop (with a full header and a full bed nothing but the leak of heat is left to be lifted)
#include "plant-model/compressors/freezer.hpp"

#include "plant-model/compressors/intake_readings.hpp"

namespace duskline::plant {
namespace {

constexpr std::size_t kBeds = 2;

class Freezer final : public PartOf<Freezer> {
 public:
  Freezer(Layout& layout, const IntakeTerminals& terminals)
      : ice_(layout.implicit_each(kBeds, {"bed.ice", "mol", 1e-3, -1.0, 1e6})),
        gas_(layout.implicit_each(kBeds, {"bed.gas", "mol", 1e-4, -1e-2, 1e5})),
        heat_(layout.implicit_each(kBeds, {"bed.heat", "J", 500, -1e11, 1e11})),
        cycles_(layout.slow({"freezer.cycles", "1", 1e-3, -1e-9, 1e7})),
        dust_(layout.slow({"filter.dust", "kg", 1e-6, -1e-9, 100})),
        terminals_(terminals) {}

  template <class S>
  void flow_on(Board<S>& b) const {
    const FreezerParameters& f = b.plant().freezer;
    const GasStore<S>& header = b.at(terminals_.discharge);
    const S& housing = b.at(terminals_.frame);
    const Air air(b);
    bool swept = false;
    S power = S(0.0), delivered = S(0.0), warm = housing;
    for (std::size_t i = 0; i < kBeds; ++i) {
      const FreezerBed<S> x = bed(b.x, i);
      const FreezerPhase phase = phase_of(b.slow, i);
      const S T = bed_temperature(f, x), pressure = vessel_pressure(f, x.gas, T);
      const bool open = phase == FreezerPhase::freezing;
      swept = swept || open;
      const S frozen = onto_ice<S>(f,
                                   open ? swept_freezing_flow(f, air.swept, air.pressure, air.share, T)
                                        : freezing_flow(f, pressure, T),
                                   x.ice);
      S heat = f.leak * (housing - T), out = S(0.0);
      if (phase == FreezerPhase::delivering || phase == FreezerPhase::pressurising)
        heat = heat + heating_flow(f, pressure, T, housing);
      b.into(terminals_.frame) = b.into(terminals_.frame) - heat;
      if (phase == FreezerPhase::delivering) {
        out = regulator_flow(f, pressure, header.pressure);
        deliver(b, out, T, housing);
        delivered = delivered + out;
        warm = T;
      }
      if (phase == FreezerPhase::cooling || open) {
        const S lifted = lifted_heat(f, x.ice, T),
                cooler = cooler_power(f.carnot_share, f.warm_end, T, lifted);
        heat = heat - lifted;
        power = power + cooler;
        b.sums.surroundings.enthalpy = b.sums.surroundings.enthalpy - (lifted + cooler);
      }
      if (open) {
        GasInflow<S>& across = b.sums.surroundings;
        across.amount[CO2] = across.amount[CO2] + frozen;
        across.enthalpy = across.enthalpy + frozen * air.enthalpy;
        heat = heat + frozen * (air.enthalpy - kGasAtT0);
      }
      b.dx[ice_ + i] = frozen;
      b.dx[gas_ + i] = open ? S(0.0) : S(-1.0 * frozen - out);
      b.dx[heat_ + i] = heat - out * (kVapourCapacity * (T - kSublimes));
    }
    const double fan = swept ? f.sweep * f.fan_pressure / f.fan_efficiency : 0.0;
    b.sums.surroundings.enthalpy = b.sums.surroundings.enthalpy - fan;  // it leaves with the air
    const S blower = blow(b, housing);
    power = power + blower + fan;
    b.sums.bus = b.sums.bus + power;
    const double taken = swept ? air.swept * b.boundary->air_molar_mass : 0.0;  // kg/s
    if constexpr (std::is_same_v<S, double>) {
      b.dslow[cycles_] = 1.0 / f.period;
      b.dslow[dust_] = dust_caught(b, taken);
      b.memory->shaft_load = 0.0;
    }
    if (!b.seen()) return;
    S into = delivered * kMolarMass[CO2];
    for (std::size_t k = 0; k < kSpecies; ++k)
      into = into + b.into(terminals_.suction).amount[k] * kMolarMass[k];
    const double suction = swept ? air.pressure : b.boundary->ambient.pressure;
    read_intake<S>(b, terminals_.discharge, dust_,
                   {S(suction), S(taken), into, power, housing, warm, S(0.0), S(0.0), S(0.0),
                    S(kWithoutSurge), S(kWithoutSurge)});
  }

  void hold(const ParameterView&, const double* x, const double*, Holdings& h) const override {
    Composition<double> n{};
    for (std::size_t i = 0; i < kBeds; ++i) {
      n[CO2] += x[ice_ + i] + x[gas_ + i];
      h.energy += x[heat_ + i];
    }
    h.energy += n[CO2] * kGasAtT0;
    const auto atoms = atoms_in(n);
    for (std::size_t e = 0; e < kElements; ++e) h.atoms[e] += atoms[e];
  }
  /// At work: one bed full, the other has just delivered. At rest: both empty, as warm as the housing.
  void start(const ParameterView& p, const Start& s, double* x, double* slow) const override {
    const FreezerParameters& f = p.shared->freezer;
    const bool works = s.flow > 0.0;
    const double T = works ? kSublimes : s.housing;
    const double pressure = works ? f.vessel_pressure : s.plenum_pressure;
    for (std::size_t i = 0; i < kBeds; ++i) {
      const double ice = works ? (i == 0 ? 0.95 : 0.05) * f.full : 0.0;
      const double gas = pressure * f.volume / (kGasConstant * T);
      x[ice_ + i] = ice;
      x[gas_ + i] = gas;
      x[heat_ + i] = bed_heat(f, ice, gas, T);
    }
    slow[cycles_] = 0.0;
  }

 private:
  inline static const double kGasAtT0 = enthalpy(kGasFits[CO2], kSublimes);  // J/mol

  /// What the fan sweeps over a bed that freezes.
  struct Air {
    template <class S>
    explicit Air(const Board<S>& b) {
      const Ambient& a = b.boundary->ambient;
      const double per_pascal = b.plant().freezer.sweep / (kGasConstant * a.temperature);
      pressure = a.pressure / (1.0 + per_pascal * b.boundary->filter_resistance);
      swept = per_pascal * pressure;
      share = a.composition[CO2];
      enthalpy = plant::enthalpy(kGasFits[CO2], a.temperature);
    }
    double pressure;  ///< Pa, behind the filter
    double swept;     ///< mol/s
    double share;     ///< 1, of carbon dioxide
    double enthalpy;  ///< J/mol of it
  };

  FreezerPhase phase_of(const double* slow, std::size_t i) const {
    return freezer_phase(slow[cycles_] + static_cast<double>(i) / static_cast<double>(kBeds));
  }
  template <class S>
  FreezerBed<S> bed(const S* x, std::size_t i) const {
    return {x[ice_ + i], x[gas_ + i], x[heat_ + i]};
  }
  /// Gas from a vessel at T reaches the header as warm as the housing, which gives the heat.
  template <class S>
  void deliver(Board<S>& b, const S& out, const S& T, const S& housing) const {
    GasInflow<S>& to_header = b.into(terminals_.discharge);
    const S warmed = out * enthalpy(kGasFits[CO2], housing);
    to_header.amount[CO2] = to_header.amount[CO2] + out;
    to_header.enthalpy = to_header.enthalpy + warmed;
    const S left = out * (kGasAtT0 + kVapourCapacity * (T - kSublimes));
    b.into(terminals_.frame) = b.into(terminals_.frame) - (warmed - left);
  }
  /// Lifts what is recycled to the header; W.
  template <class S>
  S blow(Board<S>& b, const S& housing) const {
    constexpr double kWidth = 0.01;  // of the logarithm of the ratio
    const FreezerParameters& f = b.plant().freezer;
    const GasInflow<S>& recycled = b.into(terminals_.suction);
    GasInflow<S>& to_header = b.into(terminals_.discharge);
    for (std::size_t k = 0; k < kSpecies; ++k) to_header.amount[k] = to_header.amount[k] + recycled.amount[k];
    to_header.enthalpy = to_header.enthalpy + recycled.enthalpy;
    const S ratio = b.at(terminals_.discharge).pressure * (1.0 / f.blower_pressure);
    const S work = total(recycled.amount) * (kGasConstant / f.blower_efficiency) * housing *
                   positive_part(S(log(ratio)), kWidth);
    b.into(terminals_.frame) = b.into(terminals_.frame) + work;
    return work;
  }

  std::size_t ice_, gas_, heat_, cycles_, dust_;
  IntakeTerminals terminals_;
};

}  // namespace

std::unique_ptr<Part> freezer(Layout& layout, const IntakeTerminals& terminals) {
  return std::make_unique<Freezer>(layout, terminals);
}

}  // namespace duskline::plant
