/// Centrifugal train: sizes of its impellers for a design point.
///
/// What it is   what a plant file states (flow, blade speed of the first impeller) turned into stages (turbo_stage.hpp)
/// Equation     phi = Q/(U D^2): D = sqrt(Q/(phi U)) where each impeller has its gear and all have one blade speed; on one
///              shaft D = (2 Q/(phi omega))^(1/3), and later stages have lower blade speeds
/// Symbols      Q [m3/s], U [m/s], D [m], omega [rad/s]
/// Validity     phi 0.03 to 0.12, U up to 450 m/s, psi at the design flow 0.45 to 0.55
/// Source       similarity numbers as in turbo_stage.hpp; ranges common practice (from memory)
/// Left out     blades, diffuser, losses of the gears
#pragma once

#include "plant-model/compressors/turbo_stage.hpp"

namespace duskline::plant {

struct CentrifugalDesign {
  StageGas gas{};
  Intercooling between{};
  TurboStage
      like{};     ///< psi0, H, flows, throat and efficiencies of all stages; radius and area are worked out
  double flow{};  ///< mol/s
  double pressure{};     ///< Pa, inlet
  double temperature{};  ///< K, inlet
  double blade_speed{};  ///< m/s, of the first impeller, and of all that are geared
  bool geared = true;    ///< each impeller has a gear of its own; false: all on one shaft
};

/// Impeller diameter for a flow coefficient, m.
inline double impeller_diameter(double volume_flow, double blade_speed, double flow_coefficient) {
  return std::sqrt(volume_flow / (flow_coefficient * blade_speed));
}

inline TurboStage impeller(const TurboStage& like, double diameter) {
  TurboStage s = like;
  s.radius = 0.5 * diameter;
  s.flow_area = diameter * diameter;
  return s;
}

/// Fills `stages` with impellers that all work at their design flow there; the speed of the shaft, rad/s.
inline double size_train(const CentrifugalDesign& d, std::span<TurboStage> stages) {
  double p = d.pressure, T = d.temperature, speed = 0.0;
  for (std::size_t i = 0; i < stages.size(); ++i) {
    if (i > 0) {
      T -= d.between.cooling * (T - d.between.coolant);
      p *= 1.0 - d.between.pressure;
    }
    const double volume_flow = d.flow * kGasConstant * T / p;
    if (i == 0)
      speed = 2.0 * d.blade_speed / impeller_diameter(volume_flow, d.blade_speed, d.like.design_flow);
    stages[i] = impeller(d.like, d.geared ? impeller_diameter(volume_flow, d.blade_speed, d.like.design_flow)
                                          : std::cbrt(2.0 * volume_flow / (d.like.design_flow * speed)));
    if (d.geared) stages[i].gear = d.blade_speed / (stages[i].radius * speed);
    const auto one = turbo_stage(stages[i], d.gas, d.flow, p, T, speed);
    p *= one.pressure_ratio;
    T = one.temperature;
  }
  return speed;
}

}  // namespace duskline::plant
