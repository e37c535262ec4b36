/// Pack: eight doubles that go through the same arithmetic at once (one lane a cell, or one lane a plant).
///
/// What it is   a value type over the compiler's vector extension with +, -, *, /, sqrt, exp, log
/// Equation     exp: x = n ln2 + r, e^r by Taylor to r^13, scaled by 2^n; log: atanh series in (m-1)/(m+1)
/// Symbols      n whole, |r| <= ln2/2; m in [sqrt(1/2), sqrt 2), the mantissa
/// Validity     exp for |x| < 700 (held at the ends beyond); log for normal x > 0; error below 4e-16 relative
/// Source       range reduction as in W. J. Cody and W. Waite, Software Manual (1980)
/// Left out     NaN and infinity as inputs; lanes that are not used hold harmless copies
#pragma once

#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>

namespace duskline::plant {

struct Pack {
  static constexpr std::size_t kLanes = 8;
  typedef double Vector __attribute__((vector_size(8 * sizeof(double))));
  typedef std::int64_t Mask __attribute__((vector_size(8 * sizeof(std::int64_t))));

  Vector v;

  Pack() = default;
  Pack(double a) : v(Vector{a, a, a, a, a, a, a, a}) {}  // NOLINT: a number is a pack of equal lanes
  explicit Pack(Vector a) : v(a) {}

  double operator[](std::size_t lane) const { return v[lane]; }
  void set(std::size_t lane, double value) { v[lane] = value; }

  Pack operator-() const { return Pack(-v); }
  Pack& operator+=(const Pack& b) {
    v += b.v;
    return *this;
  }
  Pack& operator-=(const Pack& b) {
    v -= b.v;
    return *this;
  }
  Pack& operator*=(const Pack& b) {
    v *= b.v;
    return *this;
  }
  friend Pack operator+(const Pack& a, const Pack& b) { return Pack(a.v + b.v); }
  friend Pack operator-(const Pack& a, const Pack& b) { return Pack(a.v - b.v); }
  friend Pack operator*(const Pack& a, const Pack& b) { return Pack(a.v * b.v); }
  friend Pack operator/(const Pack& a, const Pack& b) { return Pack(a.v / b.v); }
};

/// Lane by lane: a where `a_is_chosen`, else b.
inline Pack select(Pack::Mask a_is_chosen, const Pack& a, const Pack& b) {
  return Pack(a_is_chosen ? a.v : b.v);
}

inline Pack sqrt(const Pack& a) {
  Pack r;
  for (std::size_t i = 0; i < Pack::kLanes; ++i) r.v[i] = __builtin_sqrt(a.v[i]);
  return r;
}

inline Pack exp(const Pack& a) {
  constexpr double kLog2e = 1.4426950408889634074;
  constexpr double kLn2High = 6.93147180369123816490e-01, kLn2Low = 1.90821492927058770002e-10;
  constexpr double kRound = 6755399441055744.0;  // 1.5 * 2^52: adding it rounds to an integer
  const Pack x = select(a.v < -700.0, Pack(-700.0), select(a.v > 700.0, Pack(700.0), a));
  const Pack::Vector shifted = x.v * kLog2e + kRound;
  const Pack::Vector n = shifted - kRound;
  const Pack::Vector r = (x.v - n * kLn2High) - n * kLn2Low;
  constexpr std::array<double, 12> kFactorial{
      1. / 6227020800., 1. / 479001600., 1. / 39916800., 1. / 3628800., 1. / 362880., 1. / 40320.,
      1. / 5040.,       1. / 720.,       1. / 120.,      1. / 24.,      1. / 6.,      1. / 2.};
  Pack::Vector p = r * 0.0 + kFactorial[0];
  for (std::size_t i = 1; i < kFactorial.size(); ++i) p = p * r + kFactorial[i];
  const Pack::Vector e_r = (p * r) * r + r + 1.0;
  const Pack::Mask scale = (((Pack::Mask)shifted & 0xFFF) + 1023) << 52;
  return Pack(e_r * (Pack::Vector)(scale & 0x7FF0000000000000));
}

inline Pack log(const Pack& a) {
  constexpr double kLn2High = 6.93147180369123816490e-01, kLn2Low = 1.90821492927058770002e-10;
  constexpr std::int64_t kMantissa = 0x000FFFFFFFFFFFFF, kHalf = 0x3FE0000000000000;
  const Pack::Mask bits = (Pack::Mask)a.v;
  Pack::Mask exponent = (bits >> 52) - 1022;  // a = m 2^exponent with m in [1/2, 1)
  Pack::Vector m = (Pack::Vector)((bits & kMantissa) | kHalf);
  const Pack::Mask low = m < 0.70710678118654752440;
  m = low ? m * 2.0 : m;
  exponent = exponent + low;  // a true comparison is -1
  const Pack::Vector s = (m - 1.0) / (m + 1.0);
  const Pack::Vector z = s * s;
  constexpr std::array<double, 10> kOdd{1. / 21, 1. / 19, 1. / 17, 1. / 15, 1. / 13,
                                        1. / 11, 1. / 9,  1. / 7,  1. / 5,  1. / 3};
  Pack::Vector p = z * 0.0 + kOdd[0];
  for (std::size_t i = 1; i < kOdd.size(); ++i) p = p * z + kOdd[i];
  const Pack::Vector e = __builtin_convertvector(exponent, Pack::Vector);
  const Pack::Vector tail = 2.0 * s * z * p + e * kLn2Low;
  return Pack(e * kLn2High + (2.0 * s + tail));
}

}  // namespace duskline::plant
