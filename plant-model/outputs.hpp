/// Everything that instruments and reports may look at, over a scalar: double simulates, duals give linear models.
///
/// What it is   fields that the parts fill, each those that it works out; SI
/// Validity     of the cells, duals carry what linear models look at
/// Left out     more than one module in one struct: each has its own, with what all share in it
#pragma once

#include <type_traits>

#include "plant-model/instruments/true_values.hpp"
#include "plant-model/stack/stack.hpp"

namespace duskline::plant {

template <class S>
struct PlantOutputsOf {
  TrueValues<S> truth;
  S plenum_pressure, cathode_pressure, anode_pressure, suction_pressure;
  Composition<S> feed_gas, cathode_gas, anode_gas, inlet_gas;
  S intake_flow, feed_flow, exhaust_flow, recycle_flow, product_flow;  ///< kg/s
  S inlet_co;                                                          ///< 1, of inlet_gas
  S leak_flow;                                                         ///< mol/s cathode to anode
  S oxygen_made, oxygen_delivered;                                     ///< kg/s
  S utilisation;  ///< share of the CO2 in the feed that is converted, < 0 where CO burns
  S stack_voltage, stack_power, compressor_power, heater_power, bus_power;
  S feed_temperature, discharge_temperature, exhaust_temperature;
  S recuperator_given, recuperator_taken;  ///< W that exhaust and recycle lose, and that the feed gains
  S shaft_load;                            ///< W on the compressor shaft by gas and friction
  S recycle_opening;                       ///< 1
  S feed_opening;                          ///< 1; 1 where there is no valve
  S gradient;                              ///< K, largest difference between neighbouring zones
  std::array<S, kZones> zone_temperature;
  std::array<double, kZones> zone_rate;  ///< K/s
  std::conditional_t<std::is_same_v<S, double>, CellReadings, CellView<S>> cells;
  S min_margin, min_nickel_ratio;
  std::size_t worst_cell;
  double filter_dust;  ///< kg
};
using PlantOutputs = PlantOutputsOf<double>;

/// What is seen of the part of a plant with headers that its modules share.
template <class S>
struct SharedOutputsOf {
  SharedValuesOf<S> truth;
  S anti_surge_opening, recycle_opening, exhaust_opening, product_opening;  ///< 1
  S anti_surge_flow, recycle_flow, exhaust_flow, intake_flow;               ///< kg/s
  S oxygen_delivered;                                                       ///< kg/s
  S surge_margin, choke_margin;                  ///< 1, of the stage that is nearest to it
  S compressor_power;                            ///< W from the bus
  S liquefier_power, dryer_power, others_power;  ///< W
};
using SharedOutputs = SharedOutputsOf<double>;

}  // namespace duskline::plant
