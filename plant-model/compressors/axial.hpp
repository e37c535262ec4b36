/// Axial group: stages of one mean radius whose annulus narrows as the gas grows denser.
///
/// What it is   a plant file's design point turned into stages (turbo_stage.hpp) without coolers between them; it stands in front
///              of centrifugal stages, as its last annuli would be a fraction of a millimetre high at the feed header
/// Equation     phi = C_x/U = Q/(U A); A = Q/(phi U) at each inlet of the design point
/// Symbols      C_x [m/s] axial velocity, U [m/s] of the blades at the mean radius, A [m2] annulus
/// Validity     phi 0.4 to 0.7, psi 0.2 to 0.4 a stage; away from the design point front and rear stages part: at low
///              speed the front stalls while the rear chokes, at high speed the other way round
/// Source       stage stacking, as in turbomachinery textbooks (from memory)
/// Left out     variable guide vanes, bleed between stages, rotating stall
#pragma once

#include "plant-model/compressors/turbo_stage.hpp"

namespace duskline::plant {

struct AxialDesign {
  StageGas gas{};
  TurboStage like{};     ///< as for CentrifugalDesign; the radius is the mean radius of all
  double flow{};         ///< mol/s
  double pressure{};     ///< Pa, inlet
  double temperature{};  ///< K, inlet
  double speed{};        ///< rad/s
};

/// Fills `stages` with annuli in which all work at their design flow.
inline void size_group(const AxialDesign& d, std::span<TurboStage> stages) {
  double p = d.pressure, T = d.temperature;
  for (TurboStage& s : stages) {
    s = d.like;
    s.cooled = false;
    s.flow_area = d.flow * kGasConstant * T / p / (d.like.design_flow * d.speed * d.like.radius);
    const auto one = turbo_stage(s, d.gas, d.flow, p, T, d.speed);
    p *= one.pressure_ratio;
    T = one.temperature;
  }
}

}  // namespace duskline::plant
