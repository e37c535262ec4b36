/// Bearings of the compressor as they wear: friction and the tone that gives them away.
///
/// What it is   factors on the friction torque and on the vibration at the bearing tone
/// Equation     torque = torque_0 (1 + 3 w); a = a_0 (omega/300)^2 (1 + 9 w)
/// Symbols      w [1] wear, 0 new and 1 worn out; a [m/s2] rms at the casing; omega [rad/s]
/// Validity     0 to 700 rad/s; w up to 2
/// Source       tenfold vibration from good to unacceptable: common practice (zones of ISO 10816, from
///              memory); friction [E]; growth with the square of the speed: unbalance
/// Left out     spectrum, resonance of the casing, noise from the gas
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

inline constexpr double kToneReferenceSpeed = 300.0;  ///< rad/s

template <class S>
S bearing_friction(double torque, double wear, const S& speed) {
  return torque * (1.0 + 3.0 * wear) * speed / sqrt(speed * speed + 25.0);
}

template <class S>
S bearing_tone(double tone, double wear, const S& speed) {
  const S share = speed / kToneReferenceSpeed;
  return tone * share * share * (1.0 + 9.0 * wear);
}

}  // namespace duskline::plant
