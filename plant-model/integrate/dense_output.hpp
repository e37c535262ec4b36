/// What it is   the state at any time inside one accepted step.
/// Equation     x(t0 + u h) = x0 + u (1 - u) h s + u^2 (x1 - x0), 0 <= u <= 1: a parabola through both ends.
/// Symbols      x0, x1 states at the ends, s slope at the start (unit of the state per s), h step in s.
/// Validity     local error of order h^3 when s = f(x0) + O(h^2), so global order 2; keeps linear invariants.
/// Source       order conditions, derived in docs/models/integrate.md.
/// Left out     the derivative at the end, which a restarted step never evaluates.
#pragma once

#include <cstddef>

namespace duskline::plant {

/// Vector as in step_control.hpp.
template <class Vector>
struct DenseOutput {
  double start = 0;  // s
  double step = 0;   // s
  Vector x0{};
  Vector x1{};
  Vector slope{};

  double end() const { return start + step; }

  Vector operator()(double t) const {
    const double u = (t - start) / step;
    const double a = u * (1 - u) * step;
    const double b = u * u;
    Vector x = x0;
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = x0[i] + a * slope[i] + b * (x1[i] - x0[i]);
    return x;
  }
};

}  // namespace duskline::plant
