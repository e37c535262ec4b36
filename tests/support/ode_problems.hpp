// Initial-value problems with known solutions, for the tests of plant-model/integrate.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/integrate/dense_matrix.hpp"

namespace duskline::tests {

using plant::DenseMatrix;

/// dy/dt = -k (y - cos t) - sin t, exact solution y = cos t + (y0 - 1) exp(-k t). Non-autonomous; stiff for
/// large k (Prothero and Robinson, Math. Comp. 28 (1974) 145).
struct ProtheroRobinson {
  using State = std::array<double, 1>;
  double k = 1;
  double jacobian_error = 0;  // added to the exact Jacobian

  void operator()(const State& x, State& dxdt, double t) const {
    dxdt[0] = -k * (x[0] - std::cos(t)) - std::sin(t);
  }
  void jacobian(const State&, double, DenseMatrix& j) const { j(0, 0) = -k + jacobian_error; }
  static State exact(double t, double y0, double k) { return {std::cos(t) + (y0 - 1) * std::exp(-k * t)}; }
};

/// Nonlinear, two states, non-autonomous: x' = -x y + t, y' = x - y^2 through sources that make the solution
/// x = 1 + sin(t) / 2, y = exp(-t) + 1 exact (method of manufactured solutions; sources derived by hand).
struct Manufactured {
  using State = std::array<double, 2>;
  double scale = 1;  // factor on the Jacobian: 1 exact, anything else wrong on purpose

  static State exact(double t) { return {1 + 0.5 * std::sin(t), std::exp(-t) + 1}; }
  void operator()(const State& x, State& dxdt, double t) const {
    const State s = exact(t);
    dxdt[0] = 0.5 * std::cos(t) + (-x[0] * x[1] + s[0] * s[1]);
    dxdt[1] = -std::exp(-t) + (x[0] - x[1] * x[1]) - (s[0] - s[1] * s[1]);
  }
  void jacobian(const State& x, double, DenseMatrix& j) const {
    j(0, 0) = -scale * x[1];
    j(0, 1) = -scale * x[0];
    j(1, 0) = scale;
    j(1, 1) = -2 * scale * x[1];
  }
};

/// All three kinds of state: u (implicit, relaxes to the slow state s at rate k), q (quadrature of u), s' =
/// -s (explicit). Exact: s = exp(-t), u = a exp(-t) + (1 - a) exp(-k t) with a = k / (k - 1), q its integral.
struct ThreeKinds {
  using State = std::array<double, 3>;
  double k = 1;

  void operator()(const State& x, State& dxdt, double) const {
    dxdt[0] = k * (x[2] - x[0]);
    dxdt[1] = x[0];
    dxdt[2] = -x[2];
  }
  void jacobian(const State&, double, DenseMatrix& j) const {
    j(0, 0) = -k;
    j(1, 0) = 1;
  }
  State exact(double t) const {
    const double a = k / (k - 1);
    return {a * std::exp(-t) + (1 - a) * std::exp(-k * t),
            a * (1 - std::exp(-t)) + (1 - a) * (1 - std::exp(-k * t)) / k, std::exp(-t)};
  }
};

}  // namespace duskline::tests
