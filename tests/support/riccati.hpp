/// Stationary solutions of the discrete Riccati equation by iteration, in double precision.
///
/// What it is   the linear-quadratic gain, and by duality the stationary Kalman filter
/// Equation     P = Q + A'PA - A'PB (R + B'PB)^-1 B'PA,  K = (R + B'PB)^-1 B'PA
/// Symbols      P cost, K gain
/// Validity     stabilisable pairs; iterated until the change is below 1e-13 relative
/// Source       textbook value iteration
/// Left out     large systems
#pragma once

#include <Eigen/Dense>

namespace duskline::test {

struct Regulator {
  Eigen::MatrixXd cost, gain;
};

inline Regulator regulator(const Eigen::MatrixXd& A, const Eigen::MatrixXd& B, const Eigen::MatrixXd& Q,
                           const Eigen::MatrixXd& R) {
  Regulator r{Q, {}};
  for (int k = 0; k < 100000; ++k) {
    r.gain = (R + B.transpose() * r.cost * B).ldlt().solve(B.transpose() * r.cost * A);
    const Eigen::MatrixXd next = Q + A.transpose() * r.cost * (A - B * r.gain);
    const double change = (next - r.cost).norm() / next.norm();
    r.cost = next;
    if (change < 1e-13) break;
  }
  return r;
}

/// Filter gain P C'(C P C' + R)^-1 of the predicted covariance P.
inline Eigen::MatrixXd filter_gain(const Eigen::MatrixXd& A, const Eigen::MatrixXd& C,
                                   const Eigen::MatrixXd& Q, const Eigen::MatrixXd& R) {
  const Eigen::MatrixXd P = regulator(A.transpose(), C.transpose(), Q, R).cost;
  return P * C.transpose() * (C * P * C.transpose() + R).inverse();
}

}  // namespace duskline::test
