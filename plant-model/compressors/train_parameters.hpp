/// A turbo train: design point, similarity numbers of its stages, shaft, casing, and its stages worked out.
///
/// What it is   geared centrifugal stages with coolers between them; where a plant has it, a group of axial stages on the
///              drive's shaft in front of them
/// Equation     the cubic of turbo_stage.hpp through the peak and the design point; sizes in centrifugal.hpp, axial.hpp
/// Left out     axial stages behind centrifugal ones
#pragma once

#include <algorithm>
#include <array>

#include "plant-model/compressors/axial.hpp"
#include "plant-model/compressors/centrifugal.hpp"
#include "plant-model/compressors/drive.hpp"
#include "plant-model/gas/transport.hpp"

namespace duskline::plant {

inline constexpr std::size_t kMostStages = 12;

/// Similarity numbers of equal stages.
struct StageParameters {
  double stages{};             ///< 1
  double flow_coefficient{};   ///< 1, of all stages at the design point
  double surge_coefficient{};  ///< 1, flow coefficient of the peak
  double head{};               ///< 1, head coefficient at the design point
  double peak_head{};          ///< 1
  double throat{};             ///< 1, over D^2, of an axial stage over its annulus
  double efficiency{};         ///< 1, polytropic at a Reynolds number of 1e6
  double efficiency_fall{};    ///< 1
};

struct AxialParameters : StageParameters {
  double radius{};  ///< m, mean radius of the blades, on the drive's shaft
};

struct TrainParameters : StageParameters, DuctMachineParameters {
  double design_flow{};          ///< mol/s
  double design_pressure{};      ///< Pa, inlet
  double design_temperature{};   ///< K, inlet
  double molar_mass{};           ///< kg/mol of the gas that it is made for
  double isentropic_exponent{};  ///< 1
  double blade_speed{};          ///< m/s at the design point
  double cooling{};              ///< 1, share of the way to the casing's temperature in each cooler
  double cooler_loss{};          ///< 1, share of the pressure that a cooler costs
  double viscous_friction{};     ///< N m s/rad
};

/// What the parameters make of the stages; the first `count` of them count.
struct TrainSize {
  std::array<TurboStage, kMostStages> stages{};
  std::size_t count = 0;
  StageGas gas{};
  double speed = 0.0;  ///< rad/s at the design point

  std::span<const TurboStage> all() const { return {stages.data(), count}; }
};

/// A stage of the kind, without its size.
inline TurboStage like(const StageParameters& s) {
  const double x = 2.0 * s.flow_coefficient / s.surge_coefficient - 1.0;
  const double height = (s.peak_head - s.head) / (1.0 - 1.5 * x + 0.5 * x * x * x);
  return {.shutoff_head = s.peak_head - 2.0 * height,
          .head_height = height,
          .surge_flow = s.surge_coefficient,
          .throat = s.throat,
          .design_flow = s.flow_coefficient,
          .efficiency = s.efficiency,
          .efficiency_fall = s.efficiency_fall};
}

/// Coolers whose medium is 50 K warmer than the inlet at the design point (estimate).
inline Intercooling design_coolers(const TrainParameters& t) {
  return {t.design_temperature + 50.0, t.cooling, t.cooler_loss};
}

/// `front` is null where all stages are centrifugal.
inline TrainSize size_of(const TrainParameters& t, const AxialParameters* front = nullptr) {
  TrainSize size;
  const auto whole = [](double stages) { return static_cast<std::size_t>(stages); };
  const std::size_t axial = front == nullptr ? 0 : std::min(kMostStages, whole(front->stages));
  size.count = std::min(kMostStages, axial + whole(t.stages));
  size.gas = {t.molar_mass, t.isentropic_exponent, viscosity(t.design_temperature)};
  const Intercooling between = design_coolers(t);
  double p = t.design_pressure, T = t.design_temperature;
  if (axial > 0) {
    size.speed = t.blade_speed / front->radius;
    TurboStage blades = like(*front);
    blades.radius = front->radius;
    const std::span<TurboStage> group{size.stages.data(), axial};
    size_group({size.gas, blades, t.design_flow, p, T, size.speed}, group);
    const auto end = turbo_train<double>(group, size.gas, between, t.design_flow, p, T, size.speed);
    p = end.pressure * (1.0 - between.pressure);
    T = end.temperature - between.cooling * (end.temperature - between.coolant);
  }
  const std::span<TurboStage> impellers{size.stages.data() + axial, size.count - axial};
  const double own = size_train({.gas = size.gas,
                                 .between = between,
                                 .like = like(t),
                                 .flow = t.design_flow,
                                 .pressure = p,
                                 .temperature = T,
                                 .blade_speed = t.blade_speed},
                                impellers);
  if (axial == 0)
    size.speed = own;
  else
    for (TurboStage& s : impellers) s.gear = t.blade_speed / (s.radius * size.speed);
  return size;
}

}  // namespace duskline::plant
