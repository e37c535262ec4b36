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
  S stack_current;
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
  std::array<S, kEnds> end_power{};
};
using Commands = CommandsOf<double>;

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
