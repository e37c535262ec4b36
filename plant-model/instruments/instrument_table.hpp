/// The instruments of the demo plant: one row for each measurement that the controller is given.
/// Each row holds the errors of one SensorSpec; a row with count > 1 stands for name[0] .. name[count - 1].
/// Units: those of the row, SI. Names, order and spans are those of the controller's interface; a test
/// compares. Valid at the working point in the comment; the error of class of a thermometer is taken there
/// and kept. Source: class and datasheet-type figures named in each row; [E] marks our own estimate. Left
/// out: error that depends on temperature, pressure or composition (a flow meter in another gas).
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

#include "plant-model/instruments/sensor.hpp"

namespace duskline::plant {

struct InstrumentRow {
  SensorSpec spec;
  std::size_t count = 1;
  std::string_view meaning;
  std::string_view source;
};

inline constexpr std::size_t kInstrumentRows = 22;
using InstrumentTable = std::array<InstrumentRow, kInstrumentRows>;

/// Random walk whose standard deviation after a time (s) is the given amount.
constexpr double walk_to(double amount, double time) {
  double root = 1.0;  // Newton's square root, so that the table is made by the compiler
  for (int i = 0; i < 60; ++i) root = 0.5 * (root + time / root);
  return amount / root;
}

inline constexpr double kMonth = 30.0 * 86400.0;   ///< s
inline constexpr double kYear = 365.25 * 86400.0;  ///< s

namespace instruments {

/// Pressure in 0..200 kPa, piezoresistive bridge.
constexpr SensorSpec pressure(std::string_view name) {
  return {.name = name,
          .unit = "Pa",
          .lag = 0.02,
          .noise = 10.0,
          .bias_class = 200.0,
          .random_walk = walk_to(400.0, kYear),
          .resolution = 3.1,
          .lower = 0.0,
          .upper = 200e3};
}
inline constexpr std::string_view kPressureSource =
    "piezoresistive: 0.1 % of span zero, 0.2 % of span a year, 1-50 ms; 16 bits; noise [E] 3 steps";

/// PT100 of IEC 60751 class A; the step is that of 16 bits over 400 ohm.
constexpr SensorSpec platinum(std::string_view name, double lag, double limit, double lower, double upper) {
  return {.name = name,
          .unit = "K",
          .lag = lag,
          .noise = 0.02,
          .bias_class = limit,
          .random_walk = walk_to(0.05, kYear),
          .resolution = 0.0156,
          .lower = lower,
          .upper = upper};
}

/// Type K of IEC 60584-1 class 1 at 800 degC; the step is that of 16 bits over 78.125 mV at 41 microvolt/K.
constexpr SensorSpec type_k(std::string_view name, double lag) {
  return {.name = name,
          .unit = "K",
          .lag = lag,
          .noise = 0.06,
          .bias_class = 3.2,
          .random_walk = walk_to(3.0, 1000.0 * 3600.0),
          .resolution = 0.0582,
          .lower = 120.0,
          .upper = 1500.0};
}
inline constexpr std::string_view kTypeKSource =
    "IEC 60584-1 class 1: 0.004 |t| = 3.2 K at 800 degC; drift 1-5 K in 1000 h, sign unknown; noise one "
    "step; "
    "lag [E] 3 mm sheath in solid";

}  // namespace instruments

// clang-format off
inline constexpr InstrumentTable kInstrumentTable{{
  {{.name = "ambient_pressure", .unit = "Pa", .lag = 0.05, .noise = 0.3, .bias_class = 5.0, .gain_class = 0.003,
    .random_walk = walk_to(4.0, kYear), .resolution = 0.0305, .lower = 0.0, .upper = 2000.0}, 1,
   "ambient pressure at the intake",
   "capacitive diaphragm: 0.2-0.5 % of reading, 1-10 Pa in all, 0.2 % of span a year; 16 bits; noise [E]"},
  {instruments::platinum("ambient_temperature", 20.0, 0.27, 100.0, 350.0), 1,
   "air temperature at the intake",
   "IEC 60751 class A: 0.15 + 0.002 |t| at -60 degC; lag 10-60 s in thin gas; noise, drift [E]"},
  {instruments::pressure("plenum_pressure"), 1,
   "pressure in the plenum behind the compressor", instruments::kPressureSource},
  {instruments::platinum("plenum_temperature", 5.0, 0.25, 120.0, 500.0), 1,
   "gas temperature in the plenum", "IEC 60751 class A at 50 degC; lag [E] bare element at 60 kPa; noise, drift [E]"},
  {instruments::pressure("cathode_pressure"), 1, "cathode pressure", instruments::kPressureSource},
  {instruments::pressure("anode_pressure"), 1, "anode pressure", instruments::kPressureSource},
  {{.name = "feed_flow", .unit = "kg/s", .lag = 1.0, .noise = 2e-8, .bias_class = 6e-8, .gain_class = 0.01,
    .random_walk = walk_to(1.5e-7, kYear), .resolution = 3.2e-9, .lower = -1e-5, .upper = 2e-4}, 1,
   "feed mass flow from the plenum to the cathode",
   "thermal meter, 30 mg/s full scale: 1 % of reading, 0.2 % zero, 0.5 % a year, 0.5-3 s; 16 bits; noise [E]"},
  {{.name = "compressor_speed", .unit = "rad/s", .lag = 0.05, .noise = 0.2, .gain_class = 1e-4, .resolution = 0.05,
    .lower = -50.0, .upper = 800.0}, 1,
   "compressor shaft speed", "pulses timed against a quartz clock, 100 ppm; noise, lag, step [E]"},
  {instruments::platinum("compressor_temperature", 10.0, 0.31, 120.0, 600.0), 1,
   "compressor shell temperature", "IEC 60751 class A at 80 degC; lag, noise, drift [E]"},
  {instruments::type_k("preheater_temperature", 3.0), 1,
   "gas preheater body temperature", instruments::kTypeKSource},
  {instruments::platinum("housing_temperature", 10.0, 0.19, 120.0, 500.0), 1,
   "housing temperature", "IEC 60751 class A at 20 degC; lag, noise, drift [E]"},
  {{.name = "stack_current", .unit = "A", .lag = 0.01, .noise = 1e-3, .bias_class = 3e-3, .gain_class = 0.002,
    .random_walk = walk_to(2e-3, kYear), .resolution = 6.1e-4, .lower = -20.0, .upper = 20.0}, 1,
   "stack current, one for all cells in series", "shunt 0.1-0.5 %; 16 bits; zero, noise, drift [E]"},
  {{.name = "outlet_co_fraction", .unit = "1", .lag = 15.0, .noise = 1e-3, .bias_class = 0.01, .gain_class = 0.02,
    .random_walk = walk_to(0.01, kMonth), .resolution = 1e-4, .lower = -0.05, .upper = 1.05}, 1,
   "mole fraction of CO in the cathode exhaust",
   "non-dispersive infrared: 2 % of reading + 1 % of span, zero 1 % of span a month, 10-60 s; noise, step [E]"},
  {{.name = "product_oxygen_fraction", .unit = "1", .lag = 1.0, .noise = 5e-4, .gain_class = 0.015,
    .random_walk = walk_to(0.01, kYear), .resolution = 1e-4, .lower = -0.05, .upper = 1.05}, 1,
   "mole fraction of O2 in the product",
   "zirconia cell: 1-2 % of reading, ages 1 % a year, 0.1-2 s; noise, step [E]"},
  {{.name = "product_flow", .unit = "kg/s", .lag = 1.0, .noise = 4e-9, .bias_class = 1e-8, .gain_class = 0.01,
    .random_walk = walk_to(2.5e-8, kYear), .resolution = 3.2e-10, .lower = -1e-6, .upper = 2e-5}, 1,
   "product mass flow",
   "thermal meter, 5 mg/s full scale: 1 % of reading, 0.2 % zero, 0.5 % a year, 0.5-3 s; 16 bits; noise [E]"},
  {{.name = "bus_voltage", .unit = "V", .lag = 0.01, .noise = 0.01, .gain_class = 0.005, .resolution = 0.0147,
    .lower = 0.0, .upper = 60.0}, 1,
   "supply bus voltage", "resistive divider 0.5 %; 12 bits; noise [E]"},
  {{.name = "bus_power", .unit = "W", .lag = 0.1, .noise = 0.5, .bias_class = 1.0, .gain_class = 0.01,
    .resolution = 0.5, .lower = -50.0, .upper = 2000.0}, 1,
   "power drawn from the bus", "product of divider and shunt, 1 %; 12 bits; zero, noise [E]"},
  {{.name = "filter_differential_pressure", .unit = "Pa", .lag = 0.05, .noise = 0.1, .bias_class = 1.0, .gain_class = 0.005,
    .random_walk = walk_to(0.5, kYear), .resolution = 0.0153, .lower = -50.0, .upper = 500.0}, 1,
   "pressure lost in the intake filter",
   "capacitive diaphragm, 500 Pa: 0.5 % of reading, 0.2 % zero; 16 bits; noise [E]"},
  {{.name = "bearing_vibration", .unit = "m/s2", .lag = 2.0, .noise = 0.02, .bias_class = 0.02, .gain_class = 0.02,
    .resolution = 0.003, .lower = 0.0, .upper = 100.0}, 1,
   "vibration of the compressor casing at the bearing tone, rms",
   "piezoelectric: 2 % of reading; band-pass averaged over seconds; 16 bits; noise [E]"},
  {instruments::type_k("end_temperature", 5.0), 2, "end-plate temperatures", instruments::kTypeKSource},
  {instruments::type_k("zone_temperature", 5.0), 5,
   "zone temperatures along the stack", instruments::kTypeKSource},
  {{.name = "cell_voltage", .unit = "V", .lag = 0.01, .noise = 5e-4, .bias_class = 1e-3, .gain_class = 0.001,
    .random_walk = walk_to(5e-4, kYear), .resolution = 9.2e-5, .lower = -3.0, .upper = 3.0}, 8,
   "voltage of each cell", "taps: noise 0.2-1 mV; 16 bits; zero, gain, drift [E]"},
}};
// clang-format on

constexpr std::size_t count_channels(const InstrumentTable& table) {
  std::size_t sum = 0;
  for (const InstrumentRow& row : table) sum += row.count;
  return sum;
}

inline constexpr std::size_t kInstruments = count_channels(kInstrumentTable);

namespace instruments {

/// Names of the channels, "zone_temperature[3]", made by the compiler so that a spec can point at them.
struct ChannelName {
  std::array<char, 32> text{};
  std::size_t length = 0;
  constexpr void add(char letter) { text[length++] = letter; }
  constexpr std::string_view view() const { return {text.data(), length}; }
};

constexpr std::array<ChannelName, kInstruments> channel_names() {
  std::array<ChannelName, kInstruments> names{};
  std::size_t channel = 0;
  for (const InstrumentRow& row : kInstrumentTable)
    for (std::size_t element = 0; element < row.count; ++element, ++channel) {
      for (const char letter : row.spec.name) names[channel].add(letter);
      if (row.count == 1) continue;
      names[channel].add('[');
      names[channel].add(static_cast<char>('0' + element));
      names[channel].add(']');
    }
  return names;
}

inline constexpr std::array<ChannelName, kInstruments> kChannelNames = channel_names();

}  // namespace instruments

/// The channels of a table, in order, each under its own name. Start from kInstrumentTable, change what the
/// plant file changes, then expand; the counts must stay.
constexpr std::array<SensorSpec, kInstruments> expand(const InstrumentTable& table) {
  std::array<SensorSpec, kInstruments> specs{};
  std::size_t channel = 0;
  for (const InstrumentRow& row : table)
    for (std::size_t element = 0; element < row.count; ++element, ++channel) {
      specs[channel] = row.spec;
      specs[channel].name = instruments::kChannelNames[channel].view();
    }
  return specs;
}

}  // namespace duskline::plant
