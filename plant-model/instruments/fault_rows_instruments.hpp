/// Rows of the fault table: thermocouples, pressures, flows, analysers, cell taps. See fault_table.hpp.
#pragma once

#include "plant-model/instruments/fault_rows_plant.hpp"

namespace duskline::plant {

// clang-format off
inline constexpr FaultStudy kThermocoupleOpen{
    "tells the temperature", "wire breaks at the hot end", "no reading", "none while others stand in for it",
    "missing reading", "neighbours, mean of the others", 4, "one of several"};
inline constexpr FaultStudy kThermocoupleDrift{
    "tells the temperature", "decalibration above 900 K, virtual junction", "reads too hot",
    "the stack is held too cold or uneven; the coke limit is misjudged", "innovation against the heat balance and "
    "the neighbours", "neighbours, mean of the others", 3, "errors of tens of kelvin move the coke limit by tens of mV"};
inline constexpr FaultStudy kThermocouplesSwapped{
    "tells the temperature", "plugs exchanged at maintenance", "two places are taken for each other",
    "the heaters correct the wrong end", "profile against heater powers", "common control of the mean", 3,
    "an uneven stack is made more uneven"};
inline constexpr std::string_view kNeighboursAlike =
    "places that are equally warm within the class of a thermocouple (3.2 K) read alike whichever way they are wired";
inline constexpr std::string_view kPreheaterAlone =
    "nothing else measures the gas at the preheater; an error of this size lies within what the feed flow may do to it";
inline constexpr FaultStudy kPressureBias{
    "tells the pressure", "shock, zero of the bridge", "reads too high", "flow, density or load are misjudged",
    "balance of flow and apertures", "estimate from the other pressures", 3, "the margin is kept by other means"};
inline constexpr FaultStudy kPressureDrift{
    "tells the pressure", "ageing of the bridge", "reads ever higher", "flow, density or load are misjudged",
    "balance of flow and apertures", "zero at rest, estimate from the other pressures", 3,
    "the margin is kept by other means"};
inline constexpr FaultStudy kPressureFrozen{
    "tells the pressure", "converter hangs, line frosts up", "reads the last value for ever",
    "the next change is not seen", "a reading without noise", "estimate from the other pressures", 3,
    "harm only comes with the next change"};
inline constexpr FaultStudy kFlowDrift{
    "tells the flow", "dust on the sensor, ageing", "reads too much", "utilisation is misjudged: less gas than believed",
    "mass and carbon balance, Faraday's law", "estimate from speed and density", 2,
    "less gas than believed leads to coke"};
inline constexpr FaultStudy kFlowGain{
    "tells the flow", "another gas, wrong range", "reads too little", "utilisation is misjudged: more gas than needed",
    "mass and carbon balance, Faraday's law", "estimate from speed and density", 3, "power is lost, not margin"};
inline constexpr FaultStudy kAnalyserPoisoned{
    "tells the CO in the exhaust", "dust and deposits in the cell", "reads too little", "utilisation is misjudged",
    "carbon balance with current and feed", "estimate from current and feed", 3, "the estimate takes over"};
inline constexpr FaultStudy kAnalyserSaturated{
    "tells the CO in the exhaust", "detector at its rail", "reads the end of its span", "utilisation is misjudged",
    "carbon balance with current and feed", "estimate from current and feed", 3, "the estimate takes over"};
inline constexpr FaultStudy kOxygenDrift{
    "tells the purity", "ageing of the zirconia", "reads too little", "good product is taken for bad",
    "oxygen balance with current and product flow", "estimate from current and leak", 4, "only the log is wrong"};
inline constexpr FaultStudy kTapOpen{
    "tells the voltage of a cell", "wire breaks", "no reading", "that cell is blind to the coke limit",
    "missing reading", "mean of the others with a margin", 3, "a blind cell needs a wider margin"};
inline constexpr FaultStudy kTapBias{
    "tells the voltage of a cell", "leak between taps, reference", "reads too high",
    "the margin of that cell is misjudged and holds back the stack", "its resistance against the others, at all currents",
    "estimate from the others", 3, "some oxygen is lost; a negative error would cost margin"};

inline constexpr FaultStudy kStackVoltageOpen{
    "tells the voltage of the stack", "wire breaks", "no reading", "no tap can be compared with the others",
    "missing reading", "sum of the taps", 4, "harm only comes with a tap that is wrong too"};
inline constexpr FaultStudy kStackVoltageBias{
    "tells the voltage of the stack", "divider, reference", "reads too high",
    "the taps seem to read low: the margin counts as smaller", "sum of the taps, none of which differs from the others",
    "sum of the taps", 4, "some oxygen is lost"};

inline constexpr FaultRow kInstrumentFaults[] = {
  {.name = "zone-thermocouple-open", .component = "zone thermocouple", .mode = "open",
   .effect = FaultEffect::sensor, .target = "zone_temperature", .sensor = SensorFaultMode::open, .item = 2,
   .study = kThermocoupleOpen},
  {.name = "zone-thermocouple-drifting", .component = "zone thermocouple", .mode = "drifting",
   .effect = FaultEffect::sensor, .target = "zone_temperature", .sensor = SensorFaultMode::bias, .item = 2,
   .unit = "K", .size = 25.0, .lower = -200.0, .upper = 200.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kThermocoupleDrift},
  {.name = "zone-thermocouples-swapped", .component = "zone thermocouple", .mode = "two exchanged",
   .effect = FaultEffect::swap, .target = "zone_temperature", .item = 0,
   .study = kThermocouplesSwapped,
   .unseen = kNeighboursAlike},
  {.name = "end-thermocouple-open", .component = "end thermocouple", .mode = "open",
   .effect = FaultEffect::sensor, .target = "end_temperature", .sensor = SensorFaultMode::open, .item = 0,
   .study = kThermocoupleOpen},
  {.name = "end-thermocouple-drifting", .component = "end thermocouple", .mode = "drifting",
   .effect = FaultEffect::sensor, .target = "end_temperature", .sensor = SensorFaultMode::bias, .item = 0,
   .unit = "K", .size = 25.0, .lower = -200.0, .upper = 200.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kThermocoupleDrift},
  {.name = "end-thermocouples-swapped", .component = "end thermocouple", .mode = "two exchanged",
   .effect = FaultEffect::swap, .target = "end_temperature", .item = 0,
   .study = kThermocouplesSwapped,
   .unseen = kNeighboursAlike},
  {.name = "preheater-thermocouple-open", .component = "preheater thermocouple", .mode = "open",
   .effect = FaultEffect::sensor, .target = "preheater_temperature", .sensor = SensorFaultMode::open,
   .study = kThermocoupleOpen},
  {.name = "preheater-thermocouple-drifting", .component = "preheater thermocouple", .mode = "drifting",
   .effect = FaultEffect::sensor, .target = "preheater_temperature", .sensor = SensorFaultMode::bias,
   .unit = "K", .size = 40.0, .lower = -200.0, .upper = 200.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kThermocoupleDrift,
   .unseen = kPreheaterAlone},
  {.name = "plenum-pressure-bias", .component = "plenum pressure sensor", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "plenum_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 5000.0, .lower = -50000.0, .upper = 50000.0,
   .study = kPressureBias},
  {.name = "plenum-pressure-drift", .component = "plenum pressure sensor", .mode = "drift",
   .effect = FaultEffect::sensor, .target = "plenum_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 5000.0, .lower = -50000.0, .upper = 50000.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kPressureDrift},
  {.name = "plenum-pressure-frozen", .component = "plenum pressure sensor", .mode = "frozen",
   .effect = FaultEffect::sensor, .target = "plenum_pressure", .sensor = SensorFaultMode::frozen,
   .study = kPressureFrozen},
  {.name = "cathode-pressure-bias", .component = "cathode pressure sensor", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "cathode_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 5000.0, .lower = -50000.0, .upper = 50000.0,
   .study = kPressureBias},
  {.name = "cathode-pressure-drift", .component = "cathode pressure sensor", .mode = "drift",
   .effect = FaultEffect::sensor, .target = "cathode_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 5000.0, .lower = -50000.0, .upper = 50000.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kPressureDrift},
  {.name = "cathode-pressure-frozen", .component = "cathode pressure sensor", .mode = "frozen",
   .effect = FaultEffect::sensor, .target = "cathode_pressure", .sensor = SensorFaultMode::frozen,
   .study = kPressureFrozen},
  {.name = "anode-pressure-bias", .component = "anode pressure sensor", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "anode_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 5000.0, .lower = -50000.0, .upper = 50000.0,
   .study = kPressureBias},
  {.name = "anode-pressure-drift", .component = "anode pressure sensor", .mode = "drift",
   .effect = FaultEffect::sensor, .target = "anode_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 5000.0, .lower = -50000.0, .upper = 50000.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kPressureDrift},
  {.name = "anode-pressure-frozen", .component = "anode pressure sensor", .mode = "frozen",
   .effect = FaultEffect::sensor, .target = "anode_pressure", .sensor = SensorFaultMode::frozen,
   .study = kPressureFrozen},
  {.name = "ambient-pressure-bias", .component = "ambient pressure sensor", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "ambient_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 60.0, .lower = -500.0, .upper = 500.0,
   .study = kPressureBias},
  {.name = "ambient-pressure-drift", .component = "ambient pressure sensor", .mode = "drift",
   .effect = FaultEffect::sensor, .target = "ambient_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 60.0, .lower = -500.0, .upper = 500.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kPressureDrift},
  {.name = "ambient-pressure-frozen", .component = "ambient pressure sensor", .mode = "frozen",
   .effect = FaultEffect::sensor, .target = "ambient_pressure", .sensor = SensorFaultMode::frozen,
   .study = kPressureFrozen},
  {.name = "filter-difference-bias", .component = "filter difference sensor", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "filter_differential_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 30.0, .lower = -300.0, .upper = 300.0,
   .study = kPressureBias},
  {.name = "filter-difference-drift", .component = "filter difference sensor", .mode = "drift",
   .effect = FaultEffect::sensor, .target = "filter_differential_pressure", .sensor = SensorFaultMode::bias,
   .unit = "Pa", .size = 30.0, .lower = -300.0, .upper = 300.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kPressureDrift},
  {.name = "filter-difference-frozen", .component = "filter difference sensor", .mode = "frozen",
   .effect = FaultEffect::sensor, .target = "filter_differential_pressure", .sensor = SensorFaultMode::frozen,
   .study = kPressureFrozen},
  {.name = "feed-flow-drift", .component = "feed flow meter", .mode = "zero drifts",
   .effect = FaultEffect::sensor, .target = "feed_flow", .sensor = SensorFaultMode::bias,
   .unit = "kg/s", .size = 1.5e-6, .lower = -2e-5, .upper = 2e-5, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kFlowDrift,
   .unseen = "a zero that drifts while the plant is at rest is taken out by the self-calibration, to its bound"},
  {.name = "feed-flow-gain", .component = "feed flow meter", .mode = "gain lost",
   .effect = FaultEffect::sensor, .target = "feed_flow", .sensor = SensorFaultMode::gain,
   .unit = "1", .size = -0.12, .lower = -0.9, .upper = 1.0,
   .study = kFlowGain},
  {.name = "product-flow-drift", .component = "product flow meter", .mode = "zero drifts",
   .effect = FaultEffect::sensor, .target = "product_flow", .sensor = SensorFaultMode::bias,
   .unit = "kg/s", .size = 3e-7, .lower = -1e-5, .upper = 1e-5, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kFlowDrift},
  {.name = "product-flow-gain", .component = "product flow meter", .mode = "gain lost",
   .effect = FaultEffect::sensor, .target = "product_flow", .sensor = SensorFaultMode::gain,
   .unit = "1", .size = -0.12, .lower = -0.9, .upper = 1.0,
   .study = kFlowGain},
  {.name = "co-analyser-poisoned", .component = "CO analyser", .mode = "poisoned",
   .effect = FaultEffect::sensor, .target = "outlet_co_fraction", .sensor = SensorFaultMode::gain,
   .unit = "1", .size = -0.3, .lower = -1.0, .upper = 0.0, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kAnalyserPoisoned,
   .unseen = "an error that is there before the cells first make CO is taken for a gain and calibrated, to its bound"},
  {.name = "co-analyser-saturated", .component = "CO analyser", .mode = "saturated",
   .effect = FaultEffect::sensor, .target = "outlet_co_fraction", .sensor = SensorFaultMode::saturated,
   .unit = "1", .size = 1.0, .lower = 0.0, .upper = 1.0,
   .study = kAnalyserSaturated},
  {.name = "oxygen-analyser-drift", .component = "O2 analyser", .mode = "drift",
   .effect = FaultEffect::sensor, .target = "product_oxygen_fraction", .sensor = SensorFaultMode::gain,
   .unit = "1", .size = -0.08, .lower = -0.5, .upper = 0.5, .shape = FaultShape::ramp, .rise = kHalfHour,
   .study = kOxygenDrift},
  {.name = "cell-tap-open", .component = "cell voltage tap", .mode = "open",
   .effect = FaultEffect::sensor, .target = "cell_voltage", .sensor = SensorFaultMode::open, .item = 4,
   .study = kTapOpen},
  {.name = "cell-tap-bias", .component = "cell voltage tap", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "cell_voltage", .sensor = SensorFaultMode::bias, .item = 4,
   .unit = "V", .size = 0.03, .lower = -1.0, .upper = 1.0,
   .study = kTapBias,
   .unseen = "an error that is there before the first current is learnt as a property of that cell"},
  {.name = "stack-voltage-open", .component = "stack voltage meter", .mode = "open",
   .effect = FaultEffect::sensor, .target = "stack_voltage", .sensor = SensorFaultMode::open,
   .study = kStackVoltageOpen},
  {.name = "stack-voltage-bias", .component = "stack voltage meter", .mode = "bias",
   .effect = FaultEffect::sensor, .target = "stack_voltage", .sensor = SensorFaultMode::bias,
   .unit = "V", .size = 0.1, .lower = -5.0, .upper = 5.0,
   .study = kStackVoltageBias},
};
// clang-format on

}  // namespace duskline::plant
