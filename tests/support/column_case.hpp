// Cells in given surroundings, for tests of the column: in double, in eight lanes, and with duals.
#pragma once

#include <array>
#include <cmath>
#include <string>

#include "plant-model/stack/column.hpp"
#include "plant-model/stack/limits.hpp"

namespace duskline::tests {

/// The demo plant's cell; sizes as in plant-model/plants/bench.yaml.
inline plant::CellParameters demo_cell() {
  plant::CellParameters c;
  c.area = 25e-4;
  c.electrolyte_thickness = 150e-6;
  c.conductivity = 12;
  c.conductivity_energy = 75e3;
  c.contact_resistance = 5e-6;
  c.cathode_exchange = 2000;
  c.cathode_energy = 120e3;
  c.anode_exchange = 2500;
  c.anode_energy = 137e3;
  c.diffusion_length = 60e-6;
  c.diffusivity = 1.1e-5;
  c.overpotential_share = 1;
  c.electronic_leak = 500;
  c.heat_capacity = 60;
  return c;
}

/// Surroundings of one cell at one temperature.
template <class S>
struct Surroundings {
  S temperature, current, flow, co, co2, pressure, oxygen;  // K, A, mol/s, 1, 1, bar, bar
};
using Plain = Surroundings<double>;

/// Near the design point: 4.19 A, 15 mg/s over eight cells, 5 % CO, 0.56 bar, 800 degC.
inline constexpr Plain kNominal{1073.15, 4.19, 4.8e-5, 0.05, 0.85, 0.56, 0.48};

struct Corner {
  std::string name;
  Plain at;
};
/// Where a plant may get to when something is wrong.
inline const std::array<Corner, 14>& corners() {
  static const std::array<Corner, 14> all{{
      {"nominal", kNominal},
      {"no current", {1073.15, 0, 4.8e-5, 0.05, 0.85, 0.56, 0.48}},
      {"no CO in the feed", {1073.15, 4.19, 4.8e-5, 1e-6, 0.9, 0.56, 0.48}},
      {"no CO, no current", {1073.15, 0, 4.8e-5, 1e-6, 0.9, 0.56, 0.48}},
      {"no CO2", {1073.15, 1, 4.8e-5, 0.9, 1e-6, 0.56, 0.48}},
      {"starved: four times the current that the feed carries",
       {1073.15, 4.19, 1e-5, 0.05, 0.85, 0.56, 0.48}},
      {"no flow", {1073.15, 4.19, 2.5e-7, 0.05, 0.85, 0.56, 0.48}},
      {"no flow, no current", {1073.15, 0, 2.5e-7, 0.05, 0.85, 0.56, 0.48}},
      {"too cold to conduct", {500, 1, 4.8e-5, 0.05, 0.85, 0.56, 0.48}},
      {"winter night", {220, 0.1, 2.5e-7, 0.3, 0.7, 0.007, 1e-5}},
      {"winter night, no current", {220, 0, 2.5e-7, 0.3, 0.7, 0.007, 1e-5}},
      {"reversed current", {1073.15, -4.19, 4.8e-5, 0.05, 0.85, 0.56, 0.48}},
      {"hot, little oxygen", {1200, 6, 6e-5, 0.05, 0.85, 0.7, 1e-6}},
      {"warming up with a little current", {800, 0.3, 2e-5, 0.05, 0.85, 0.3, 0.3}},
  }};
  return all;
}

template <class S, std::size_t N = plant::kSegments, class T>
plant::ColumnInputs<S, N> column_of(const plant::CellParameters& c, const Surroundings<T>& a) {
  using plant::exp, plant::log;
  plant::ColumnInputs<S, N> in;
  const S log_oxygen = S(log(S(a.oxygen)));
  for (std::size_t k = 0; k < N; ++k) {
    in.chemistry[k] = plant::segment_chemistry(c, S(a.temperature), log_oxygen, S(exp(S(log_oxygen * 0.2))));
    in.resistance[k] = in.chemistry[k].resistance;
  }
  in.current = S(a.current);
  in.flow = S(a.flow);
  in.inlet_co = S(a.co);
  in.inlet_co2 = S(a.co2);
  in.pressure = S(a.pressure);
  in.area = c.area;
  in.electronic_leak = c.electronic_leak;
  return in;
}

inline plant::ColumnCurrents<plant::Pack> cold_start() {
  plant::ColumnCurrents<plant::Pack> at;
  at.voltage = plant::Pack(0.9);
  at.density.fill(plant::Pack(0.0));
  return at;
}

inline plant::ColumnCurrents<double> lane_of(const plant::ColumnCurrents<plant::Pack>& at, std::size_t l) {
  plant::ColumnCurrents<double> out;
  out.voltage = at.voltage[l];
  for (std::size_t k = 0; k < plant::kSegments; ++k) out.density[k] = at.density[k][l];
  return out;
}

/// Solution of the solver under test. Each call ends when its latest step was small; two more calls take two
/// more steps, after which round-off is left. Not so where CO2 is used up: a call starts from at most 97 %
/// conversion and stops when the currents are right, with the trace of CO2 that is left only roughly known.
inline plant::ColumnCurrents<double> settled(const plant::ColumnInputs<plant::Pack>& in,
                                             plant::ColumnCurrents<plant::Pack> at = cold_start(),
                                             std::size_t l = 0) {
  for (int n = 0; n < 3; ++n) plant::solve_columns(in, at);
  return lane_of(at, l);
}
inline plant::ColumnCurrents<double> settled(const Plain& a, const plant::CellParameters& c = demo_cell()) {
  return settled(column_of<plant::Pack>(c, a));
}
/// The same after a single call, as a run takes it.
inline double voltage_once(const Plain& a, plant::ColumnCurrents<plant::Pack> at = cold_start()) {
  plant::solve_columns(column_of<plant::Pack>(demo_cell(), a), at);
  return at.voltage[0];
}

/// Volts to coke onset in each segment, from the definition.
template <std::size_t N>
std::array<double, N> margins(const plant::ColumnInputs<double, N>& in,
                              const plant::ColumnCurrents<double, N>& x, double share = 1) {
  std::array<double, N> margin;
  double s = 0;
  const double m = 1 / (2 * plant::kFaraday * in.flow);
  for (std::size_t k = 0; k < N; ++k) {
    const auto& c = in.chemistry[k];
    s += in.area / static_cast<double>(N) * x.density[k];
    const double u = in.inlet_co + s * m + x.density[k] * c.diffusion;
    const double w = in.inlet_co2 - s * m - x.density[k] * c.diffusion;
    const double i0 = c.cathode_exchange * std::pow(w * in.pressure / 0.5, 0.25);
    const double eta = c.thermal_voltage * std::asinh(x.density[k] / (2 * i0));
    const double log_gas = c.log_boudouard + std::log(in.pressure * u * u / w);
    margin[k] = -0.5 * c.thermal_voltage / share * log_gas - eta;
  }
  return margin;
}

}  // namespace duskline::tests
