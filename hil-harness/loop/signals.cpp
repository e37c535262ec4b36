#include "hil-harness/loop/signals.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <mutex>
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

#define ONE(...) +1
/// Before those of single cells, which are the last of the list.
constexpr std::size_t kPlantResiduals = (0 CTL_RESIDUAL_LIST(ONE)) - CTL_CELLS;
#undef ONE

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

// One row a signal: S scalar, A array along an axis, F flags, each of a module; R scalar of the run; P scalar and W
// flags of what modules between headers share, E flags that the plant controller has for each of them, `n`. The
// expression sees the snapshot as `s` and, in an array, the place as `i`.
#define ROW(scope, group, name, axis, width, unit, words, masks, meaning, ...)    \
  Signal {                                                                        \
    {name, unit, meaning, axis, width, group, words, masks},                      \
        [](const Snapshot& s, double* out) { __VA_ARGS__; }, Signal::Scope::scope \
  }
#define NO_WORDS \
  std::vector<std::string> {}
#define S(group, name, unit, meaning, expression) \
  ROW(module, group, name, "", 1, unit, NO_WORDS, false, meaning, *out = (expression))
#define R(group, name, unit, meaning, expression) \
  ROW(run, group, name, "", 1, unit, NO_WORDS, false, meaning, *out = (expression))
#define P(group, name, unit, meaning, expression) \
  ROW(shared, group, name, "", 1, unit, NO_WORDS, false, meaning, *out = (expression))
#define A(group, name, axis, width, unit, meaning, expression)          \
  ROW(module, group, name, axis, width, unit, NO_WORDS, false, meaning, \
      for (std::size_t i = 0; i < (width); ++i) out[i] = (expression))
#define F(group, name, words, masks, meaning, expression) \
  ROW(module, group, name, "", 1, "1", words, masks, meaning, *out = (expression))
#define E(group, name, words, meaning, expression)          \
  ROW(each, group, name, "", 1, "1", words, false, meaning, \
      for (std::size_t n = 0; n < s.modules.size(); ++n) out[n] = (expression))
#define W(group, name, words, masks, meaning, expression) \
  ROW(shared, group, name, "", 1, "1", words, masks, meaning, *out = (expression))

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
      F("control", "unexplained", only_words(residual_words().first(kPlantResiduals)), true,
        "residuals in alarm that no fault explained, while the model is suspect",
        s.control.unexplained & ((1U << kPlantResiduals) - 1)),
      F("control", "unexplained_cells", only_words(residual_words().subspan(kPlantResiduals)), true,
        "those of single cells", s.control.unexplained >> kPlantResiduals),
      F("control", "suspect", words_of_channels(0, kScalars), true, "measurements that are suspect",
        static_cast<double>(doubts(s) & ((std::uint64_t{1} << kScalars) - 1))),
      F("control", "suspect_items", words_of_channels(kScalars, scenarios::kReadingChannels), true,
        "items of measurements along the stack that are suspect", static_cast<double>(doubts(s) >> kScalars)),
      F("control", "corrected", correction_words(), true, "instruments that the controller corrects",
        s.control.corrected),
      A("control", "instrument_correction", "correction", std::size_t{CTL_CORRECTIONS}, "1",
        "correction of each instrument, in the unit of the controller's list", s.control.correction[i]),
      R("control", "command_age", "s", "time since the last word of the operator", s.measured.command_age),
      F("control", "requested_mode", only_words(mode_words()), false, "mode that the operator asks for",
        s.measured.requested_mode),
      F("control", "operator_action", only_words(alarm_action_words()), false,
        "what the operator does to alarms at this tick", s.measured.alarm_action),
      F("control", "named_causes", only_words(diagnosis_words()), true,
        "causes that the operator has named so far", s.named_causes),
      R("control", "active_faults", "1", "faults of the scenario that act", s.active_faults),

      R("weather", "ambient_pressure", "Pa", "ambient pressure", s.ambient.pressure),
      R("weather", "ambient_temperature", "K", "air temperature at the intake", s.ambient.temperature),
      R("weather", "ambient_density", "kg m-3", "density of the air at the intake", s.ambient_density),
      R("weather", "wind_speed", "m s-1", "wind speed", s.ambient.wind_speed),
      R("weather", "optical_depth", "1", "dust optical depth", s.ambient.optical_depth),
      R("weather", "solar_elevation", "rad", "elevation of the sun above the horizon",
        s.ambient.solar_elevation),
      R("weather", "local_time", "1", "local true solar time as a fraction of the sol", s.ambient.local_time),
      R("weather", "areocentric_longitude", "rad", "season", s.ambient.areocentric_longitude),
      R("weather", "sky_temperature", "K", "effective temperature of the sky", s.ambient.sky_temperature),
      R("weather", "ground_temperature", "K", "ground temperature", s.ambient.ground_temperature),

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

      R("gas", "intake_flow", "kg s-1", "air through the filter", s.plant.intake_flow),
      S("gas", "feed_flow", "kg s-1", "gas from the plenum to the cathode", s.plant.feed_flow),
      S("gas", "exhaust_flow", "kg s-1", "cathode gas through the exhaust aperture", s.plant.exhaust_flow),
      S("gas", "recycle_flow", "kg s-1", "cathode gas returned to the suction", s.plant.recycle_flow),
      S("gas", "inlet_co", "1", "mole fraction of CO at the cells, after the oxygen of the feed has burnt",
        s.plant.inlet_gas[plant::CO]),
      R("gas", "plenum_pressure", "Pa", "plenum pressure", s.plant.plenum_pressure),
      S("gas", "cathode_pressure", "Pa", "cathode pressure", s.plant.cathode_pressure),
      S("gas", "anode_pressure", "Pa", "anode pressure", s.plant.anode_pressure),
      R("gas", "suction_pressure", "Pa", "pressure between filter and compressor", s.plant.suction_pressure),
      R("gas", "filter_dust", "kg", "dust held by the filter", s.plant.filter_dust),

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
      R("heat", "compressor_temperature", "K", "temperature of the compressor shell",
        s.plant.truth.compressor_temperature),
      R("heat", "discharge_temperature", "K", "temperature of the gas that leaves the compressor",
        s.plant.discharge_temperature),
      R("heat", "housing_temperature", "K", "temperature of the housing", s.plant.truth.housing_temperature),
      S("heat", "stack_gradient", "K", "largest difference between neighbouring zones", s.plant.gradient),

      R("drive", "compressor_speed", "rad s-1", "shaft speed of the compressor",
        s.plant.truth.compressor_speed),
      S("drive", "stack_current", "A", "stack current", s.plant.truth.stack_current),
      S("drive", "recycle_opening", "1", "opening of the recycle valve", s.plant.recycle_opening),

      R("power", "bus_power", "W", "power drawn from the bus", s.plant.bus_power),
      S("power", "power_ceiling", "W", "power that the bus allows", s.measured.power_ceiling),
      S("power", "stack_power", "W", "power of the stack", s.plant.stack_power),
      R("power", "compressor_power", "W", "power of the compressor drive", s.plant.compressor_power),
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

