/// What the instruments look at and what the actuators are commanded, over a scalar: double simulates, duals give linear
/// models.
///
/// Symbols      a field has the name and the SI unit of its row in the controller's lists of instruments and of
///              commands; where one lacks the field, plant and controller do not compile together. Each part
///              fills those that it knows (network/part.hpp)
/// Validity     all fields are S, one after the other, so that they can be walked as an array
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "plant-model/state.hpp"

namespace duskline::plant {

template <class S>
struct TrueValues {
  S ambient_pressure, ambient_temperature;
  S plenum_pressure, plenum_temperature;
  S cathode_pressure, anode_pressure;
  S feed_flow;
  S compressor_speed, compressor_temperature;
  S preheater_temperature, housing_temperature;
  S stack_current, stack_voltage;
  S outlet_co_fraction, product_oxygen_fraction;
  S product_flow;
  S bus_voltage, bus_power;
  S filter_differential_pressure;
  S bearing_vibration;
  std::array<S, kEnds> end_temperature;
  std::array<S, kZones> zone_temperature;
  std::array<S, kCells> cell_voltage;
};

/// After saturation and slew; held during a tick.
template <class S>
struct CommandsOf {
  S compressor_speed{};
  S stack_current{};
  S preheater_power{};
  S recycle_opening{};
  S feed_opening{};
  std::array<S, kEnds> end_power{};
};
using Commands = CommandsOf<double>;

/// What the instruments see that all modules of a plant with headers share.
template <class S>
struct SharedValuesOf {
  S ambient_pressure, ambient_temperature;
  S filter_differential_pressure, suction_pressure;
  S compressor_speed, compressor_flow;
  S discharge_pressure, discharge_temperature;
  S compressor_vibration;
  S feed_header_pressure, feed_header_temperature, feed_header_co_fraction;
  S exhaust_header_pressure, exhaust_header_temperature;
  S product_header_pressure, product_oxygen_fraction;
  S product_flow;  ///< to the liquefier
  S bus_voltage, bus_power;
  S housing_temperature;
};
using SharedValues = SharedValuesOf<double>;

/// Commands of one module. It has one valve: for the recycle, or, behind headers, for the feed; shut, that one isolates the
/// module.
template <class S>
struct ModuleCommandsOf {
  S stack_current{};
  S preheater_power{};
  S feed_opening{};
  std::array<S, kEnds> end_power{};
};
using ModuleCommands = ModuleCommandsOf<double>;

/// Commands of what the modules share; the openings, of a plant with headers.
template <class S>
struct SharedCommandsOf {
  S compressor_speed{};
  S anti_surge_opening{};
  S recycle_opening{};
  S exhaust_opening{};
  S product_opening{};
  S liquefier_run{};
};
using SharedCommands = SharedCommandsOf<double>;

/// Number of values in a struct of fields.
template <template <class> class Fields>
inline constexpr std::size_t kFields = sizeof(Fields<std::size_t>) / sizeof(std::size_t);

template <template <class> class Fields, class S>
std::span<S, kFields<Fields>> values_of(Fields<S>& fields) {
  static_assert(sizeof(Fields<S>) == kFields<Fields> * sizeof(S));
  return std::span<S, kFields<Fields>>(reinterpret_cast<S*>(&fields), kFields<Fields>);
}

/// Each field's place in that walk.
template <template <class> class Fields>
Fields<std::size_t> places() {
  Fields<std::size_t> place{};
  std::size_t n = 0;
  for (std::size_t& p : values_of<Fields>(place)) p = n++;
  return place;
}

}  // namespace duskline::plant
