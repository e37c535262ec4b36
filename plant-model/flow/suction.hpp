/// Suction manifold: where filtered air, recycled exhaust and leaked gas meet before the compressor.
///
/// What it is   an algebraic node without volume: suction pressure, its gas and the flow through the filter
/// Equation     (p_a - p_s)/R_f + N_rec + K (p_d^2 - p_s^2) + G (p_d - p_s) = a p_s (a quadratic in p_s with one
///              positive root)
/// Symbols      p_a, p_s, p_d [Pa] ambient, suction, discharge; R_f [Pa s/mol]; N_rec [mol/s]; K [mol/s/Pa2];
///              a [mol/s/Pa]; G [mol/s/Pa] leak of machines that stand, through their check valves
/// Validity     any speed from rest upward; the filter may flow backwards (compressor at rest)
/// Source       mole balance
/// Left out     the small volume of the manifold (< 50 ms at 700 Pa)
#pragma once

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

template <class S>
struct Suction {
  S pressure;          ///< Pa
  S intake, outflow;   ///< mol/s through the filter, inward and outward parts, >= 0 but for round-off
  S swept;             ///< mol/s taken by the compressor
  S leaked;            ///< mol/s from the discharge back to the suction
  Composition<S> gas;  ///< mole fractions
};

/// `recycled` [mol/s] of each gas.
template <class S>
Suction<S> suction_manifold(double ambient_pressure, double filter_resistance, const Composition<double>& air,
                            const S& swept_per_pascal, double leakage, const S& discharge_pressure,
                            const Composition<S>& discharge_gas, const Composition<S>& recycled,
                            double check_valve_leak = 0.0) {
  const S recycle = total(recycled);
  const double g = 1.0 / filter_resistance;
  S b = swept_per_pascal + g;
  S c = recycle + g * ambient_pressure + leakage * discharge_pressure * discharge_pressure;
  if (check_valve_leak > 0.0) {
    b = b + check_valve_leak;
    c = c + check_valve_leak * discharge_pressure;
  }
  Suction<S> s;
  s.pressure = 2.0 * c / (b + sqrt(b * b + 4.0 * leakage * c));
  const S net = g * (ambient_pressure - s.pressure);
  s.intake = positive_part(net, 1e-7);
  s.swept = swept_per_pascal * s.pressure;
  s.leaked = leakage * (discharge_pressure * discharge_pressure - s.pressure * s.pressure);
  if (check_valve_leak > 0.0) s.leaked = s.leaked + check_valve_leak * (discharge_pressure - s.pressure);
  // intake - net, written so that what comes in leaves to the last bit: atoms balance even where all is still
  const S inflow = s.intake + recycle + s.leaked;
  s.outflow = inflow - s.swept;
  const S per_inflow = 1.0 / inflow;
  for (std::size_t i = 0; i < kSpecies; ++i)
    s.gas[i] = (s.intake * air[i] + recycled[i] + s.leaked * discharge_gas[i]) * per_inflow;
  return s;
}

}  // namespace duskline::plant
