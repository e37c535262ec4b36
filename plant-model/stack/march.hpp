/// The walk along the flow of a group of cells whose currents are known: gas, heat and enthalpy.
///
/// What it is   a pure function of the solved column; what leaves one segment enters the next
/// Equation     heat_k = H_gas(T_k-1) - H_gas(T_k) - n_O2 h_O2(T_k) + (i_k + i_e) A_s V, enthalpies with
///              formation
/// Symbols      H [W], i, i_e [A/m2] ionic and electronic current density, A_s [m2], V [V], T_k [K] of
///              segment k
/// Validity     gas leaves a segment at its temperature (channels of many transfer units, laminar)
/// Source       first law on each segment; Faraday's law
/// Left out     radiation along channels, pressure drop along a cell (below 100 Pa)
#pragma once

#include "plant-model/stack/column.hpp"

namespace duskline::plant {

template <class L, std::size_t N = kSegments>
struct March {
  std::array<L, N> heat;    ///< W released in each segment of one cell
  std::array<L, N> charge;  ///< A, ionic current up to and with each segment
  L oxygen;                 ///< mol/s to the anode
  L oxygen_enthalpy;        ///< W with it
  L gas_enthalpy;           ///< W with the gas that leaves the cell
};

/// `flow` [mol/s] through one cell, `feed` its mole fractions, `feed_enthalpy` [J/mol] of each species at the
/// inlet.
template <class L, std::size_t N, class S>
March<L, N> march(const ColumnInputs<L, N>& column, const ColumnCurrents<L, N>& solved,
                  const std::array<L, N>& T, const L& flow, const Composition<S>& feed,
                  const Composition<S>& feed_enthalpy) {
  constexpr double kPer2F = 1.0 / (2.0 * kFaraday);
  const double segment_area = column.area / static_cast<double>(N);
  const L leak_heat =
      electronic_leak(column.electronic_leak, solved.voltage).current * solved.voltage * segment_area;
  March<L, N> out;
  Composition<L> n;
  L enthalpy_in = L(0.0), charge = L(0.0);
  out.oxygen = out.oxygen_enthalpy = L(0.0);
  for (std::size_t i = 0; i < kSpecies; ++i) {
    n[i] = flow * feed[i];
    enthalpy_in = enthalpy_in + n[i] * feed_enthalpy[i];
  }
  for (std::size_t k = 0; k < N; ++k) {
    const L& i = solved.density[k];
    const L made = i * (segment_area * kPer2F);  // mol/s CO
    const L released = 0.5 * made;               // mol/s O2
    n[CO2] = n[CO2] - made;
    n[CO] = n[CO] + made;
    const Composition<L> h = gas_enthalpies(T[k]);
    const L enthalpy_out = dot(n, h);
    out.heat[k] =
        enthalpy_in - enthalpy_out - released * h[O2] + i * solved.voltage * segment_area + leak_heat;
    charge = charge + segment_area * i;
    out.charge[k] = charge;
    out.oxygen = out.oxygen + released;
    out.oxygen_enthalpy = out.oxygen_enthalpy + released * h[O2];
    enthalpy_in = enthalpy_out;
  }
  out.gas_enthalpy = enthalpy_in;
  return out;
}

}  // namespace duskline::plant
