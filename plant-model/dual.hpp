/// Forward-mode dual numbers: a value and its derivatives with respect to N independent quantities.
///
/// What it is   the arithmetic and the elementary functions that the physics uses, each worked out at once:
///              an expression is a value, so that every part reads the same for double, pack and dual
/// Equation     f(v + d) = f(v) + f'(v) d in each of the N directions
/// Validity     where the function has a derivative; 0 * inf is not a number, as in double
/// Source       chain rule
/// Left out     second derivatives, sparsity
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

namespace duskline::plant {

template <std::size_t N>
struct Dual {
  static constexpr std::size_t kWidth = N;
  double value{};
  std::array<double, N> slope;

  Dual() : slope{} {}
  Dual(double v) : value(v), slope{} {}  // NOLINT: a number is a dual that depends on nothing
  /// The independent quantity number `place`.
  Dual(double v, std::size_t place) : value(v), slope{} { slope[place] = 1.0; }

  Dual& operator+=(const Dual& b) {
    value += b.value;
    for (std::size_t i = 0; i < N; ++i) slope[i] += b.slope[i];
    return *this;
  }
  Dual& operator-=(const Dual& b) {
    value -= b.value;
    for (std::size_t i = 0; i < N; ++i) slope[i] -= b.slope[i];
    return *this;
  }

  /// f(a) for a function with this value and derivative at a.
  friend Dual chain(const Dual& a, double f, double derivative) {
    Dual r(f, kNoFill);
    for (std::size_t i = 0; i < N; ++i) r.slope[i] = derivative * a.slope[i];
    return r;
  }
  /// f(a, b) likewise.
  friend Dual chain(const Dual& a, const Dual& b, double f, double by_a, double by_b) {
    Dual r(f, kNoFill);
    for (std::size_t i = 0; i < N; ++i) r.slope[i] = by_a * a.slope[i] + by_b * b.slope[i];
    return r;
  }

  friend Dual operator+(const Dual& a, const Dual& b) {
    Dual r(a.value + b.value, kNoFill);
    for (std::size_t i = 0; i < N; ++i) r.slope[i] = a.slope[i] + b.slope[i];
    return r;
  }
  friend Dual operator-(const Dual& a, const Dual& b) {
    Dual r(a.value - b.value, kNoFill);
    for (std::size_t i = 0; i < N; ++i) r.slope[i] = a.slope[i] - b.slope[i];
    return r;
  }
  friend Dual operator*(const Dual& a, const Dual& b) {
    return chain(a, b, a.value * b.value, b.value, a.value);
  }
  friend Dual operator/(const Dual& a, const Dual& b) {
    const double q = a.value / b.value;
    return chain(a, b, q, 1.0 / b.value, -q / b.value);
  }
  friend Dual operator-(const Dual& a) { return chain(a, -a.value, -1.0); }

  friend Dual operator+(Dual a, double b) {
    a.value += b;
    return a;
  }
  friend Dual operator+(double a, Dual b) {
    b.value = a + b.value;
    return b;
  }
  friend Dual operator-(Dual a, double b) {
    a.value -= b;
    return a;
  }
  friend Dual operator-(double a, const Dual& b) { return chain(b, a - b.value, -1.0); }
  friend Dual operator*(const Dual& a, double b) { return chain(a, a.value * b, b); }
  friend Dual operator*(double a, const Dual& b) { return chain(b, a * b.value, a); }
  friend Dual operator/(const Dual& a, double b) { return chain(a, a.value / b, 1.0 / b); }
  friend Dual operator/(double a, const Dual& b) {
    const double q = a / b.value;
    return chain(b, q, -q / b.value);
  }

  friend Dual exp(const Dual& a) {
    const double e = std::exp(a.value);
    return chain(a, e, e);
  }
  friend Dual log(const Dual& a) { return chain(a, std::log(a.value), 1.0 / a.value); }
  friend Dual sqrt(const Dual& a) {
    const double r = std::sqrt(a.value);
    return chain(a, r, 0.5 / r);
  }

 private:
  enum NoFill { kNoFill };
  Dual(double v, NoFill) : value(v) {}  // NOLINT: the caller fills the slopes
};

}  // namespace duskline::plant
