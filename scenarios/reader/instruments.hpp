/// The instruments and commands of a plant: the controller's lists as tables, with what a plant file changes of them.
///
/// What it is   a row of CTL_INPUT_LIST as the simulated sensor of plant-model/instruments/sensor.hpp, a row of
///              CTL_OUTPUT_LIST as it is; channels are the items of all rows, one after the other
/// Symbols      units of the row, SI
/// Validity     counts are fixed by the lists; a plant file changes numbers
/// Source       data sheets: controller/include/controller_instruments.h
/// Left out     errors that depend on temperature, pressure or composition
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
#include "plant-model/instruments/fault_table.hpp"
#include "plant-model/instruments/sensor.hpp"
#include "scenarios/reader/keys.hpp"

namespace duskline::scenarios {

struct InstrumentRow {
  plant::SensorSpec spec;  ///< drift of the zero as `walk`, not as its rate
  std::size_t count = 1;
  double walk = 0.0, walk_time = 1.0;  ///< unit, standard deviation of the drift after this time, s
  double expected_zero = 0.0;          ///< unit, limit of the zero error that the controller counts with
  double jump = 0.0;                   ///< unit, largest honest change in a second; 0: not tested
  std::string_view meaning, source;
};
using InstrumentTable = std::array<InstrumentRow, CTL_INSTRUMENTS>;

struct CommandRow {
  std::string_view name, unit;
  std::size_t count = 1;
  double lower = 0.0, upper = 0.0, step = 0.0;  ///< unit
  bool stays = false;                           ///< keeps its place without power
  std::string_view meaning;
};

constexpr InstrumentRow instrument_row(std::string_view name, std::size_t count, std::string_view unit,
                                       double lower, double upper, const ctl_data_sheet& s,
                                       std::string_view meaning, std::string_view source) {
  return {{.name = name,
           .unit = unit,
           .lag = s.lag,
           .noise = s.noise,
           .bias_class = s.zero,
           .gain_class = s.gain,
           .resolution = s.step,
           .lower = lower,
           .upper = upper},
          count,
          s.walk,
          s.walk_time,
          s.expected_zero,
          s.jump,
          meaning,
          source};
}

// clang-format off
#define DUSKLINE_ROW(name, unit, lower, upper, first, sheet, meaning, source) \
  instrument_row(#name, 1, unit, lower, upper, ctl_data_sheet sheet, meaning, source),
#define DUSKLINE_ROWS(name, count, unit, lower, upper, first, sheet, meaning, source) \
  instrument_row(#name, count, unit, lower, upper, ctl_data_sheet sheet, meaning, source),
inline constexpr InstrumentTable kInstrumentTable{CTL_INPUT_LIST(DUSKLINE_ROW, DUSKLINE_ROWS)};
#undef DUSKLINE_ROW
#undef DUSKLINE_ROWS
#define DUSKLINE_ROW(name, unit, lower, upper, step, stays, meaning) \
  {#name, unit, 1, lower, upper, step, (stays) != 0, meaning},
#define DUSKLINE_ROWS(name, count, unit, lower, upper, step, stays, meaning) \
  {#name, unit, count, lower, upper, step, (stays) != 0, meaning},
inline constexpr CommandRow kCommandTable[] = {CTL_OUTPUT_LIST(DUSKLINE_ROW, DUSKLINE_ROWS)};
#undef DUSKLINE_ROW
#undef DUSKLINE_ROWS
// clang-format on

// Of what several modules share, for the plant controller. Their random numbers are those of the plant: modules have
// instruments of the same names.
#define DUSKLINE_ROW(name, unit, lower, upper, first, sheet, meaning, source) \
  instrument_row("plant." #name, 1, unit, lower, upper, ctl_data_sheet sheet, meaning, source),
inline constexpr std::array<InstrumentRow, CTL_PLANT_INSTRUMENTS> kSharedInstruments{
    CTL_PLANT_INPUT_LIST(DUSKLINE_ROW)};
#undef DUSKLINE_ROW

template <class Table>
constexpr std::size_t count_channels(const Table& table) {
  std::size_t sum = 0;
  for (const auto& row : table) sum += row.count;
  return sum;
}
inline constexpr std::size_t kReadingChannels = count_channels(kInstrumentTable);
inline constexpr std::size_t kCommandChannels = count_channels(kCommandTable);

/// A channel as people know it: its name, counted from 1 where the row has several, "zone_temperature[3]".
struct Channel {
  std::string name;
  std::string_view unit, meaning;
};
const std::vector<Channel>& reading_channels();
const std::vector<Channel>& command_channels();

/// First channel of a row; none of this name: kReadingChannels or kCommandChannels.
std::size_t reading_channel(std::string_view name);
std::size_t command_channel(std::string_view name);

/// Place in kSharedInstruments; none of this name: CTL_PLANT_INSTRUMENTS.
std::size_t shared_reading(std::string_view name);

/// The simulated sensors of all channels. Their names are the keys of their random numbers and count from 0, so that
/// every run keeps the noise that it had.
std::array<plant::SensorSpec, kReadingChannels> expand(const InstrumentTable& table);

/// The keys of `instruments` in a plant file.
void instrument_keys(Keys& keys, InstrumentTable& table);

/// What the controller knows of the plant's instruments and actuators, put into its parameters.
void tell_controller(const InstrumentTable& instruments, const plant::PlantParameters& plant,
                     ctl_params& params);

/// Number of items of a fault's target, 0 when it has none.
std::size_t fault_items(const plant::FaultRow& row);

}  // namespace duskline::scenarios
