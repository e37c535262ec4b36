/// Two-sided cumulative sum: finds a small lasting shift of a residual that is white when all is well.
///
/// What it is   two sums, one for each direction, and the time to alarm that a threshold gives
/// Equation     C+ = max(0, C+ + z - k), C- = max(0, C- - z - k), alarm above h ARL = (exp(-2 D b) + 2 D b -
///              1)/(2 D^2), D = d - k, b = h + 1.166; 1/ARL = 1/ARL+ + 1/ARL-
/// Symbols      z [1] normalised residual, k [1] reference value, h [1] threshold, d [1] shift in standard
///              deviations, ARL average run length in samples
/// Validity     any z (what is not a number leaves the sums alone); ARL: white normal z, zero start
/// Source       Page 1954; Siegmund 1985; check values in the tests
/// Left out     head start; whitening of a coloured residual (its ARL is shorter than the formula says)
#pragma once

#include "controller/math.hpp"

namespace duskline::controller {

struct Cusum {
  float up, down;
};

/// One sample; each sum is held at `most` so that it comes down again in bounded time.
constexpr void add(Cusum& c, float z, float k, float most) {
  if (!is_finite(z)) return;
  c.up = clamp(c.up + z - k, 0.0f, most);
  c.down = clamp(c.down - z - k, 0.0f, most);
}

/// Samples until a one-sided sum of threshold h alarms under a shift d.
constexpr float one_sided_run_length(float d, float k, float h) {
  const float drift = d - k, b = h + 1.166f;
  if (abs_of(drift) < 1e-3f) return b * b;
  return (exponential(-2.0f * drift * b) + 2.0f * drift * b - 1.0f) / (2.0f * drift * drift);
}

constexpr float run_length(float d, float k, float h) {
  return 1.0f / (1.0f / one_sided_run_length(d, k, h) + 1.0f / one_sided_run_length(-d, k, h));
}

}  // namespace duskline::controller
