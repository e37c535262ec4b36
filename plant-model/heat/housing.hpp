/// Insulation and housing: how heat leaves the hot box for the ground, the wind and the sky.
///
/// What it is   links between thermal nodes and the surroundings
/// Equation     G = G0 (1 + beta (T_mean/1000 K)^3); q_wind = (h0 + h1 u^0.6) A (T - T_air); q_rad = e sigma
///              A (T^4 - T_sky^4)
/// Symbols      G [W/K], beta [1], h0 [W/m2/K], h1 [W/m2/K per (m/s)^0.6], A [m2], e [1], T [K], u [m/s]
/// Validity     150-1200 K; thin air (h below 2 W/m2/K)
/// Source       radiation: Stefan-Boltzmann; conductivity rising with T^3: Rosseland limit of opacified
///              insulation; sizes are estimates of the plant file
/// Left out     dust on the skin, shadows, heat paths through single feedthroughs (lumped into G0)
#pragma once

#include "plant-model/environment/ambient.hpp"
#include "plant-model/gas/thermochemistry.hpp"
#include "plant-model/scalar.hpp"
#include "plant-model/variants.hpp"

namespace duskline::plant {

struct HousingParameters {
  double area{};                ///< m2 that sees wind and sky
  double emissivity{};          ///< 1, infrared
  double absorptivity{};        ///< 1, solar
  double sunlit_area{};         ///< m2 projected to the sun
  double still_air{};           ///< W/m2/K, h0
  double wind_term{};           ///< W/m2/K per (m/s)^0.6, h1
  double ground_conductance{};  ///< W/K through the feet
  double heat_capacity{};       ///< J/K
};

/// What depends on the weather alone, worked out once a tick.
struct HousingBoundary {
  double air_conductance;  ///< W/K
  double sky_radiation;    ///< W received from the sky
  double solar_gain;       ///< W absorbed
};

inline HousingBoundary housing_boundary(const HousingParameters& h, const Ambient& a) {
  const double sky2 = a.sky_temperature * a.sky_temperature;
  const double sine = std::sin(a.solar_elevation);
  // 590 W/m2 at the top of the atmosphere, mean over the year; attenuated along the slant path by dust
  const double sun = sine > 0.0 ? 590.0 * std::exp(-0.3 * a.optical_depth / (sine + 0.15)) : 0.0;
  return {(h.still_air + h.wind_term * std::pow(a.wind_speed, 0.6)) * h.area,
          h.emissivity * kStefanBoltzmann * h.area * sky2 * sky2,
          h.absorptivity * h.sunlit_area * sun * (sine > 0.0 ? 1.0 : 0.0)};
}

/// Net heat from the housing to the surroundings, W.
template <class S>
S housing_loss(const HousingParameters& h, const HousingBoundary& b, const Ambient& a, const S& T) {
  const S T2 = T * T;
  return b.air_conductance * (T - a.temperature) + h.ground_conductance * (T - a.ground_temperature) +
         h.emissivity * kStefanBoltzmann * h.area * T2 * T2 - b.sky_radiation - b.solar_gain;
}

/// Conductance of insulation between two nodes, W/K.
template <class S>
S insulation_conductance(double g0, double beta, const S& Ta, const S& Tb) {
  const S m = (Ta + Tb) * 0.5e-3;
  return g0 * (1.0 + beta * m * m * m);
}

/// Temperatures of the two sides at work, K.
struct WorkingTemperatures {
  double hot, cold;
};
inline constexpr WorkingTemperatures kInnerAtWork{930.0, 600.0}, kOuterAtWork{600.0, 290.0};

/// Conductance under one of the laws of variants.hpp; all agree at the working temperatures.
template <class S>
S insulation_by(int law, const WorkingTemperatures& at, double g0, double beta, const S& Ta, const S& Tb) {
  if (law == kOpacified) return insulation_conductance(g0, beta, Ta, Tb);
  const double at_work = insulation_conductance(g0, beta, at.hot, at.cold);
  if (law == kConducting) return S(at_work);
  const double sums = (at.hot * at.hot + at.cold * at.cold) * (at.hot + at.cold);
  return (at_work / sums) * (Ta * Ta + Tb * Tb) * (Ta + Tb);
}

}  // namespace duskline::plant
