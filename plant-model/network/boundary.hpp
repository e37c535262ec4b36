/// The surroundings at a tick, with what depends on them and on the slow state alone.
#pragma once

#include "plant-model/compressors/lobe.hpp"
#include "plant-model/compressors/train_parameters.hpp"
#include "plant-model/environment/ambient.hpp"
#include "plant-model/heat/housing.hpp"

namespace duskline::plant {

struct Boundary {
  Ambient ambient;
  double filter_resistance{};  ///< Pa s/mol
  double air_molar_mass{};     ///< kg/mol
  double air_enthalpy{};       ///< J/mol
  HousingBoundary housing{};
  TrainSize train{};  ///< of a plant that has one
  LobeSize lobe{};    ///< of a plant that has one
};

}  // namespace duskline::plant
