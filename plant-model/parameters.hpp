/// Every parameter of the plant, gathered from the parts, and the one dictionary that names them.
#pragma once

#include <span>
#include <string_view>

#include "plant-model/flow/filter.hpp"
#include "plant-model/flow/scroll_compressor.hpp"
#include "plant-model/heat/housing.hpp"
#include "plant-model/stack/limits.hpp"
#include "plant-model/state.hpp"

namespace duskline::plant {

struct FlowParameters {
  double plenum_volume{};     ///< m3
  double cathode_volume{};    ///< m3
  double anode_volume{};      ///< m3
  double feed_conductance{};  ///< mol/s/Pa2, laminar line from plenum to cathode
  double exhaust_aperture{};  ///< m2, Cd A
  double recycle_aperture{};  ///< m2, Cd A of the open recycle valve
  double recycle_lag{};       ///< s
  double recycle_slew{};      ///< 1/s, fastest change of the opening
  double product_aperture{};  ///< m2, Cd A
  double seal_leak{};         ///< mol/s/Pa, cathode to anode, all seals of the stack
  double back_diffusion{};    ///< mol/s, exchange with the cathode volume at no flow
  double combustion_rate{};   ///< 1/s, of oxygen that meets CO in the hot cathode volume
};

struct HeatParameters {
  double end_plate_heat_capacity{};  ///< J/K each
  double manifold_heat_capacity{};   ///< J/K
  double preheater_heat_capacity{};  ///< J/K
  double inner_heat_capacity{};      ///< J/K, insulation near the hot box
  double outer_heat_capacity{};      ///< J/K, insulation near the housing
  double plenum_heat_capacity{};     ///< J/K
  double axial_conductance{};        ///< W/K between neighbouring zones, whole section
  double flow_conductance{};         ///< W/K between neighbouring segments of one cell
  double end_conductance{};          ///< W/K between an end plate and the outer zone
  double manifold_conductance{};     ///< W/K between the manifolds and the stack's inlet and outlet edges
  double side_loss{};                ///< W/K, stack to inner insulation
  double end_loss{};                 ///< W/K, each end plate to inner insulation
  double manifold_loss{};            ///< W/K
  double preheater_loss{};           ///< W/K
  double inner_conductance{};        ///< W/K, inner to outer insulation near 0 K
  double outer_conductance{};        ///< W/K, outer insulation to housing near 0 K
  double radiative_growth{};         ///< 1, rise of insulation conductance at a mean of 1000 K
  double recuperator_ua{};           ///< W/K
  double preheater_effectiveness{};  ///< 1
  double plenum_conductance{};       ///< W/K, plenum wall to housing
  double suction_heating{};          ///< 1, share of the way from ambient to shell that suction gas warms
  double end_heater_max{};           ///< W each
  double preheater_max{};            ///< W
  double heater_lag{};               ///< s
  double heater_slew{};              ///< W/s, fastest change of a heater's power
};

struct PowerParameters {
  double stack_converter{};   ///< 1, efficiency
  double heater_converter{};  ///< 1
  double electronics{};       ///< W
  double current_lag{};       ///< s
  double current_slew{};      ///< A/s
  double current_max{};       ///< A
  double speed_max{};         ///< rad/s
  double bus_voltage{};       ///< V
};

struct StackParameters {
  double repeats{};                                ///< 1, real cells that each modelled cell stands for
  std::array<double, kCells> zone{};               ///< 0..4, zone in which the cell lies
  std::array<double, kCells> resistance_factor{};  ///< 1
  std::array<double, kCells> flow_share{};         ///< 1, mean 1
  std::array<double, kCells> crack_leak{};         ///< mol/s/Pa through a cracked cell
  double crack_gradient{};                         ///< K between neighbouring zones that cracks a cell
  double crack_pressure{};                         ///< Pa between cathode and anode that cracks a cell
  double crack_size{};                             ///< mol/s/Pa that a crack adds
};

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
};

/// One row of the dictionary. `get` returns the place of the value (or values) in SI.
struct ParameterInfo {
  std::string_view path, unit;
  double lower, upper;  ///< validity of the model, in SI
  std::string_view meaning;
  std::span<double> (*get)(PlantParameters&);
};

/// The dictionary of all plant parameters, in the order of the plant file.
std::span<const ParameterInfo> parameter_table();

}  // namespace duskline::plant
