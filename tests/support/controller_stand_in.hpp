/// A small stand-in plant for the controller's own tests: a few lags, no more.
///
/// What it is   compressor, plenum with recycle, lumped stack with two end plates and a preheater
/// Equation     first-order lags and balances in explicit Euler at the control period
/// Symbols      SI; sizes near those of the demo plant, chosen here
/// Validity     checks signs, limits and stability of the loops; says nothing about the real plant
/// Source       sizes: orders of magnitude of controller_parameters.h, changed on purpose by 5-15 %
/// Left out     everything else
#pragma once

#include <algorithm>
#include <cmath>

#include "controller/include/controller.h"

namespace duskline::test {

struct StandIn {
  double ambient_pressure = 700.0, ambient_temperature = 240.0;
  double speed = 0.0, current = 0.0;
  double moles = 0.14e-3, inlet_co = 0.0;  // plenum
  double stack = 250.0, end[2] = {250.0, 250.0}, preheater = 250.0;
  double analyser = 0.0;
  double anode = 700.0;
  double resistance = 1.9e-5;  // ohm m2 at 1073 K
  double weak_share = 0.93;    // flow share of cell 4
  bool compressor_stalled = false;
  double bus_voltage = 28.0;
  double power = 20.0;
  double heater = 0.0;

  double plenum_pressure() const { return moles * 8.314462618 * 300.0 / 5e-4; }
  double feed() const { return 5.8e-9 * plenum_pressure(); }  // mol/s
  double molar_mass() const { return 0.04335 - inlet_co * 0.016; }
  double conversion() const {
    return std::min(current * 8 / (2 * 96485.33) / std::max(feed(), 1e-9), 0.9 - inlet_co);
  }
  double outlet_co() const { return inlet_co + conversion(); }
  double zone(int k) const {
    const double weight[5] = {0.5, 0.2, 0.0, 0.2, 0.5};
    return stack + weight[k] * (end[k / 3] - stack);
  }

  double cell_voltage(int k) const {
    const double T = zone((k + 1) / 2), s = k == 4 ? weak_share : 1.0;
    if (T < 700.0) return 0.0;
    const double vt = 8.314462618 * T / (2 * 96485.33);
    const double x = std::max(inlet_co + 0.6 * conversion() / s, 1e-4), y = std::max(0.951 - x, 1e-3);
    const double i = current / 2.5e-3, a = std::exp(14000.0 * (1 / T - 1 / 1073.15));
    const double po2 = anode / 1e5;
    return 0.98054 - 4.5e-4 * (T - 1073.15) + vt * std::log(x / y * std::sqrt(po2)) + i * resistance * a +
           2 * vt * (std::asinh(i * a / 3700.0) + std::asinh(i * a / 4500.0));
  }

  /// What the instruments show.
  ctl_inputs sense(uint32_t tick, uint32_t mode, double demand) const {
    ctl_inputs in{};
    const auto f = [](double x) { return static_cast<float>(x); };
    in.ambient_pressure = f(ambient_pressure);
    in.ambient_temperature = f(ambient_temperature);
    in.plenum_pressure = f(plenum_pressure());
    in.plenum_temperature = 300.0f;
    in.cathode_pressure = f(0.97 * plenum_pressure());
    in.anode_pressure = f(anode);
    in.feed_flow = f(feed() * molar_mass());
    in.compressor_speed = f(speed);
    in.compressor_temperature = 310.0f;
    in.preheater_temperature = f(preheater);
    in.housing_temperature = 260.0f;
    in.stack_current = f(current);
    in.outlet_co_fraction = f(analyser);
    in.product_oxygen_fraction = 0.985f;
    in.product_flow = f(current * 8 * 8.29109e-8);
    in.bus_voltage = f(bus_voltage);
    in.bus_power = f(power);
    for (int k = 0; k < CTL_ENDS; ++k) in.end_temperature[k] = f(end[k]);
    for (int k = 0; k < CTL_ZONES; ++k) in.zone_temperature[k] = f(zone(k));
    for (int k = 0; k < CTL_CELLS; ++k) in.cell_voltage[k] = f(cell_voltage(k));
    in.oxygen_demand = f(demand);
    in.power_ceiling = NAN;
    in.local_time = NAN;
    in.requested_mode = mode;
    in.tick = tick;
    return in;
  }

  /// One second under held commands.
  void move(const ctl_outputs& u) {
    speed += 0.4 * ((compressor_stalled ? 0.0 : double(u.compressor_speed)) - speed);
    current += 0.8 * (double(u.stack_current) - current);
    const double swept = 0.9 * speed * 2e-5 / 6.2832 * ambient_pressure / (8.314462618 * ambient_temperature);
    const double recycled = std::min(double(u.recycle_opening) * 2.7e-8 * 0.67 * 0.97 * plenum_pressure() /
                                         std::sqrt(0.036 * 8.314 * 320.0),
                                     swept);
    const double out = feed(), x_out = outlet_co(), n = std::max(moles, 1e-5);
    inlet_co += (recycled * x_out - swept * inlet_co) / n;
    moles += swept - out;
    anode += (700.0 + 13000.0 * current - anode) / 20.0;
    analyser += (x_out - analyser) / 20.0;

    double to_stack = 0.0;
    heater = double(u.preheater_power);
    for (int k = 0; k < 2; ++k) {
      const double q = 3.0 * (end[k] - stack);
      heater += double(u.end_power[k]);
      end[k] += (double(u.end_power[k]) - q - (k == 0 ? 0.020 : 0.026) * (end[k] - 260.0)) / 200.0;
      to_stack += q;
    }
    const double from_preheater = 0.08 * (preheater - stack);
    preheater += (double(u.preheater_power) - from_preheater - 0.015 * (preheater - 260.0)) / 50.0;
    const double reaction = current * 8 * (cell_voltage(2) - 1.463);
    stack += (to_stack + from_preheater + reaction - 0.045 * (stack - 260.0)) / 900.0;
    power = 20.0 + heater + current * 8 * cell_voltage(2) / 0.92 + 0.25 * speed;
  }
};

}  // namespace duskline::test
