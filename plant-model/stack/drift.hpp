/// What hours of production change in a cell beside its resistance (variants.hpp: drift).
///
/// What it is   the factor g by which exchange currents fall, or current crowds, for an ageing a that raises the voltage
///              at 3000 A/m2 as much as the same ohmic resistance does
/// Equation     g = 1 + a/a_k, a_k = RT/F [q_c/sqrt(1 + q_c^2) + q_a/sqrt(1 + q_a^2)]/i; contact: a_c = a_k + r;
///              q = i/2i_0
/// Symbols      a [ohm m2] ageing, i = 3000 A/m2, r [ohm m2] electrolyte and contact at 1073.15 K
/// Validity     small a/a_k (10 000 h: 0.4): linear in g
/// Source       derivative of asinh(g q) at g = 1
/// Left out     dependence of the drift on temperature and load
#pragma once

#include "plant-model/stack/cell.hpp"

namespace duskline::plant {

inline constexpr double kDriftDensity = 3000.0;  ///< A/m2, at which ageing is quoted

/// a_k, or with `with_resistance` a_c, ohm m2.
inline double drift_reference(const CellParameters& c, bool with_resistance) {
  const auto steepness = [](double exchange) {
    const double q = kDriftDensity / (2.0 * exchange);
    return q / std::sqrt(1.0 + q * q);
  };
  const double kinetic = kGasConstant * kReferenceTemperature / kFaraday / kDriftDensity *
                         (steepness(c.cathode_exchange) + steepness(c.anode_exchange));
  return with_resistance ? kinetic + c.electrolyte_thickness / c.conductivity + c.contact_resistance
                         : kinetic;
}

}  // namespace duskline::plant
