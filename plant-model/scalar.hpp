/// Scalars that the physics runs on: double, a pack of lanes, and a dual number for exact derivatives.
///
/// What it is   the few elementary and smooth functions that every part may use, for all three scalars
/// Equation     positive_part(x, w) = (x + sqrt(x^2 + w^2)) / 2; ramp(x, w) = m^2 / (m + w) with m = max(x,
///              0)
/// Symbols      w width of the smoothing, in the unit of x
/// Validity     any finite x, w > 0; positive_part errs by w/2 at x = 0 and w^2/4x far away; ramp is exactly
///              0 for x <= 0
/// Source       elementary analysis
/// Left out     functions without a derivative that is continuous
#pragma once

#include <cmath>
#include <type_traits>

#include "plant-model/dual.hpp"
#include "plant-model/pack.hpp"

namespace duskline::plant {

inline double exp(double x) {
  return std::exp(x);
}
inline double log(double x) {
  return std::log(x);
}
inline double sqrt(double x) {
  return std::sqrt(x);
}

/// The number without its derivatives.
inline double value_of(double x) {
  return x;
}
template <std::size_t N>
double value_of(const Dual<N>& x) {
  return x.value;
}

/// a where `first` is true, else b; used only at seams where both branches and their first derivatives agree.
inline double pick(bool first, double a, double b) {
  return first ? a : b;
}
template <std::size_t N>
Dual<N> pick(bool first, const Dual<N>& a, const Dual<N>& b) {
  return first ? a : b;
}
inline Pack pick(Pack::Mask first, const Pack& a, const Pack& b) {
  return select(first, a, b);
}

inline bool less(double a, double b) {
  return a < b;
}
inline Pack::Mask less(const Pack& a, double b) {
  return a.v < b;
}
template <std::size_t N>
bool less(const Dual<N>& a, double b) {
  return a.value < b;
}

inline bool none(bool m) {
  return !m;
}
inline bool all(bool m) {
  return m;
}
inline bool none(Pack::Mask m) {
  std::int64_t some = 0;
  for (std::size_t i = 0; i < Pack::kLanes; ++i) some |= m[i];
  return some == 0;
}
inline bool all(Pack::Mask m) {
  return none(~m);
}

/// Smooth maximum of x and 0.
template <class S>
S positive_part(const S& x, double width) {
  return 0.5 * (x + sqrt(x * x + width * width));
}

/// Smooth minimum of a and b, below both by at most width/2.
template <class S>
S smooth_min(const S& a, const S& b, double width) {
  return a - positive_part(a - b, width);
}

/// Zero for x <= 0, then rising with continuous slope towards x.
template <class S>
S ramp(const S& x, double width) {
  const S m = pick(less(x, 0.0), S(0.0), x);
  return m * m / (m + width);
}

/// Inverse hyperbolic sine, accurate for either sign.
template <class S>
S asinh(const S& x) {
  const auto negative = less(x, 0.0);
  const S a = pick(negative, -x, x);
  const S r = log(a + sqrt(a * a + 1.0));
  return pick(negative, -r, r);
}

/// Fourth root, for x > 0.
template <class S>
S fourth_root(const S& x) {
  return sqrt(sqrt(x));
}

}  // namespace duskline::plant
