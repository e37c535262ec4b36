/// A scenario's plant as a unit for co-simulation (FMI 2.0 or 3.0): what it offers, in the words of the standard.
///
/// What it is   the variables of the register map: readings and requests are outputs, commands are inputs
/// Symbols      SI; the reference of a variable is its address, commands kCommands further on
/// Validity     one communication step is a control period or whole periods of it
/// Source       Functional Mock-up Interface for Model Exchange and Co-Simulation, version 2.0; Functional Mock-up
///              Interface, version 3.0
/// Left out     states to save and restore, derivatives, model exchange, events, clocks, scheduled execution
#pragma once

#include <string>

#include "hil-harness/links/register_map.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

enum class UnitStandard { fmi2, fmi3 };

inline constexpr unsigned kCommands = 10000;
inline constexpr unsigned kUnitTime = 20000;               ///< reference of the time, a variable of 3.0
inline constexpr const char* kUnitName = "duskline_unit";  ///< of the model and of its shared object
inline constexpr const char *kUnitScenario = "scenario.yaml",
                            *kUnitWeather = "weather.csv";  ///< in its resources

/// The rows of the map that are variables of the unit, in order.
std::vector<const RegisterRow*> unit_variables();
/// "zone_temperature[1]", "command.end_power[1]".
std::string unit_name(const RegisterRow& row);
unsigned unit_reference(const RegisterRow& row);

/// Tells units apart: of the resolved scenario and the map.
std::string unit_guid(const std::string& resolved_scenario);
std::string unit_description(UnitStandard standard, const scenarios::Scenario& scenario,
                             const std::string& resolved_scenario, const std::string& version);

}  // namespace duskline::harness
