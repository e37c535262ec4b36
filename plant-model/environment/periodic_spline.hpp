/// Cubic spline through N points of a periodic function, continuous in value, slope and curvature.
/// Continuity of the slope at each node gives a cyclic tridiagonal system for the second derivatives.
/// x: nodes in [x0, x0 + period), ascending; y: values; m: second derivatives.
/// Valid for N >= 3 distinct nodes; it may overshoot a little between them.
/// Source: text-book spline; the cyclic system by the Sherman-Morrison formula.
/// Left out: monotone limiter, smoothing, end conditions other than periodic.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

namespace duskline::plant {

template <std::size_t N>
class PeriodicSpline {
 public:
  constexpr PeriodicSpline() = default;
  PeriodicSpline(const std::array<double, N>& x, double period, const std::array<double, N>& y)
      : x_(x), y_(y), m_(second_derivatives(x, period, y)), period_(period) {}

  double operator()(double x) const {
    const Position p = locate(x_, period_, x);
    return evaluate(p, y_[p.left], y_[p.right], m_[p.left], m_[p.right]);
  }

  /// Where x falls: between nodes left and right, which are h apart; a and b are the linear weights.
  struct Position {
    std::size_t left, right;
    double h, a, b;
  };
  static Position locate(const std::array<double, N>& nodes, double period, double x) {
    x -= period * std::floor((x - nodes[0]) / period);
    std::size_t left = 0;
    while (left + 1 < N && nodes[left + 1] <= x) ++left;
    const std::size_t right = left + 1 < N ? left + 1 : 0;
    const double h = right == 0 ? nodes[0] + period - nodes[left] : nodes[right] - nodes[left];
    const double b = (x - nodes[left]) / h;
    return {left, right, h, 1.0 - b, b};
  }
  static double evaluate(const Position& p, double y_left, double y_right, double m_left, double m_right) {
    const double sixth = p.h * p.h / 6.0;
    return p.a * y_left + p.b * y_right +
           sixth * ((p.a * p.a * p.a - p.a) * m_left + (p.b * p.b * p.b - p.b) * m_right);
  }

  static std::array<double, N> second_derivatives(const std::array<double, N>& x, double period,
                                                  const std::array<double, N>& y) {
    std::array<double, N> h{}, diagonal{}, right_side{};
    for (std::size_t i = 0; i < N; ++i) h[i] = (i + 1 < N ? x[i + 1] : x[0] + period) - x[i];
    for (std::size_t i = 0; i < N; ++i) {
      const std::size_t before = (i + N - 1) % N, after = (i + 1) % N;
      diagonal[i] = 2.0 * (h[before] + h[i]);
      right_side[i] = 6.0 * ((y[after] - y[i]) / h[i] - (y[i] - y[before]) / h[before]);
    }
    // Row i: h[i-1] m[i-1] + diagonal[i] m[i] + h[i] m[i+1] = right_side[i], indices cyclic.
    const double corner = h[N - 1], gamma = -diagonal[0];
    diagonal[0] -= gamma;
    diagonal[N - 1] -= corner * corner / gamma;
    std::array<double, N> u{};
    u[0] = gamma;
    u[N - 1] = corner;
    const std::array<double, N> z = solve(h, diagonal, right_side), q = solve(h, diagonal, u);
    const double factor = (z[0] + corner * z[N - 1] / gamma) / (1.0 + q[0] + corner * q[N - 1] / gamma);
    std::array<double, N> m{};
    for (std::size_t i = 0; i < N; ++i) m[i] = z[i] - factor * q[i];
    return m;
  }

 private:
  /// Thomas algorithm; the off-diagonal between rows i and i + 1 is h[i].
  static std::array<double, N> solve(const std::array<double, N>& h, std::array<double, N> diagonal,
                                     std::array<double, N> v) {
    for (std::size_t i = 1; i < N; ++i) {
      const double w = h[i - 1] / diagonal[i - 1];
      diagonal[i] -= w * h[i - 1];
      v[i] -= w * v[i - 1];
    }
    v[N - 1] /= diagonal[N - 1];
    for (std::size_t i = N - 1; i-- > 0;) v[i] = (v[i] - h[i] * v[i + 1]) / diagonal[i];
    return v;
  }

  std::array<double, N> x_{}, y_{}, m_{};
  double period_ = 1.0;
};

/// Rows x Columns values over two periodic axes: a spline along the columns' axis of splines along the rows'
/// axis.
template <std::size_t Rows, std::size_t Columns>
class PeriodicTable {
 public:
  using RowSpline = PeriodicSpline<Columns>;
  using ColumnSpline = PeriodicSpline<Rows>;

  constexpr PeriodicTable() = default;
  PeriodicTable(const std::array<double, Rows>& row_axis, double row_period,
                const std::array<double, Columns>& column_axis, double column_period,
                const std::array<std::array<double, Columns>, Rows>& values)
      : row_axis_(row_axis), row_period_(row_period) {
    std::array<std::array<double, Columns>, Rows> curvature{};
    for (std::size_t j = 0; j < Columns; ++j) {
      std::array<double, Rows> column{};
      for (std::size_t i = 0; i < Rows; ++i) column[i] = values[i][j];
      const auto m = ColumnSpline::second_derivatives(row_axis, row_period, column);
      for (std::size_t i = 0; i < Rows; ++i) curvature[i][j] = m[i];
    }
    for (std::size_t i = 0; i < Rows; ++i) {
      value_[i] = RowSpline(column_axis, column_period, values[i]);
      curvature_[i] = RowSpline(column_axis, column_period, curvature[i]);
    }
  }
  double operator()(double row, double column) const {
    const auto p = ColumnSpline::locate(row_axis_, row_period_, row);
    return ColumnSpline::evaluate(p, value_[p.left](column), value_[p.right](column),
                                  curvature_[p.left](column), curvature_[p.right](column));
  }

 private:
  std::array<double, Rows> row_axis_{};
  std::array<RowSpline, Rows> value_{}, curvature_{};
  double row_period_ = 1.0;
};

}  // namespace duskline::plant
