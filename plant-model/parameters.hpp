/// Every parameter of the plant, gathered from the parts, and the one dictionary that names them.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "plant-model/compressors/freezer.hpp"
#include "plant-model/compressors/lobe.hpp"
#include "plant-model/compressors/scroll.hpp"
#include "plant-model/compressors/scroll_bank.hpp"
#include "plant-model/compressors/train_parameters.hpp"
#include "plant-model/flow/filter.hpp"
#include "plant-model/flow/flow_parameters.hpp"
#include "plant-model/form.hpp"
#include "plant-model/header_parameters.hpp"
#include "plant-model/heat/heat_parameters.hpp"
#include "plant-model/heat/housing.hpp"
#include "plant-model/power_parameters.hpp"
#include "plant-model/stack/limits.hpp"
#include "plant-model/stack/stack_parameters.hpp"
#include "plant-model/variants.hpp"

namespace duskline::plant {

struct PlantParameters {
  FilterParameters filter;
  CompressorParameters compressor;
  FlowParameters flow;
  HeatParameters heat;
  HousingParameters housing;
  CellParameters cell;
  StackParameters stack;
  DegradationParameters degradation;
  PowerParameters power;
  Variants variants;
  PlantForm form;
  TrainParameters train;
  AxialParameters axial;
  BankParameters bank;
  LobeParameters lobe;
  FreezerParameters freezer;
  HeaderParameters headers;
  ValveParameters valves;
  ProductParameters product;
  BusParameters bus;
  ModuleDifferences module;
};

/// The intake at its design point, and the fastest that its drive commands.
struct IntakeRating {
  double flow;          ///< mol/s, where it is a state
  double speed;         ///< rad/s
  double acceleration;  ///< rad/s2
};
IntakeRating intake_rating(const PlantParameters& p);

/// Stages of the turbo train of a plant that has one.
TrainSize train_size(const PlantParameters& p);

/// One row of the dictionary. `get` returns the place of the value (or values) in SI.
struct ParameterInfo {
  std::string_view path, unit;
  double lower, upper;  ///< validity of the model, in SI
  std::string_view meaning;
  std::span<double> (*get)(PlantParameters&);
  bool (*fits)(const PlantForm&);  ///< whether plants of this form have it
};

/// The dictionary of all plant parameters, in the order of the plant file.
std::span<const ParameterInfo> parameter_table();

/// A parameter that lies within its limits and still cannot be run, alone or beside the others.
struct ParameterProblem {
  std::string_view path;  ///< of the dictionary
  std::size_t item;       ///< of a list, from 1; 0: the whole
  std::string message;    ///< what is wrong and what is expected
};

/// What the limits of single values do not say; empty when the plant can run.
std::vector<ParameterProblem> check(const PlantParameters& p);

}  // namespace duskline::plant
