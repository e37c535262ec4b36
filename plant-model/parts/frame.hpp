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
    const double electronics = b.parameters->power.electronics;
    b.sums.bus = b.sums.bus + electronics;
    b.into(here_) = b.into(here_) + electronics;
  }
  template <class S>
  void settle_on(Board<S>& b) const {
    const HousingParameters& h = b.parameters->housing;
    const S loss = housing_loss(h, b.boundary->housing, b.boundary->ambient, b.x[temperature_]);
    b.sums.surroundings.enthalpy = b.sums.surroundings.enthalpy - loss;
    b.dx[temperature_] = (b.into(here_) - loss) / h.heat_capacity;
    if (b.out == nullptr) return;
    b.out->bus_power = b.out->truth.bus_power = b.sums.bus;
    b.out->truth.bus_voltage = S(b.parameters->power.bus_voltage);
    b.out->truth.housing_temperature = b.x[temperature_];
    b.out->truth.ambient_pressure = S(b.boundary->ambient.pressure);
    b.out->truth.ambient_temperature = S(b.boundary->ambient.temperature);
  }
  void hold(const PlantParameters& p, const double* x, const double*, Holdings& h) const override {
    h.energy += p.housing.heat_capacity * x[temperature_];
  }
  void start(const PlantParameters&, const Start& s, double* x) const override {
    x[temperature_] = s.housing;
  }

 private:
  std::size_t temperature_;
  HeatTerminal here_;
};

}  // namespace duskline::plant
