// A linear system of the size and stiffness of a plant, for benchmarks and for the test of linear invariants.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/integrate/dense_matrix.hpp"

namespace duskline::tests {

/// `Implicit` well-mixed vessels in a row exchanging contents (time constants from 1 ms to 10 s), fed at the
/// head from outside and emptied at the tail; `Coupled` quadratures, of which the first counts what came in
/// minus what went out; `Explicit` slow states that follow a vessel each with 1000 s. The sum of the vessels
/// minus the first quadrature is constant: a linear invariant of f and of its Jacobian.
template <std::size_t Implicit, std::size_t Coupled, std::size_t Explicit>
struct SyntheticPlant {
  static constexpr std::size_t kStates = Implicit + Coupled + Explicit;
  using State = std::array<double, kStates>;

  std::array<double, Implicit> rate{};  // 1/s, from vessel i to the next
  double feed = 1;

  SyntheticPlant() {
    for (std::size_t i = 0; i < Implicit; ++i) {
      // Rates 0.1 to 1000 per second, in an order that mixes fast and slow (37 is prime to any size used).
      const double place = static_cast<double>(i * 37 % Implicit) / static_cast<double>(Implicit - 1);
      rate[i] = 0.1 * std::pow(10.0, 4 * place);
    }
  }

  double inflow(double t) const { return feed * (1 + 0.2 * std::sin(t / 50)); }

  void operator()(const State& x, State& dxdt, double t) const {
    // Exchange both ways between neighbours, so that the matrix is full in its inverse.
    std::array<double, Implicit + 1> flow;
    flow[0] = inflow(t);
    for (std::size_t i = 1; i < Implicit; ++i) flow[i] = rate[i] * (x[i - 1] - 0.9 * x[i]);
    flow[Implicit] = rate[0] * x[Implicit - 1];
    for (std::size_t i = 0; i < Implicit; ++i) dxdt[i] = flow[i] - flow[i + 1];
    for (std::size_t q = 0; q < Coupled; ++q) {
      dxdt[Implicit + q] = q == 0 ? flow[0] - flow[Implicit] : x[q];
    }
    for (std::size_t e = 0; e < Explicit; ++e) {
      dxdt[Implicit + Coupled + e] = (x[e % Implicit] - x[Implicit + Coupled + e]) / 1000;
    }
  }

  template <class Matrix>
  void jacobian(const State&, double, Matrix& j) const {
    for (std::size_t i = 1; i < Implicit; ++i) {
      j(i, i - 1) += rate[i];
      j(i, i) -= 0.9 * rate[i];
      j(i - 1, i - 1) -= rate[i];
      j(i - 1, i) += 0.9 * rate[i];
    }
    j(Implicit - 1, Implicit - 1) -= rate[0];
    for (std::size_t q = 0; q < Coupled; ++q) {
      if (q == 0) {
        j(Implicit, Implicit - 1) -= rate[0];
      } else {
        j(Implicit + q, q) += 1;
      }
    }
  }

  State start() const {
    State x{};
    for (std::size_t i = 0; i < Implicit; ++i) x[i] = 1;
    for (std::size_t e = 0; e < Explicit; ++e) x[Implicit + Coupled + e] = 1;
    return x;
  }
};

}  // namespace duskline::tests
