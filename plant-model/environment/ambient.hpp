/// What the plant meets outside its walls at one instant; the only thing that environment/ hands over.
///
/// Fields are SI. `solar_elevation` is above the horizon, `local_time` is local true solar time as a
/// fraction of a sol (0 = midnight, 0.5 = noon), `areocentric_longitude` is Ls.
/// Left out: humidity, wind direction, ultraviolet.
#pragma once

#include "plant-model/gas/species.hpp"

namespace duskline::plant {

struct Ambient {
  double pressure{};                  ///< Pa
  double temperature{};               ///< K, air at the intake
  double wind_speed{};                ///< m/s
  double sky_temperature{};           ///< K, effective black-body temperature of the sky
  double ground_temperature{};        ///< K
  double optical_depth{};             ///< 1, dust column at 880 nm
  double dust_concentration{};        ///< kg/m3 of suspended dust at the intake
  double solar_elevation{};           ///< rad
  double areocentric_longitude{};     ///< rad
  double local_time{};                ///< 1, fraction of the sol
  Composition<double> composition{};  ///< mole fractions, sum 1
};

}  // namespace duskline::plant
