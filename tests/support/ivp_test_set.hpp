// Four problems of the Test Set for IVP Solvers, release 2.4 (F. Mazzia, C. Magherini, University of Bari,
// 2008): equations, initial values, end times and the reference end values given there.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "plant-model/integrate/dense_matrix.hpp"

namespace duskline::tests {

/// Digits of the end value: - log10 of the largest relative error over the components.
template <std::size_t N>
double correct_digits(const std::array<double, N>& found, const std::array<double, N>& reference) {
  double worst = 0;
  for (std::size_t i = 0; i < N; ++i) {
    worst = std::max(worst, std::abs(found[i] - reference[i]) / std::abs(reference[i]));
  }
  return -std::log10(worst);
}

/// Robertson's reactions, three species, rates spread over nine decades.
struct Robertson {
  static constexpr std::size_t kStates = 3;
  using State = std::array<double, kStates>;
  static constexpr State kStart = {1, 0, 0};
  static constexpr double kEnd = 1e11;
  static constexpr State kReference = {0.2083340149701255e-7, 0.8333360770334713e-13, 0.9999999791665050};

  void operator()(const State& x, State& dxdt, double) const {
    const double slow = 0.04 * x[0];
    const double back = 1e4 * x[1] * x[2];
    const double fast = 3e7 * x[1] * x[1];
    dxdt = {back - slow, slow - back - fast, fast};
  }
  void jacobian(const State& x, double, plant::DenseMatrix& j) const {
    j(0, 0) = -0.04;
    j(0, 1) = 1e4 * x[2];
    j(0, 2) = 1e4 * x[1];
    j(1, 0) = 0.04;
    j(1, 1) = -1e4 * x[2] - 6e7 * x[1];
    j(1, 2) = -1e4 * x[1];
    j(2, 1) = 6e7 * x[1];
  }
};

/// Van der Pol's oscillator with epsilon = 1e-6: slow stretches and jumps.
struct VanDerPol {
  static constexpr std::size_t kStates = 2;
  using State = std::array<double, kStates>;
  static constexpr State kStart = {2, 0};
  static constexpr double kEnd = 2;
  static constexpr State kReference = {0.1706167732170483e1, -0.8928097010247975};
  static constexpr double kEpsilon = 1e-6;

  void operator()(const State& x, State& dxdt, double) const {
    dxdt = {x[1], ((1 - x[0] * x[0]) * x[1] - x[0]) / kEpsilon};
  }
  void jacobian(const State& x, double, plant::DenseMatrix& j) const {
    j(0, 1) = 1;
    j(1, 0) = (-2 * x[0] * x[1] - 1) / kEpsilon;
    j(1, 1) = (1 - x[0] * x[0]) / kEpsilon;
  }
};

/// HIRES, eight species of a light response in plants.
struct Hires {
  static constexpr std::size_t kStates = 8;
  using State = std::array<double, kStates>;
  static constexpr State kStart = {1, 0, 0, 0, 0, 0, 0, 0.0057};
  static constexpr double kEnd = 321.8122;
  static constexpr State kReference = {0.7371312573325668e-3, 0.1442485726316185e-3, 0.5888729740967575e-4,
                                       0.1175651343283149e-2, 0.2386356198831331e-2, 0.6238968252742796e-2,
                                       0.2849998395185769e-2, 0.2850001604814231e-2};

  void operator()(const State& x, State& dxdt, double) const {
    const double meeting = 280 * x[5] * x[7];
    dxdt[0] = -1.71 * x[0] + 0.43 * x[1] + 8.32 * x[2] + 0.0007;
    dxdt[1] = 1.71 * x[0] - 8.75 * x[1];
    dxdt[2] = -10.03 * x[2] + 0.43 * x[3] + 0.035 * x[4];
    dxdt[3] = 8.32 * x[1] + 1.71 * x[2] - 1.12 * x[3];
    dxdt[4] = -1.745 * x[4] + 0.43 * (x[5] + x[6]);
    dxdt[5] = -meeting + 0.69 * x[3] + 1.71 * x[4] - 0.43 * x[5] + 0.69 * x[6];
    dxdt[6] = meeting - 1.81 * x[6];
    dxdt[7] = -dxdt[6];
  }
  void jacobian(const State& x, double, plant::DenseMatrix& j) const {
    const double by5 = 280 * x[7];
    const double by7 = 280 * x[5];
    j(0, 0) = -1.71, j(0, 1) = 0.43, j(0, 2) = 8.32;
    j(1, 0) = 1.71, j(1, 1) = -8.75;
    j(2, 2) = -10.03, j(2, 3) = 0.43, j(2, 4) = 0.035;
    j(3, 1) = 8.32, j(3, 2) = 1.71, j(3, 3) = -1.12;
    j(4, 4) = -1.745, j(4, 5) = 0.43, j(4, 6) = 0.43;
    j(5, 3) = 0.69, j(5, 4) = 1.71, j(5, 5) = -by5 - 0.43, j(5, 6) = 0.69, j(5, 7) = -by7;
    j(6, 5) = by5, j(6, 6) = -1.81, j(6, 7) = by7;
    j(7, 5) = -by5, j(7, 6) = 1.81, j(7, 7) = -by7;
  }
};

/// OREGO, the Oregonator: a limit cycle with sharp peaks.
struct Orego {
  static constexpr std::size_t kStates = 3;
  using State = std::array<double, kStates>;
  static constexpr State kStart = {1, 2, 3};
  static constexpr double kEnd = 360;
  static constexpr State kReference = {0.1000814870318523e1, 0.1228178521549917e4, 0.1320554942846706e3};

  void operator()(const State& x, State& dxdt, double) const {
    dxdt[0] = 77.27 * (x[1] + x[0] * (1 - 8.375e-6 * x[0] - x[1]));
    dxdt[1] = (x[2] - (1 + x[0]) * x[1]) / 77.27;
    dxdt[2] = 0.161 * (x[0] - x[2]);
  }
  void jacobian(const State& x, double, plant::DenseMatrix& j) const {
    j(0, 0) = 77.27 * (1 - 2 * 8.375e-6 * x[0] - x[1]);
    j(0, 1) = 77.27 * (1 - x[0]);
    j(1, 0) = -x[1] / 77.27;
    j(1, 1) = -(1 + x[0]) / 77.27;
    j(1, 2) = 1 / 77.27;
    j(2, 0) = 0.161;
    j(2, 2) = -0.161;
  }
};

}  // namespace duskline::tests
