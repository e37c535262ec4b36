#include "hil-harness/loop/signals.hpp"

#include <algorithm>
#include <limits>
#include <string_view>

#include "hil-harness/loop/words.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using plant::kCells;
using plant::kEnds;
using plant::kZones;

/// "zone_temperature[1]" as words: blanks for what is no letter and no digit.
std::string plain(std::string_view name) {
  std::string words;
  for (const char c : name)
    if (c != ']') words += c == '_' || c == '[' ? ' ' : c;
  return words;
}

// Doubts about measurements: one word for each scalar, and one for each item of the arrays, which follow them.
constexpr std::size_t kScalars = scenarios::kReadingChannels - CTL_ENDS - CTL_ZONES - CTL_CELLS;
std::vector<std::string> words_of_channels(std::size_t from, std::size_t to) {
  std::vector<std::string> words;
  for (std::size_t i = from; i < to; ++i) words.push_back(plain(scenarios::reading_channels()[i].name));
  return words;
}
std::uint64_t doubts(const Snapshot& s) {
  return std::uint64_t{s.control.suspect[1]} << 32U | s.control.suspect[0];
}

/// Axis of a row of the controller's lists by its count.
constexpr const char* axis_of(std::string_view count) {
  return count == "CTL_CELLS" ? "cell" : count == "CTL_ZONES" ? "zone" : count == "CTL_ENDS" ? "end" : "";
}

// One row a signal: S scalar, A array along an axis, F flags. The expression sees the snapshot as `s`
// and, in an array, the place as `i`.
#define S(group, name, unit, meaning, expression)                   \
  Signal {                                                          \
    {name, unit, meaning, "", 1, group, {}, false},                 \
        [](const Snapshot& s, double* out) { *out = (expression); } \
  }
#define A(group, name, axis, width, unit, meaning, expression)                                 \
  Signal {                                                                                     \
    {name, unit, meaning, axis, width, group, {}, false}, [](const Snapshot& s, double* out) { \
      for (std::size_t i = 0; i < (width); ++i) out[i] = (expression);                         \
    }                                                                                          \
  }
#define F(group, name, words, masks, meaning, expression)           \
  Signal {                                                          \
    {name, "1", meaning, "", 1, group, words, masks},               \
        [](const Snapshot& s, double* out) { *out = (expression); } \
  }