#define H(name, unit, meaning, member) P("plant", name, unit, meaning, s.shared->plant.member),
              W("plant", "plant_mode", only_words(plant_mode_words()), false, "mode of the plant controller",
                s.shared->control.mode),
      W("plant", "plant_limiter", only_words(plant_limiter_words()), false,
        "what holds the oxygen of the plant down", s.shared->control.limiter),
      W("plant", "plant_tripped", only_words(plant_condition_words()), true,
        "reasons of the latest interlock of the plant", s.shared->control.tripped),
      W("plant", "plant_unmet_permissives", only_words(plant_condition_words()), true,
        "permissives that the mode asked of the plant lacks", s.shared->control.unmet_permissives),
      W("plant", "plant_diagnosed", only_words(plant_diagnosis_words()), true,
        "what the plant controller has diagnosed", s.shared->control.diagnosed),
      W("plant", "shed", only_words(shed_words()), true, "what was switched off to keep the power ceiling",
        s.shared->control.shed),
      W("plant", "requested_plant_mode", only_words(plant_mode_words()), false,
        "mode that the operator asks of the plant", s.shared->measured.requested_mode),
      E("plant", "module_service", only_words(service_words()), "what the operator says of each module",
        s.service[n]),
      E("plant", "module_producing", NO_WORDS, "whether the plant controller asks it to produce",
        s.shared->control.producing >> n & 1U),
      E("plant", "module_isolated", NO_WORDS, "whether its valves are held shut",
        s.shared->control.isolated >> n & 1U),
      E("plant", "module_released", NO_WORDS, "whether it is cold, off and isolated: it may be worked on",
        s.shared->control.released >> n & 1U),
      P("plant", "plant_alarms_active", "1", "alarms of the plant controller that stand",
        s.shared->control.alarms_active),
      P("plant", "plant_oxygen_demand", "kg s-1", "oxygen asked of the plant",
        s.shared->measured.oxygen_demand),
      P("plant", "plant_oxygen_rate", "kg s-1", "oxygen made by all modules", s.plant.oxygen_made),
      H("plant_oxygen_delivered", "kg s-1", "oxygen to the liquefier", oxygen_delivered)
          P("plant", "plant_power_ceiling", "W", "power that the bus allows the plant",
            s.shared->measured.power_ceiling),
      P("plant", "plant_coke_margin", "V", "least coke margin of the hot cells of all modules",
        s.coke_margin),
      P("plant", "plant_nickel_ratio", "1", "least nickel ratio at the hot inlets of all modules",
        s.nickel_ratio),
      P("plant", "pressure_across", "Pa", "product header less exhaust header",
        s.shared->plant.truth.product_header_pressure - s.shared->plant.truth.exhaust_header_pressure),
      H("surge_margin", "1", "flow over that at surge, less 1, of the stage that is nearest to it",
        surge_margin)
          H("choke_margin", "1", "head room to choke of the stage that is nearest to it", choke_margin)
              P("plant", "estimated_surge_margin", "1", "that margin, estimated by the plant controller",
                s.shared->control.surge_margin),
      H("compressor_flow", "kg s-1", "flow through the compressor, below 0 in reverse", truth.compressor_flow)
          H("feed_header_pressure", "Pa", "pressure of the feed header", truth.feed_header_pressure) H(
              "exhaust_header_pressure", "Pa", "pressure of the exhaust header",
              truth.exhaust_header_pressure) H("product_header_pressure", "Pa",
                                               "pressure of the product header",
                                               truth.product_header_pressure)
              H("feed_header_co", "1", "mole fraction of CO in the feed header",
                truth.feed_header_co_fraction) H("feed_header_temperature", "K", "gas in the feed header",
                                                 truth.feed_header_temperature)
                  H("anti_surge_opening", "1", "where the anti-surge valve stands", anti_surge_opening) H(
                      "header_recycle_opening", "1", "where the recycle valve of the headers stands",
                      recycle_opening)
                      H("exhaust_opening", "1", "where the exhaust valve stands", exhaust_opening) H(
                          "product_opening", "1", "where the product valve stands", product_opening)
                          H("anti_surge_flow", "kg s-1", "gas through the anti-surge valve", anti_surge_flow)
                              H("header_recycle_flow", "kg s-1", "exhaust that returns to the suction",
                                recycle_flow) H("header_exhaust_flow", "kg s-1",
                                                "exhaust that leaves the plant", exhaust_flow)
                                  H("liquefier_power", "W", "power of the liquefier", liquefier_power)
                                      H("dryer_power", "W", "power of the dryer", dryer_power)
                                          H("others_power", "W", "power of others on the bus", others_power)
