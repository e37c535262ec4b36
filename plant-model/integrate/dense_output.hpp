/// What it is   the state at any time inside one accepted step.
/// Equation     x(t0 + u h) = x0 + u (1 - u) h s + u^2 (x1 - x0), 0 <= u <= 1: a parabola through both ends.
/// Symbols      x0, x1 states at the ends, s slope at the start (unit of the state per s), h step in s.
/// Validity     local error of order h^3 when s = f(x0) + O(h^2), so global order 2; keeps linear invariants.
/// Source       order conditions, derived in docs/models/integrate.md.
/// Left out     the derivative at the end, which a restarted step never evaluates.
#pragma once

#include <array>
#include <cstddef>

namespace duskline::plant {

template <std::size_t N>
struct DenseOutput {
  double start = 0;  // s
  double step = 0;   // s
  std::array<double, N> x0{};
  std::array<double, N> x1{};
  std::array<double, N> slope{};

  double end() const { return start + step; }

  std::array<double, N> operator()(double t) const {
    const double u = (t - start) / step;
    const double a = u * (1 - u) * step;
    const double b = u * u;
    std::array<double, N> x;
    for (std::size_t i = 0; i < N; ++i) x[i] = x0[i] + a * slope[i] + b * (x1[i] - x0[i]);
    return x;
  }
};

}  // namespace duskline::plant
