/// What a quantity in SI is multiplied or divided by for the unit that people read.
#pragma once

namespace duskline::harness {

inline constexpr double kGramsPerHour = 3.6e6;          ///< g/h in 1 kg/s
inline constexpr double kJoulePerKilowattHour = 3.6e6;  ///< J in 1 kWh

}  // namespace duskline::harness
