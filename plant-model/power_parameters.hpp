/// The supply: converters, and what the actuators can do.
#pragma once

namespace duskline::plant {

inline constexpr double kRatedCurrent = 0.52;     ///< of current_max: 10 g/h of the demo plant
inline constexpr double kRatedConversion = 0.58;  ///< of the feed there: 65 % of its CO2
inline constexpr double kRatedOpening = 0.41;     ///< of the recycle valve, where its loop settles there

struct PowerParameters {
  double stack_converter{};   ///< 1, efficiency
  double heater_converter{};  ///< 1
  double electronics{};       ///< W
  double current_lag{};       ///< s
  double current_slew{};      ///< A/s
  double current_max{};       ///< A
  double speed_max{};         ///< rad/s
  double bus_voltage{};       ///< V
};

}  // namespace duskline::plant
