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

/// Which volume of the plant it is: what shows it, and what it starts with.
enum class Volume { feed, exhaust, product };

struct GasVolumeParameters {
  double volume;       ///< m3
  double capacity;     ///< J/K of the wall
  double conductance;  ///< W/K to the frame
};

class GasVolume final : public PartOf<GasVolume> {
 public:
  using Read = GasVolumeParameters (*)(const PlantParameters&);

  GasVolume(Layout& layout, Volume volume, const std::string& name, double tolerance, Read read,
            GasTerminal here, HeatTerminal frame)
      : volume_(volume),
        amounts_(layout.gas(name, tolerance)),
        wall_(layout.implicit({name + "_wall.temperature", "K", 0.05, 100, 1600})),
        read_(read),
        here_(here),
        frame_(frame) {}

  template <class S>
  void show_on(Board<S>& b) const {
    b.at(here_) = gas_store(b.x + amounts_, b.x[wall_], read_(b.plant()).volume);
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
    b.dx[wall_] = (in.enthalpy - heat.carried - to_frame(b)) / (read_(b.plant()).capacity + heat.capacity);
    if (b.seen()) show_to(b, gas);
  }
  void hold(const ParameterView& p, const double* x, const double*, Holdings& h) const override {
    Composition<double> n;
    std::copy_n(x + amounts_, kSpecies, n.begin());
    const auto atoms = atoms_in(n);
    for (std::size_t e = 0; e < kElements; ++e) h.atoms[e] += atoms[e];
    h.energy += internal_energy(n.data(), x[wall_]) + read_(*p.shared).capacity * x[wall_];
  }
  void start(const ParameterView& p, const Start& s, double* x, double*) const override {
    const double volume = read_(*p.shared).volume;
    Composition<double> oxygen{};
    oxygen[O2] = 1.0;
    switch (volume_) {
      case Volume::feed:
        fill(x + amounts_, s.feed, s.plenum_pressure, volume, s.housing);
        break;
      case Volume::exhaust:
        fill(x + amounts_, s.cathode, s.exhaust_pressure, volume, s.housing);
        break;
      case Volume::product:
        fill(x + amounts_, oxygen, s.product_pressure, volume, s.housing);
        break;
    }
    x[wall_] = s.housing;
  }

 private:
  template <class S>
  void show_to(Board<S>& b, const GasStore<S>& gas) const {
    if (volume_ == Volume::feed)
      for (PlantOutputsOf<S>& out : b.out) {
        out.plenum_pressure = out.truth.plenum_pressure = gas.pressure;
        out.truth.plenum_temperature = b.x[wall_];
        out.feed_gas = gas.share;
      }
    if (b.shared == nullptr) return;
    SharedValuesOf<S>& truth = b.shared->truth;
    switch (volume_) {
      case Volume::feed:
        truth.feed_header_pressure = gas.pressure;
        truth.feed_header_temperature = b.x[wall_];
        truth.feed_header_co_fraction = gas.share[CO];
        break;
      case Volume::exhaust:
        truth.exhaust_header_pressure = gas.pressure;
        truth.exhaust_header_temperature = b.x[wall_];
        break;
      case Volume::product:
        truth.product_header_pressure = gas.pressure;
        truth.product_oxygen_fraction = gas.share[O2];
        break;
    }
  }
  template <class S>
  S to_frame(const Board<S>& b) const {
    return read_(b.plant()).conductance * (b.x[wall_] - b.temperature[static_cast<std::size_t>(frame_)]);
  }

  Volume volume_;
  std::size_t amounts_, wall_;
  Read read_;
  GasTerminal here_;
  HeatTerminal frame_;
};

}  // namespace duskline::plant
