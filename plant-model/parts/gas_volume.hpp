/// A gas volume in a wall of its own, at which flows meet.
///
/// What it is   a store: amounts of gas, and the temperature that gas and wall share
/// Equation     dn/dt = sum of inflows; (C + sum n c_v) dT/dt = sum H - sum u dn/dt - G (T - T_frame)
/// Symbols      n [mol], T [K], H [W] enthalpy that flows in, u, c_v [J/mol(/K)], C [J/K] wall, G [W/K]
/// Validity     see gas_store.hpp; gas and wall at one temperature
/// Source       first law for an open volume
/// Left out     heat transfer between gas and wall as such
#pragma once

#include <algorithm>
#include <string>

#include "plant-model/network/part.hpp"

namespace duskline::plant {

struct GasVolumeParameters {
  double volume;       ///< m3
  double capacity;     ///< J/K of the wall
  double conductance;  ///< W/K to the frame
};

class GasVolume final : public PartOf<GasVolume> {
 public:
  using Read = GasVolumeParameters (*)(const PlantParameters&);

  GasVolume(Layout& layout, const std::string& name, double tolerance, Read read, GasTerminal here,
            HeatTerminal frame)
      : amounts_(layout.gas(name, tolerance)),
        wall_(layout.implicit({name + "_wall.temperature", "K", 0.05, 100, 1600})),
        read_(read),
        here_(here),
        frame_(frame) {}

  template <class S>
  void show_on(Board<S>& b) const {
    b.at(here_) = gas_store(b.x + amounts_, b.x[wall_], read_(*b.parameters).volume);
  }
  template <class S>
  void flow_on(Board<S>& b) const {
    b.into(frame_) = b.into(frame_) + to_frame(b);
  }
  template <class S>
  void settle_on(Board<S>& b) const {
    const GasStore<S>& gas = b.at(here_);
    const GasInflow<S>& in = b.into(here_);
    for (std::size_t i = 0; i < kSpecies; ++i) b.dx[amounts_ + i] = in.amount[i];
    const GasHeat<S> heat = gas_heat(gas, gas_heat_capacities(gas.temperature), in.amount.data());
    b.dx[wall_] =
        (in.enthalpy - heat.carried - to_frame(b)) / (read_(*b.parameters).capacity + heat.capacity);
    if (b.out == nullptr) return;
    b.out->plenum_pressure = b.out->truth.plenum_pressure = gas.pressure;
    b.out->truth.plenum_temperature = b.x[wall_];
    b.out->feed_gas = gas.share;
  }
  void hold(const PlantParameters& p, const double* x, const double*, Holdings& h) const override {
    Composition<double> n;
    std::copy_n(x + amounts_, kSpecies, n.begin());
    const auto atoms = atoms_in(n);
    for (std::size_t e = 0; e < kElements; ++e) h.atoms[e] += atoms[e];
    h.energy += internal_energy(n.data(), x[wall_]) + read_(p).capacity * x[wall_];
  }
  void start(const PlantParameters& p, const Start& s, double* x) const override {
    fill(x + amounts_, s.feed, s.plenum_pressure, read_(p).volume, s.housing);
    x[wall_] = s.housing;
  }

 private:
  template <class S>
  S to_frame(const Board<S>& b) const {
    return read_(*b.parameters).conductance * (b.x[wall_] - b.temperature[static_cast<std::size_t>(frame_)]);
  }

  std::size_t amounts_, wall_;
  Read read_;
  GasTerminal here_;
  HeatTerminal frame_;
};

}  // namespace duskline::plant
