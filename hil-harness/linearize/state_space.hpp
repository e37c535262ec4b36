/// Linear state-space models: continuous and sampled, their poles, responses and frequency responses.
///
/// What it is   plain matrices with names and units, and pure functions of them
/// Equation     dx/dt = A x + B u (step = 0) or x[n+1] = A x[n] + B u[n] (step = h); y = C x + D u; held
///              inputs: [A_d B_d; 0 I] = exp([A B; 0 0] h)
/// Symbols      x, u, y are deviations from the operating point, in the units named; h [s]
/// Validity     any finite matrices; states are scaled, so that mixed units do not disturb the arithmetic
/// Source       Van Loan, IEEE Trans. Automatic Control 23 (1978) 395 for the exponential of the block matrix
/// Left out     delays that are no whole number of steps (none arise here)
#pragma once

#include <Eigen/Core>
#include <complex>
#include <string>
#include <vector>

namespace duskline::harness {

struct Channel {
  std::string name, unit;
};

struct StateSpace {
  Eigen::MatrixXd a, b, c, d;
  std::vector<Channel> states, inputs, outputs;
  Eigen::VectorXd state_scale;  ///< rough size of each state, balanced further; empty: all 1
  double step = 0.0;            ///< s; 0: continuous
};

/// The model between ticks with inputs held over each tick of `step` seconds.
StateSpace discretised(const StateSpace& continuous, double step);

/// Eigenvalues of A, the slowest first (largest real part, or largest modulus of a sampled model); conjugates
/// next to each other, the one with the positive imaginary part first.
std::vector<std::complex<double>> poles(const StateSpace& system);

/// exp(s h) back to s; of a pole at 0 nothing is left: minus infinity.
std::complex<double> continuous_pole(std::complex<double> z, double step);

/// y[n] of a sampled model for a unit step in one input: `count` rows (n = 0, 1, ...), one column an output.
Eigen::MatrixXd step_response(const StateSpace& sampled, Eigen::Index input, Eigen::Index count);

/// C (p I - A)^-1 B + D at many frequencies: A is brought to Hessenberg form once.
class Transfer {
 public:
  explicit Transfer(const StateSpace& system);
  /// At omega [rad/s]: p = i omega, or exp(i omega h) of a sampled model.
  Eigen::MatrixXcd at(double omega) const;

 private:
  Eigen::MatrixXcd solve(std::complex<double> p) const;

  Eigen::MatrixXd h_, b_, c_, d_;
  double step_;
};

}  // namespace duskline::harness
