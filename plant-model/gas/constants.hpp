/// Constants of nature, once for all parts. Source: SI 2019, exact or CODATA 2018.
#pragma once

namespace duskline::plant {

inline constexpr double kGasConstant = 8.314462618;         ///< J/mol/K
inline constexpr double kFaraday = 96485.33212;             ///< C/mol
inline constexpr double kStandardPressure = 1e5;            ///< Pa, of all thermochemical data here
inline constexpr double kStefanBoltzmann = 5.670374419e-8;  ///< W/m2/K4

}  // namespace duskline::plant
