/// Intake density and what the compressor makes of it.
///
/// What it is   ideal-gas density of the outside air and the feed-forward from feed flow to shaft speed
/// Equation     rho = p M/(R T);  flow = rho V eta omega/(2 pi)
/// Symbols      rho [kg/m3], V [m3/rev], eta [1] volumetric efficiency, omega [rad/s]
/// Validity     0-2000 Pa, 100-350 K
/// Source       ideal gas; volumetric efficiency is an estimate, its error is left to the flow loop
/// Left out     filter pressure loss, internal leakage, composition of the recycled part
#pragma once

#include "controller/estimate/filters.hpp"
#include "controller/estimate/thermochemistry.hpp"
#include "controller/signals.hpp"

namespace duskline::controller {

inline constexpr float kLeastDensity = 1e-3f;  // kg/m3, below any weather: keeps the feed-forward finite

inline float intake_density(const ctl_params& p, const Signals& y) {
  return most_of(kLeastDensity,
                 y[in_ambient_pressure] * p.air_molar_mass / (kGasConstant * y[in_ambient_temperature]));
}

/// Feed flow per speed at this density, kg/s per rad/s.
constexpr float flow_per_speed(const ctl_params& p, float density) {
  return density * p.compressor_displacement * p.compressor_filling * (1.0f / 6.28318531f);
}

}  // namespace duskline::controller