std::vector<Signal> make_table() {
  return {
      F("control", "mode", only_words(mode_words()), false, "mode in force", s.control.mode),
      S("control", "answer_age", "s", "time since the readings that the commands in force answer",
        s.answer_age),
      F("control", "limiter", only_words(limiter_words()), false, "what holds the stack current down",
        s.control.limiter),
      F("control", "unmet_permissives", only_words(condition_words()), true,
        "permissives that the requested mode lacks", s.control.unmet_permissives),
      F("control", "tripped", only_words(condition_words()), true, "reasons of the latest interlock",
        s.control.tripped),
      S("control", "alarms_active", "1", "alarms that stand, acknowledged or not", s.control.alarms_active),
      S("control", "alarms_unacknowledged", "1", "alarms that nobody has seen",
        s.control.alarms_unacknowledged),
      A("control", "alarm_state", "alarm", CTL_ALARMS, "1",
        "state of each alarm: 0 normal, 1 unacknowledged, 2 acknowledged, 3 returned unacknowledged, 4 "
        "latched "
        "unacknowledged, 5 latched acknowledged, 6 shelved, 7 suppressed by design, 8 out of service",
        s.control.alarm_state[i]),
      F("control", "law", only_words(law_words()), false, "control law in force", s.control.law),
      F("control", "response", only_words(response_words()), false,
        "how far the controller goes for what it found", s.control.response),
      F("control", "diagnosed", only_words(diagnosis_words()), true, "what the controller has diagnosed",
        s.control.diagnosed),
      F("control", "unexplained", only_words(residual_words()), true,
        "residuals in alarm that no fault explained, while the model is suspect", s.control.unexplained),
      F("control", "suspect", words_of_channels(0, kScalars), true, "measurements that are suspect",
        static_cast<double>(doubts(s) & ((std::uint64_t{1} << kScalars) - 1))),
      F("control", "suspect_items", words_of_channels(kScalars, scenarios::kReadingChannels), true,
        "items of measurements along the stack that are suspect", static_cast<double>(doubts(s) >> kScalars)),
      F("control", "corrected", correction_words(), true, "instruments that the controller corrects",
        s.control.corrected),
      A("control", "instrument_correction", "correction", std::size_t{CTL_CORRECTIONS}, "1",
        "correction of each instrument, in the unit of the controller's list", s.control.correction[i]),
      S("control", "command_age", "s", "time since the last word of the operator", s.measured.command_age),
      F("control", "requested_mode", only_words(mode_words()), false, "mode that the operator asks for",
        s.measured.requested_mode),
      F("control", "operator_action", only_words(alarm_action_words()), false,
        "what the operator does to alarms at this tick", s.measured.alarm_action),
      F("control", "named_causes", only_words(diagnosis_words()), true,
        "causes that the operator has named so far", s.named_causes),
      S("control", "active_faults", "1", "faults of the scenario that act", s.active_faults),

      S("weather", "ambient_pressure", "Pa", "ambient pressure", s.ambient.pressure),
      S("weather", "ambient_temperature", "K", "air temperature at the intake", s.ambient.temperature),
      S("weather", "ambient_density", "kg m-3", "density of the air at the intake", s.ambient_density),
      S("weather", "wind_speed", "m s-1", "wind speed", s.ambient.wind_speed),
      S("weather", "optical_depth", "1", "dust optical depth", s.ambient.optical_depth),
      S("weather", "solar_elevation", "rad", "elevation of the sun above the horizon",
        s.ambient.solar_elevation),
      S("weather", "local_time", "1", "local true solar time as a fraction of the sol", s.ambient.local_time),
      S("weather", "areocentric_longitude", "rad", "season", s.ambient.areocentric_longitude),
      S("weather", "sky_temperature", "K", "effective temperature of the sky", s.ambient.sky_temperature),
      S("weather", "ground_temperature", "K", "ground temperature", s.ambient.ground_temperature),

      S("production", "oxygen_rate", "kg s-1", "oxygen made in the stack", s.plant.oxygen_made),
      S("production", "oxygen_demand", "kg s-1", "oxygen asked for", s.measured.oxygen_demand),
      S("production", "oxygen_delivered", "kg s-1", "oxygen leaving the anode", s.plant.oxygen_delivered),
      S("production", "product_flow", "kg s-1", "gas leaving the anode", s.plant.product_flow),
      S("production", "product_purity", "1", "mole fraction of oxygen in the product",
        s.plant.anode_gas[plant::O2]),

      A("limits", "cell_voltage", "cell", kCells, "V", "voltage of each cell", s.plant.cells.voltage[i]),
      A("limits", "coke_onset_voltage", "cell", kCells, "V",
        "coke-onset voltage of each cell locally and instantaneously", s.plant.cells.onset_voltage[i]),
      A("limits", "cell_coke_margin", "cell", kCells, "V", "coke-onset voltage less voltage of each cell",
        s.plant.cells.margin[i]),
      S("limits", "coke_margin", "V", "least coke margin of the cells that are hot (above 600 degC)",
        s.coke_margin),
      S("limits", "nickel_ratio", "1", "least CO/CO2 at a hot inlet over the ratio at which nickel oxidises",
        s.nickel_ratio),
      S("limits", "worst_cell", "1", "number of the cell with the least coke margin",
        static_cast<double>(s.worst_cell + 1)),
      S("limits", "utilisation", "1", "share of the CO2 entering the cathode that is converted",
        std::max(0.0, s.plant.utilisation)),
      A("limits", "outlet_co", "cell", kCells, "1", "mole fraction of CO at the outlet of each cell",
        s.plant.cells.outlet_co[i]),
      A("limits", "carbon", "cell", kCells, "mol", "carbon held by each cell", s.plant.cells.carbon[i]),
      A("limits", "nickel_oxide", "cell", kCells, "mol", "nickel oxide held by each cell",
        s.plant.cells.oxide[i]),
      A("limits", "damage", "cell", kCells, "1", "irreversible damage of each cell by carbon and oxide",
        s.plant.cells.damage[i]),
      A("limits", "ageing", "cell", kCells, "ohm m2", "resistance added by hours and thermal cycles",
        s.plant.cells.ageing[i]),

      S("gas", "intake_flow", "kg s-1", "air through the filter", s.plant.intake_flow),
      S("gas", "feed_flow", "kg s-1", "gas from the plenum to the cathode", s.plant.feed_flow),
      S("gas", "exhaust_flow", "kg s-1", "cathode gas through the exhaust aperture", s.plant.exhaust_flow),
      S("gas", "recycle_flow", "kg s-1", "cathode gas returned to the suction", s.plant.recycle_flow),
      S("gas", "inlet_co", "1", "mole fraction of CO at the cells, after the oxygen of the feed has burnt",
        s.plant.inlet_gas[plant::CO]),
      S("gas", "plenum_pressure", "Pa", "plenum pressure", s.plant.plenum_pressure),
      S("gas", "cathode_pressure", "Pa", "cathode pressure", s.plant.cathode_pressure),
      S("gas", "anode_pressure", "Pa", "anode pressure", s.plant.anode_pressure),
      S("gas", "suction_pressure", "Pa", "pressure between filter and compressor", s.plant.suction_pressure),
      S("gas", "filter_dust", "kg", "dust held by the filter", s.plant.filter_dust),

      A("heat", "zone_temperature", "zone", kZones, "K", "mean temperature of each zone along the stack",
        s.plant.zone_temperature[i]),
      A("heat", "end_temperature", "end", kEnds, "K", "temperature of each end plate",
        s.plant.truth.end_temperature[i]),
      S("heat", "temperature_setpoint", "K", "ramped set-point of the stack temperature",
        s.control.temperature_setpoint),
      S("heat", "preheater_temperature", "K", "temperature of the preheater",
        s.plant.truth.preheater_temperature),
      S("heat", "feed_temperature", "K", "temperature of the gas that enters the stack",
        s.plant.feed_temperature),
      S("heat", "compressor_temperature", "K", "temperature of the compressor shell",
        s.plant.truth.compressor_temperature),
      S("heat", "discharge_temperature", "K", "temperature of the gas that leaves the compressor",
        s.plant.discharge_temperature),
      S("heat", "housing_temperature", "K", "temperature of the housing", s.plant.truth.housing_temperature),
      S("heat", "stack_gradient", "K", "largest difference between neighbouring zones", s.plant.gradient),

      S("drive", "compressor_speed", "rad s-1", "shaft speed of the compressor",
        s.plant.truth.compressor_speed),
      S("drive", "stack_current", "A", "stack current", s.plant.truth.stack_current),
      S("drive", "recycle_opening", "1", "opening of the recycle valve", s.plant.recycle_opening),

      S("power", "bus_power", "W", "power drawn from the bus", s.plant.bus_power),
      S("power", "power_ceiling", "W", "power that the bus allows", s.measured.power_ceiling),
      S("power", "stack_power", "W", "power of the stack", s.plant.stack_power),
      S("power", "compressor_power", "W", "power of the compressor drive", s.plant.compressor_power),
      S("power", "heater_power", "W", "power of all heaters", s.plant.heater_power),

      S("estimate", "estimated_density", "kg m-3", "intake density, estimated by the controller",
        s.control.intake_density),
      S("estimate", "estimated_utilisation", "1", "utilisation, estimated by the controller",
        s.control.utilisation),
      S("estimate", "utilisation_setpoint", "1", "set-point of the utilisation loop",
        s.control.utilisation_setpoint),
      S("estimate", "estimated_coke_margin", "V", "least coke margin, estimated by the controller",
        s.control.coke_margin),
      S("estimate", "estimated_onset_voltage", "V",
        "coke-onset voltage of that cell, estimated by the controller", s.control.coke_onset_voltage),
      S("estimate", "estimated_inlet_co_ratio", "1", "CO/CO2 at the inlet, estimated by the controller",
        s.control.inlet_co_ratio),
      S("estimate", "estimated_oxygen_rate", "kg s-1", "oxygen made, estimated by the controller",
        s.control.oxygen_rate),
      S("estimate", "estimated_density_rate", "kg m-3 s-1",
        "rate of change of the density, estimated by the controller", s.control.intake_density_rate),
      S("estimate", "estimated_density_sigma", "kg m-3", "standard deviation of that density",
        s.control.intake_density_sigma),
      S("estimate", "estimated_outlet_co", "1",
        "mole fraction of CO in the exhaust, estimated by the controller", s.control.outlet_co_fraction),
      S("estimate", "estimated_coke_sigma", "V",
        "standard deviation of the coke margin, estimated by the controller", s.control.coke_sigma),
      S("estimate", "margin_in_sigmas", "1", "that margin in standard deviations",
        s.control.margin_in_sigmas),
      S("estimate", "margin_setpoint", "V", "coke margin that the override of the current keeps",
        s.control.margin_setpoint),
      S("estimate", "added_resistance", "ohm m2",
        "mean resistance beyond the model, estimated by the controller", s.control.added_resistance),
      S("estimate", "resistance_growth", "ohm m2 s-1", "growth of that resistance",
        s.control.resistance_growth),
      S("estimate", "estimated_filter_loading", "1", "pressure lost in the filter over that of a clean one",
        s.control.filter_loading),
      S("estimate", "estimated_compressor_efficiency", "1",
        "volumetric efficiency over that of a new machine", s.control.compressor_efficiency),
      S("estimate", "estimated_bearing_wear", "1", "bearing wear from the tone, 0 new, 1 worn out",
        s.control.bearing_wear),
      S("estimate", "consistency", "1", "mean normalised innovation squared, 1 when filters are consistent",
        s.control.consistency),
      S("estimate", "estimated_ohmic_resistance", "ohm m2",
        "ohmic part of the mean cell at 800 degC, identified by the controller", s.control.ohmic_resistance),
      S("estimate", "estimated_ohmic_resistance_sigma", "ohm m2", "its standard deviation",
        s.control.ohmic_resistance_sigma),
      S("estimate", "estimated_cathode_exchange", "A m-2",
        "exchange current density of the cathode at its reference, identified by the controller",
        s.control.cathode_exchange),
      S("estimate", "estimated_cathode_exchange_sigma", "A m-2", "its standard deviation",
        s.control.cathode_exchange_sigma),
      S("estimate", "estimated_anode_exchange", "A m-2",
        "exchange current density of the anode at its reference, identified by the controller",
        s.control.anode_exchange),
      S("estimate", "estimated_anode_exchange_sigma", "A m-2", "its standard deviation",
        s.control.anode_exchange_sigma),
      S("estimate", "estimated_electrode_diffusion", "m2 A-1",
        "rise of the CO fraction at the electrode per current density, identified by the controller",
        s.control.electrode_diffusion),
      S("estimate", "estimated_electrode_diffusion_sigma", "m2 A-1", "its standard deviation",
        s.control.electrode_diffusion_sigma),
      A("estimate", "estimated_cell_resistance", "cell", kCells, "ohm m2",
        "resistance beyond the model of each cell, estimated by the controller",
        s.control.cell_resistance[i]),
      A("estimate", "estimated_cell_coke_margin", "cell", kCells, "V",
        "coke margin of each cell, estimated by the controller", s.control.cell_coke_margin[i]),

#define READING(name, unit, lower, upper, first, sheet, meaning, source) \
  S("reading", #name "_reading", unit, "reading: " meaning, s.measured.name),
#define READINGS(name, count, unit, lower, upper, first, sheet, meaning, source) \
  A("reading", #name "_reading", axis_of(#count), count, unit, "reading: " meaning, s.measured.name[i]),
      CTL_INPUT_LIST(READING, READINGS)
#undef READING
#undef READINGS

#define COMMAND(name, unit, lower, upper, step, stays, meaning) \
  S("command", #name "_command", unit, meaning, s.control.name),
#define COMMANDS(name, count, unit, lower, upper, step, stays, meaning) \
  A("command", #name "_command", axis_of(#count), count, unit, meaning, s.control.name[i]),
          CTL_OUTPUT_LIST(COMMAND, COMMANDS)
#undef COMMAND
#undef COMMANDS
  };
}

#undef S
#undef A
#undef F

}  // namespace

const std::vector<Signal>& signal_table() {
  static const std::vector<Signal> table = make_table();
  return table;
}

void read_signals(const Snapshot& s, std::span<double> out) {
  std::size_t offset = 0;
  for (const Signal& signal : signal_table()) {
    signal.read(s, &out[offset]);
    offset += signal.info.width;
  }
}

}  // namespace duskline::harness
