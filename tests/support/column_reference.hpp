// One cell along its flow, solved by nested bisection in extended precision from the equations of cell.hpp
// alone: Nernst, two asinh overpotentials, ohmic loss, Faraday's law. Slow; shares no code with the solver.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/stack/column.hpp"

namespace duskline::tests {

template <std::size_t N = plant::kSegments>
struct ExactColumn {
  long double voltage = 0;
  std::array<long double, N> density{};
};

/// Voltage of segment k at current density i with mole fractions u (CO) and w (CO2) at the reaction zone.
template <std::size_t N>
long double exact_voltage(const plant::ColumnInputs<double, N>& in, std::size_t k, long double i,
                          long double u, long double w) {
  const auto& c = in.chemistry[k];
  const long double i0c = c.cathode_exchange * std::sqrt(std::sqrt(w * in.pressure / 0.5L));
  return c.open_circuit + 0.5L * c.thermal_voltage * std::log(u / w) +
         c.thermal_voltage * (std::asinh(i / (2 * i0c)) + std::asinh(i / (2.0L * c.anode_exchange))) +
         static_cast<long double>(in.resistance[k]) * i;
}

template <std::size_t N>
long double exact_leak(const plant::ColumnInputs<double, N>& in, long double V) {
  return in.electronic_leak * (std::exp((V - plant::kElectronicOnset) / plant::kElectronicSlope) -
                               std::exp((-V - plant::kElectronicOnset) / plant::kElectronicSlope));
}

template <std::size_t N>
ExactColumn<N> solve_exactly(const plant::ColumnInputs<double, N>& in) {
  const long double area = static_cast<long double>(in.area) / N;
  const long double m = 1.0L / (2.0L * plant::kFaraday * in.flow);
  ExactColumn<N> x;
  const auto total = [&](long double V) {
    long double s = 0;
    for (std::size_t k = 0; k < N; ++k) {
      const long double co = in.inlet_co + s * m, co2 = in.inlet_co2 - s * m;
      const long double per = area * m + in.chemistry[k].diffusion;
      long double low = -co / per, high = co2 / per;
      for (int n = 0; n < 72; ++n) {
        const long double i = (low + high) / 2, u = co + i * per, w = co2 - i * per;
        const bool below = u <= 0 || (w > 0 && exact_voltage(in, k, i, u, w) < V);
        (below ? low : high) = i;
      }
      x.density[k] = (low + high) / 2;
      s += area * x.density[k];
    }
    return s + in.area * exact_leak(in, V);
  };
  long double low = -5, high = 5;
  for (int n = 0; n < 62; ++n) {
    x.voltage = (low + high) / 2;
    (total(x.voltage) < in.current ? low : high) = x.voltage;
  }
  total(x.voltage);
  return x;
}

}  // namespace duskline::tests
