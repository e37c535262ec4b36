/// First-order filter.
///
/// What it is   a low-pass
/// Equation     tau dy/dt = x - y by backward Euler: y += h/(tau + h) (x - y)
/// Symbols      h [s] control period, tau [s] time constant, x input, y state
/// Validity     tau >= 0 (0 passes the input through)
/// Source       textbook
/// Left out     higher orders
#pragma once

namespace duskline::controller {

constexpr float low_pass(float state, float input, float period, float time_constant) {
  return state + period / (time_constant + period) * (input - state);
}

}  // namespace duskline::controller
