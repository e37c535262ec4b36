/// Elementary functions of the controller, in single precision.
///
/// What it is   exp, log, log(1+x), asinh and square root from +, -, *, /, the root of the processor and integer
///              operations alone
/// Equation     exp: x = k ln 2 + r, Taylor polynomial in r; log: 2 atanh(f/(2+f))
/// Symbols      all arguments and results without unit
/// Validity     any float; results are finite: exp saturates at |x| = 87, log of x <= 0 is log of the least
///              normal
/// Source       textbook range reduction; errors measured against double precision in the tests
/// Left out     the last half unit in the last place; subnormal results
#pragma once

#include <stdint.h>

/// For functions that loops over arrays are made of: only without a call can a compiler do several elements at once.
#define DUSKLINE_INLINE [[gnu::always_inline]] inline

namespace duskline::controller {

constexpr uint32_t bits_of(float x) {
  return __builtin_bit_cast(uint32_t, x);
}
constexpr float float_of(uint32_t bits) {
  return __builtin_bit_cast(float, bits);
}

constexpr bool is_finite(float x) {
  return (bits_of(x) & 0x7f800000u) != 0x7f800000u;
}

constexpr float min_of(float a, float b) {
  return b < a ? b : a;
}
constexpr float max_of(float a, float b) {
  return a < b ? b : a;
}
constexpr float abs_of(float x) {
  return x < 0.0f ? -x : x;
}

/// x held between lower and upper; lower when x is not a number, upper when the bounds are crossed.
constexpr float clamp(float x, float lower, float upper) {
  const float raised = x > lower ? x : lower;
  return raised < upper ? raised : upper;
}

/// x without its fraction; 0 below zero or when x is not a number, the greatest whole float below 2^32 beyond it.
constexpr uint32_t truncate(float x) {
  return static_cast<uint32_t>(clamp(x, 0.0f, 4294967040.0f));
}

/// e^x, relative error below 2e-7.
DUSKLINE_INLINE constexpr float exponential(float x) {
  const float bounded = clamp(x, -87.0f, 87.0f);
  const float turns = bounded * 1.44269504f;
  const int32_t k = static_cast<int32_t>(turns < 0.0f ? turns - 0.5f : turns + 0.5f);
  const float full = static_cast<float>(k);
  // ln 2 in two parts: the first has few enough bits for the product with k to be exact
  const float r = (bounded - full * 0.693359375f) + full * 2.12194440e-4f;
  const float series =
      1.0f / 2 + r * (1.0f / 6 + r * (1.0f / 24 + r * (1.0f / 120 + r * (1.0f / 720 + r * (1.0f / 5040)))));
  return (1.0f + (r + r * r * series)) * float_of(static_cast<uint32_t>(k + 127) << 23);
}

/// ln x, error below 2e-7 relative or absolute, whichever is larger.
DUSKLINE_INLINE constexpr float logarithm(float x) {
  const uint32_t bits = bits_of(x > 1.17549435e-38f ? x : 1.17549435e-38f);
  const float mantissa = float_of((bits & 0x007fffffu) | 0x3f800000u);  // in [1, 2)
  const bool upper = mantissa > 1.41421356f;
  const int32_t exponent = static_cast<int32_t>(bits >> 23) - (upper ? 126 : 127);
  const float m = upper ? 0.5f * mantissa : mantissa;
  const float f = m - 1.0f;  // in [-0.293, 0.415]
  const float s = f / (2.0f + f);
  const float z = s * s;
  const float tail = z * (2.0f / 3 + z * (2.0f / 5 + z * (2.0f / 7 + z * (2.0f / 9 + z * (2.0f / 11)))));
  const float e = static_cast<float>(exponent);
  // log(1+f) = f - s (f - tail), exact near f = 0
  return e * 0.693359375f + (f - s * (f - tail) - e * 2.12194440e-4f);
}

/// ln(1 + x) for x >= 0, relative error below 4e-7, also for small x.
DUSKLINE_INLINE constexpr float logarithm_of_one_plus(float x) {
  const float u = 1.0f + x;
  return u == 1.0f ? x : logarithm(u) * (x / (u - 1.0f));
}

/// Square root, correctly rounded as IEEE 754 asks of every processor: one instruction with -fno-math-errno, without
/// which a compiler calls a library for it; zero for x <= 0.
DUSKLINE_INLINE constexpr float square_root(float x) {
  return x > 0.0f ? __builtin_sqrtf(x) : 0.0f;
}

/// Inverse hyperbolic sine, relative error below 6e-7 for |x| < 1e18.
DUSKLINE_INLINE constexpr float inverse_sinh(float x) {
  const float a = abs_of(x);
  const float square = a * a;
  const float y = logarithm_of_one_plus(a + square / (1.0f + square_root(1.0f + square)));
  return x < 0.0f ? -y : y;
}

}  // namespace duskline::controller
