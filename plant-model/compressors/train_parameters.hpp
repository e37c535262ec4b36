/// A geared centrifugal train: design point, similarity numbers of its stages, shaft, casing, and its stages worked out.
#pragma once

#include <algorithm>
#include <array>

#include "plant-model/compressors/centrifugal.hpp"
#include "plant-model/compressors/drive.hpp"
#include "plant-model/gas/transport.hpp"

namespace duskline::plant {

inline constexpr std::size_t kMostStages = 12;

struct TrainParameters : DuctMachineParameters {
  double stages{};               ///< 1
  double design_flow{};          ///< mol/s
  double design_pressure{};      ///< Pa, inlet
  double design_temperature{};   ///< K, inlet
  double molar_mass{};           ///< kg/mol of the gas that it is made for
  double isentropic_exponent{};  ///< 1
  double blade_speed{};          ///< m/s at the design point
  double flow_coefficient{};     ///< 1, of all stages at the design point
  double surge_coefficient{};    ///< 1, flow coefficient of the peak
  double head{};                 ///< 1, head coefficient at the design point
  double peak_head{};            ///< 1
  double throat{};               ///< 1, over D^2
  double efficiency{};           ///< 1, polytropic at a Reynolds number of 1e6
  double efficiency_fall{};      ///< 1
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

inline TrainSize size_of(const TrainParameters& t) {
  TrainSize size;
  size.count = std::min(kMostStages, static_cast<std::size_t>(t.stages));
  size.gas = {t.molar_mass, t.isentropic_exponent, viscosity(t.design_temperature)};
  // the cubic through the peak and the design point
  const double x = 2.0 * t.flow_coefficient / t.surge_coefficient - 1.0;
  const double height = (t.peak_head - t.head) / (1.0 - 1.5 * x + 0.5 * x * x * x);
  const TurboStage like{.shutoff_head = t.peak_head - 2.0 * height,
                        .head_height = height,
                        .surge_flow = t.surge_coefficient,
                        .throat = t.throat,
                        .design_flow = t.flow_coefficient,
                        .efficiency = t.efficiency,
                        .efficiency_fall = t.efficiency_fall};
  size.speed = size_train({.gas = size.gas,
                           .between = {t.design_temperature + 50.0, t.cooling, t.cooler_loss},
                           .like = like,
                           .flow = t.design_flow,
                           .pressure = t.design_pressure,
                           .temperature = t.design_temperature,
                           .blade_speed = t.blade_speed},
                          {size.stages.data(), size.count});
  return size;
}

}  // namespace duskline::plant
