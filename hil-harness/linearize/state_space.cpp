// The exponential, eigenvalues and frequency responses of state-space models, with scaled states.
#include "hil-harness/linearize/state_space.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <unsupported/Eigen/MatrixFunctions>

namespace duskline::harness {
namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Sizes of the states in which no row of A dwarfs its column: what is given, then rounds of balancing by powers of
/// two (Parlett and Reinsch, Numerische Mathematik 13 (1969) 293).
VectorXd balance(const StateSpace& s) {
  const Index n = s.a.rows();
  VectorXd scale = s.state_scale.size() == n ? s.state_scale : VectorXd::Ones(n);
  MatrixXd a = scale.cwiseInverse().asDiagonal() * s.a * scale.asDiagonal();
  a.diagonal().setZero();
  for (int round = 0; round < 50; ++round) {
    bool moved = false;
    for (Index i = 0; i < n; ++i) {
      const double column = a.col(i).lpNorm<1>(), row = a.row(i).lpNorm<1>();
      if (column == 0.0 || row == 0.0) continue;
      const double factor = std::exp2(std::round(0.5 * std::log2(row / column)));
      if (column * factor + row / factor > 0.95 * (column + row)) continue;
      scale[i] *= factor;
      a.col(i) *= factor;
      a.row(i) /= factor;
      moved = true;
    }
    if (!moved) break;
  }
  return scale;
}

bool before(std::complex<double> a, std::complex<double> b, bool sampled) {
  const double x = sampled ? std::abs(a) : a.real(), y = sampled ? std::abs(b) : b.real();
  // conjugates have equal keys up to round-off; the imaginary part then decides
  if (std::abs(x - y) > 1e-12 * std::max({1e-300, std::abs(x), std::abs(y)})) return x > y;
  if (std::abs(a.imag()) != std::abs(b.imag())) return std::abs(a.imag()) < std::abs(b.imag());
  return a.imag() > b.imag();
}

}  // namespace

StateSpace discretised(const StateSpace& continuous, double step) {
  const Index n = continuous.a.rows(), m = continuous.b.cols();
  const VectorXd scale = balance(continuous);
  MatrixXd block = MatrixXd::Zero(n + m, n + m);
  block.topLeftCorner(n, n) = scale.cwiseInverse().asDiagonal() * continuous.a * scale.asDiagonal() * step;
  MatrixXd push = scale.cwiseInverse().asDiagonal() * continuous.b * step;
  const Eigen::RowVectorXd size = push.colwise().norm().unaryExpr([](double x) { return x > 0.0 ? x : 1.0; });
  block.topRightCorner(n, m) = push.array().rowwise() / size.array();
  const MatrixXd e = block.exp();
  StateSpace d = continuous;
  d.a = scale.asDiagonal() * e.topLeftCorner(n, n) * scale.cwiseInverse().asDiagonal();
  d.b = scale.asDiagonal() * MatrixXd(e.topRightCorner(n, m).array().rowwise() * size.array());
  d.step = step;
  return d;
}

std::vector<std::complex<double>> poles(const StateSpace& system) {
  if (system.a.rows() == 0) return {};
  const VectorXd scale = balance(system);
  const Eigen::EigenSolver<MatrixXd> solver(scale.cwiseInverse().asDiagonal() * system.a * scale.asDiagonal(),
                                            false);
  const auto& values = solver.eigenvalues();
  std::vector<std::complex<double>> all(values.begin(), values.end());
  const bool sampled = system.step > 0.0;
  std::sort(all.begin(), all.end(), [&](const auto& a, const auto& b) { return before(a, b, sampled); });
  return all;
}

std::complex<double> continuous_pole(std::complex<double> z, double step) {
  if (std::abs(z) == 0.0) return {-std::numeric_limits<double>::infinity(), 0.0};
  return std::log(z) / step;
}

MatrixXd step_response(const StateSpace& sampled, Index input, Index count) {
  MatrixXd y(count, sampled.c.rows());
  VectorXd x = VectorXd::Zero(sampled.a.rows());
  const VectorXd push = sampled.b.col(input), through = sampled.d.col(input);
  for (Index k = 0; k < count; ++k) {
    y.row(k) = (sampled.c * x + through).transpose();
    x = sampled.a * x + push;
  }
  return y;
}

Transfer::Transfer(const StateSpace& system) : d_(system.d), step_(system.step) {
  const VectorXd scale = balance(system);
  if (system.a.rows() == 0) {
    b_ = system.b;
    c_ = system.c;
    return;
  }
  const Eigen::HessenbergDecomposition<MatrixXd> reduced(scale.cwiseInverse().asDiagonal() * system.a *
                                                         scale.asDiagonal());
  const MatrixXd q = reduced.matrixQ();
  h_ = reduced.matrixH();
  b_ = q.transpose() * scale.cwiseInverse().asDiagonal() * system.b;
  c_ = system.c * scale.asDiagonal() * q;
}

/// (p I - H)^-1 B: elimination of the one subdiagonal with the larger of two neighbouring rows as pivot.
MatrixXcd Transfer::solve(std::complex<double> p) const {
  const Index n = h_.rows();
  // row-major, because elimination walks along rows
  Eigen::Matrix<std::complex<double>, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> m =
      (-h_).cast<std::complex<double>>();
  m.diagonal().array() += p;
  Eigen::Matrix<std::complex<double>, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> x =
      b_.cast<std::complex<double>>();
  for (Index k = 0; k + 1 < n; ++k) {
    const Index rest = n - k;
    if (std::abs(m(k + 1, k)) > std::abs(m(k, k))) {
      m.row(k).tail(rest).swap(m.row(k + 1).tail(rest));
      x.row(k).swap(x.row(k + 1));
    }
    if (m(k + 1, k) == 0.0) continue;
    const std::complex<double> factor = m(k + 1, k) / m(k, k);
    m.row(k + 1).tail(rest) -= factor * m.row(k).tail(rest);
    x.row(k + 1) -= factor * x.row(k);
  }
  for (Index k = n; k-- > 0;) {
    if (k + 1 < n) x.row(k) -= m.row(k).tail(n - k - 1) * x.bottomRows(n - k - 1);
    x.row(k) /= m(k, k);
  }
  return x;
}

MatrixXcd Transfer::at(double omega) const {
  const std::complex<double> p =
      step_ > 0.0 ? std::polar(1.0, omega * step_) : std::complex<double>(0.0, omega);
  if (h_.rows() == 0) return d_.cast<std::complex<double>>();
  return c_.cast<std::complex<double>>() * solve(p) + d_.cast<std::complex<double>>();
}

}  // namespace duskline::harness
