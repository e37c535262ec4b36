/// The control valves of the headers, and what stands behind the product valve: dryer, liquefier, tank.
///
///   feed header -> anti-surge valve -> suction        exhaust header -> recycle valve -> suction
///   exhaust header -> exhaust valve -> surroundings   product header -> product valve -> dryer, liquefier -> tank
///                                                                                     -> vent -> surroundings
///
/// What it is   links between the headers and what is outside, each with a check valve; the travels of the valves are states
/// Equation     control_valve.hpp, liquefier.hpp; the oxygen leaves the plant as liquid, its heat and the power go to the
///              housing; while the liquefier stands, a three-way valve leads the product to the vent
/// Symbols      N [mol/s], travel [1], P [W], run [1] 1: to the liquefier, 0: to the vent
/// Validity     the suction lies below a third of the headers' pressure (both valves to it are choked), so that its own
///              pressure does not count
/// Source       those files
/// Left out     pressure drop of dryer and lines, boil-off of the tank
#pragma once

#include "plant-model/flow/aperture.hpp"
#include "plant-model/heat/liquefier.hpp"
#include "plant-model/network/part.hpp"

namespace duskline::plant {

struct HeaderTerminals {
  GasTerminal feed, exhaust, product, suction;
  HeatTerminal frame;
};

class HeaderValves final : public PartOf<HeaderValves> {
 public:
  HeaderValves(Layout& layout, const HeaderTerminals& terminals) : terminals_(terminals) {
    first_ = layout.implicit({"anti_surge.opening", "1", 1e-2, -0.1, 1.1});
    for (const char* name : {"header_recycle.opening", "exhaust.opening", "product.opening"})
      layout.implicit({name, "1", 1e-2, -0.1, 1.1});
  }

  template <class S>
  void flow_on(Board<S>& b) const {
    const PlantParameters& p = b.plant();
    const ValveParameters& v = p.valves;
    const S* travel = b.x + first_;
    const GasStore<S>& feed = b.at(terminals_.feed);
    const GasStore<S>& exhaust = b.at(terminals_.exhaust);
    const GasStore<S>& product = b.at(terminals_.product);
    const double air = b.boundary->ambient.pressure;
    const S anti_surge = through(v, v.anti_surge_capacity, travel[0], feed, S(air));
    const S recycle = through(v, v.recycle_capacity, travel[1], exhaust, S(air));
    const S out = through(v, v.exhaust_capacity, travel[2], exhaust, S(air));
    const S run = b.commands.liquefier_run;
    const S delivered =
        through(v, v.product_capacity, travel[3], product, air + run * (p.product.tank_pressure - air));

    move(feed, anti_surge, b.into(terminals_.feed), b.into(terminals_.suction));
    move(exhaust, recycle, b.into(terminals_.exhaust), b.into(terminals_.suction));
    leave(exhaust, out, b.into(terminals_.exhaust), b.sums.surroundings);
    leave(product, delivered, b.into(terminals_.product), b.sums.surroundings);
    b.sums.product = b.sums.product + delivered;
    const S oxygen = run * delivered * product.share[O2];
    b.sums.oxygen = b.sums.oxygen + oxygen;

    const Liquefier liquefier{p.product.liquefier_share, p.product.liquefier_warm,
                              p.product.liquid_temperature};
    Dryer dryer;
    dryer.water = p.product.water;
    const S lifted = oxygen * liquefaction_heat(liquefier, product.temperature);
    const S cooler = liquefier_power(liquefier, oxygen, product.temperature),
            drying = dryer_power(dryer, S(run * delivered));
    b.sums.surroundings.enthalpy = b.sums.surroundings.enthalpy + lifted;
    b.sums.bus = b.sums.bus + (cooler + drying);
    b.into(terminals_.frame) = b.into(terminals_.frame) + (lifted + cooler + drying);

    rates(v, b.commands, travel, b.dx + first_);
    if (b.shared == nullptr) return;
    SharedOutputsOf<S>& seen = *b.shared;
    seen.anti_surge_opening = travel[0];
    seen.recycle_opening = travel[1];
    seen.exhaust_opening = travel[2];
    seen.product_opening = travel[3];
    seen.anti_surge_flow = anti_surge * molar_mass(feed.share);
    seen.recycle_flow = recycle * molar_mass(exhaust.share);
    seen.exhaust_flow = out * molar_mass(exhaust.share);
    seen.truth.product_flow = delivered * molar_mass(product.share);
    seen.oxygen_delivered = oxygen * kMolarMass[O2];
    seen.liquefier_power = cooler;
    seen.dryer_power = drying;
  }
  void command(Board<double>& b) const override {
    rates(b.plant().valves, b.commands, b.x + first_, b.dx + first_);
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[first_] = s.valves.anti_surge_opening;
    x[first_ + 1] = s.valves.recycle_opening;
    x[first_ + 2] = s.valves.exhaust_opening;
    x[first_ + 3] = s.valves.product_opening;
  }

 private:
  /// mol/s from a header to a place of this pressure, never back.
  template <class S>
  static S through(const ValveParameters& v, double capacity, const S& travel, const GasStore<S>& from,
                   const S& behind) {
    constexpr double kWidth = 1e-8;  // mol/s
    const S M = molar_mass(from.share);
    return positive_part(valve_flow(control_valve(v, capacity, v.stroke), kIsentropicExponent, travel,
                                    from.pressure, from.temperature, M, behind, from.temperature, M),
                         kWidth);
  }
  template <class S>
  static void move(const GasStore<S>& gas, const S& flow, GasInflow<S>& from, GasInflow<S>& to) {
    for (std::size_t i = 0; i < kSpecies; ++i) {
      const S n = flow * gas.share[i];
      from.amount[i] = from.amount[i] - n;
      to.amount[i] = to.amount[i] + n;
    }
    const S heat = flow * gas.molar_enthalpy;
    from.enthalpy = from.enthalpy - heat;
    to.enthalpy = to.enthalpy + heat;
  }
  /// Out of the plant: `across` counts inward.
  template <class S>
  static void leave(const GasStore<S>& gas, const S& flow, GasInflow<S>& from, GasInflow<S>& across) {
    for (GasInflow<S>* at : {&from, &across}) {
      for (std::size_t i = 0; i < kSpecies; ++i) at->amount[i] = at->amount[i] - flow * gas.share[i];
      at->enthalpy = at->enthalpy - flow * gas.molar_enthalpy;
    }
  }
  template <class S>
  static void rates(const ValveParameters& v, const SharedCommandsOf<S>& u, const S* travel, S* dx) {
    const ControlValve quick = control_valve(v, 1.0, v.anti_surge_stroke),
                       usual = control_valve(v, 1.0, v.stroke);
    dx[0] = valve_travel_rate(quick, u.anti_surge_opening, travel[0]);
    dx[1] = valve_travel_rate(usual, u.recycle_opening, travel[1]);
    dx[2] = valve_travel_rate(usual, u.exhaust_opening, travel[2]);
    dx[3] = valve_travel_rate(usual, u.product_opening, travel[3]);
  }

  std::size_t first_;
  HeaderTerminals terminals_;
};

}  // namespace duskline::plant
