/// What each instrument may be wrong by while it is in order.
///
/// What it is   one row a measurement: noise of a sample, zero and gain errors of its class
/// Equation     sigma^2 = noise^2 + (zero/2)^2 + (gain x/2)^2
/// Symbols      noise (standard deviation), zero (limit) [unit of the measurement], gain (limit) [1]; a limit
///              counts as two standard deviations
/// Validity     the working point of the demo plant
/// Source       classes of the instruments as bought, a year of drift added to the zero
/// Left out     dependence on temperature
#pragma once

#include "controller/signals.hpp"

namespace duskline::controller {

struct SensorAccuracy {
  uint32_t input;
  float noise, zero, gain;
  float jump;  // largest honest change in a second, 0: not tested
};

// clang-format off
inline constexpr SensorAccuracy kSensorClass[] = {
    {in_ambient_pressure,        0.3f,  7.0f,  0.003f, 15.0f},
    {in_ambient_temperature,     0.02f, 0.3f,  0.0f,   4.0f},
    {in_plenum_pressure,         10.0f, 400.0f, 0.0f,  0.0f},
    {in_plenum_temperature,      0.02f, 0.3f,  0.0f,   1.5f},
    {in_cathode_pressure,        10.0f, 400.0f, 0.0f,  0.0f},
    {in_anode_pressure,          10.0f, 400.0f, 0.0f,  0.0f},
    {in_feed_flow,               2e-8f, 1.5e-7f, 0.01f, 0.0f},
    {in_compressor_speed,        0.2f,  0.0f,  1e-4f,  0.0f},
    {in_compressor_temperature,  0.02f, 0.3f,  0.0f,   1.5f},
    {in_preheater_temperature,   0.06f, 5.0f,  0.0f,   4.0f},
    {in_housing_temperature,     0.02f, 0.2f,  0.0f,   1.5f},
    {in_stack_current,           1e-3f, 4e-3f, 0.002f, 0.0f},
    {in_outlet_co_fraction,      1e-3f, 0.015f, 0.02f, 0.0f},
    {in_product_oxygen_fraction, 5e-4f, 0.01f, 0.015f, 0.0f},
    {in_product_flow,            4e-9f, 2.5e-8f, 0.01f, 0.0f},
    {in_bus_voltage,             0.01f, 0.0f,  0.005f, 0.0f},
    {in_bus_power,               0.5f,  1.0f,  0.01f,  0.0f},
    {in_filter_differential_pressure,       0.1f,  1.2f,  0.005f, 0.0f},
    {in_bearing_vibration,         0.02f, 0.02f, 0.02f,  0.0f},
    {in_end_temperature,         0.06f, 5.0f,  0.0f,   2.5f},
    {in_zone_temperature,        0.06f, 5.0f,  0.0f,   2.0f},
    {in_cell_voltage,            5e-4f, 1.2e-3f, 0.001f, 0.0f},
};
// clang-format on

/// Row of each measurement; elements of an array share one.
struct SensorAccuracies {
  SensorAccuracy of[kInputs];
};
constexpr SensorAccuracies sensor_accuracies() {
  SensorAccuracies all{};
  for (uint32_t i = 0; i < kInputs; ++i)
    for (const SensorAccuracy& row : kSensorClass)
      if (row.input <= i) all.of[i] = row;
  return all;
}
inline constexpr SensorAccuracies kSensorAccuracies = sensor_accuracies();
constexpr const SensorAccuracy& class_of(uint32_t input) {
  return kSensorAccuracies.of[input];
}

constexpr float sigma_of(uint32_t input, float value) {
  const SensorAccuracy& c = class_of(input);
  const float zero = 0.5f * c.zero, gain = 0.5f * c.gain * value;
  return square_root(c.noise * c.noise + zero * zero + gain * gain);
}

}  // namespace duskline::controller
