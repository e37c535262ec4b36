/// What each instrument may be wrong by while it is in order.
///
/// Equation     sigma^2 = noise^2 + (zero/2)^2 + (gain x/2)^2
/// Symbols      noise (standard deviation), zero (limit) [unit of the measurement], gain (limit) [1]; a limit
///              counts as two standard deviations
/// Validity     the working point of the data sheet
/// Source       data sheets of the parameters, by default those of CTL_INPUT_LIST
/// Left out     dependence on temperature
#pragma once

#include "controller/signals.hpp"

namespace duskline::controller {

constexpr float sigma_of(const ctl_params& p, uint32_t input, float value) {
  const ctl_input_sheet& c = sheet_of(p, input);
  const float zero = 0.5f * c.zero, gain = 0.5f * c.gain * value;
  return square_root(c.noise * c.noise + zero * zero + gain * gain);
}

}  // namespace duskline::controller