#undef H
#define READING(name, unit, lower, upper, first, sheet, meaning, source) \
  P("plant reading", "plant_" #name "_reading", unit, "reading: " meaning, s.shared->measured.name),
                                              CTL_PLANT_INPUT_LIST(READING)
#undef READING
#define COMMAND(name, unit, least, most, step, unpowered, meaning) \
  P("plant command", "plant_" #name "_command", unit, meaning, s.shared->control.name),
                                                  CTL_PLANT_OUTPUT_LIST(COMMAND)
#undef COMMAND
  };
}

#undef ROW
#undef NO_WORDS
#undef R
#undef P
#undef W
#undef E
#undef S
#undef A
#undef F

/// The rows that a plant with this many modules between headers has.
std::vector<Signal> table_of(std::size_t modules) {
  std::vector<Signal> table;
  for (Signal& row : make_table()) {
    const bool of_headers = row.scope == Signal::Scope::shared || row.scope == Signal::Scope::each;
    if (of_headers && modules == 0) continue;
    const bool of_modules = row.scope == Signal::Scope::module || row.scope == Signal::Scope::each;
    if (of_modules && modules > 0) {
      row.info.modules = modules;
      row.info.width *= modules;
    }
    table.push_back(std::move(row));
  }
  return table;
}

}  // namespace

const std::vector<Signal>& signal_table(std::size_t modules) {
  static std::array<std::once_flag, plant::kMostModules + 1> made;
  static std::array<std::vector<Signal>, plant::kMostModules + 1> tables;
  std::call_once(made[modules], [&] { tables[modules] = table_of(modules); });
  return tables[modules];
}

void Signal::read(const Snapshot& s, double* out) const {
  if (info.modules == 0 || scope == Scope::each) return of(s, out);
  for (std::size_t n = 0; n < info.modules; ++n) of(*s.modules[n], out + n * info.places());
}

void read_signals(const Snapshot& s, std::span<double> out) {
  std::size_t offset = 0;
  for (const Signal& signal : signal_table(s)) {
    signal.read(s, &out[offset]);
    offset += signal.info.width;
  }
}

}  // namespace duskline::harness
