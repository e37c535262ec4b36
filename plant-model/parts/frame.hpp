/// The housing: takes the heat of everything bolted to it and loses it to wind, ground and sky; and the supply.
///
/// What it is   a store: the temperature of housing and electronics, which draw power and turn it into heat
/// Equation     C dT/dt = sum of heat - loss(T), loss as in heat/housing.hpp
/// Symbols      C [J/K], T [K]
/// Validity     one temperature for the whole housing
/// Source       first law
#pragma once

#include "plant-model/network/part.hpp"

namespace duskline::plant {

class Frame final : public PartOf<Frame> {
 public:
  Frame(Layout& layout, HeatTerminal here)
      : temperature_(layout.implicit({"housing.temperature", "K", 0.05, 100, 1600})), here_(here) {}

  template <class S>
  void show_on(Board<S>& b) const {
    b.at(here_) = b.x[temperature_];
  }
  template <class S>
  void flow_on(Board<S>& b) const {
    const double electronics = b.plant().power.electronics;
    b.sums.bus = b.sums.bus + electronics;
    b.into(here_) = b.into(here_) + electronics;
  }
  template <class S>
  void settle_on(Board<S>& b) const {
    const HousingParameters& h = b.plant().housing;
    const S loss = housing_loss(h, b.boundary->housing, b.boundary->ambient, b.x[temperature_]);
    b.sums.surroundings.enthalpy = b.sums.surroundings.enthalpy - loss;
    b.dx[temperature_] = (b.into(here_) - loss) / h.heat_capacity;
    for (PlantOutputsOf<S>& out : b.out) {
      out.bus_power = b.sums.bus;
      read(b, out.truth);
    }
    if (b.shared == nullptr) return;
    read(b, b.shared->truth);
    b.shared->others_power = S(b.plant().bus.others);
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    h.energy += p.shared->housing.heat_capacity * x[temperature_];
  }
  void start(const ParameterView&, const Start& s, double* x, double*) const override {
    x[temperature_] = s.housing;
  }

 private:
  /// A supply that others share falls with what all draw together.
  template <class S>
  static S voltage(const PlantParameters& p, const S& drawn) {
    if (!has_headers(p.form)) return S(p.power.bus_voltage);
    return p.power.bus_voltage * (1.0 - p.bus.droop / p.bus.ceiling * (drawn + p.bus.others));
  }
  template <class S, class Values>
  void read(const Board<S>& b, Values& values) const {
    values.bus_power = b.sums.bus;
    values.bus_voltage = voltage(b.plant(), b.sums.bus);
    values.housing_temperature = b.x[temperature_];
    values.ambient_pressure = S(b.boundary->ambient.pressure);
    values.ambient_temperature = S(b.boundary->ambient.temperature);
  }

  std::size_t temperature_;
  HeatTerminal here_;
};

}  // namespace duskline::plant
