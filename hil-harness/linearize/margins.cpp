// One sweep, then bisection at every crossing and a golden-section search around the highest peak.
#include "hil-harness/linearize/margins.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <tuple>
#include <utility>
#include <vector>

namespace duskline::harness {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kPerDegree = 180.0 / kPi;

struct Point {
  double omega;
  std::complex<double> l;
};

std::vector<Point> sweep(const FrequencyResponse& loop, double lowest, double highest, int points_a_decade) {
  const int count = std::max(2, static_cast<int>(std::ceil(points_a_decade * std::log10(highest / lowest))));
  std::vector<Point> points;
  points.reserve(static_cast<std::size_t>(count) + 1);
  for (int k = 0; k <= count; ++k) {
    const double omega = lowest * std::pow(highest / lowest, static_cast<double>(k) / count);
    const auto l = loop(omega);
    if (std::isfinite(l.real()) && std::isfinite(l.imag())) points.push_back({omega, l});
  }
  return points;
}

/// Where `f` changes its sign between a and b.
template <class F>
double bisect(F f, double a, double b) {
  const bool low = f(a) < 0.0;
  for (int n = 0; n < 60 && b - a > 1e-12 * b; ++n) {
    const double middle = std::sqrt(a * b);
    (((f(middle) < 0.0) == low) ? a : b) = middle;
  }
  return std::sqrt(a * b);
}

/// Where `f` is largest between a and b, in the logarithm of the frequency.
template <class F>
double peak(F f, double a, double b) {
  constexpr double kGolden = 0.61803398874989484820;
  double x0 = std::log(a), x3 = std::log(b);
  double x1 = x3 - kGolden * (x3 - x0), x2 = x0 + kGolden * (x3 - x0);
  double f1 = f(std::exp(x1)), f2 = f(std::exp(x2));
  for (int n = 0; n < 40; ++n) {
    if (f1 > f2) {
      x3 = x2, x2 = x1, f2 = f1;
      x1 = x3 - kGolden * (x3 - x0);
      f1 = f(std::exp(x1));
    } else {
      x0 = x1, x1 = x2, f1 = f2;
      x2 = x0 + kGolden * (x3 - x0);
      f2 = f(std::exp(x2));
    }
  }
  return std::exp(0.5 * (x0 + x3));
}

/// Largest value of `size` over the sweep, refined where it is not at an end.
template <class F>
std::pair<double, double> largest(const FrequencyResponse& loop, const std::vector<Point>& points, F size) {
  std::size_t at = 0;
  for (std::size_t k = 1; k < points.size(); ++k)
    if (size(points[k].l) > size(points[at].l)) at = k;
  double best = size(points[at].l), omega = points[at].omega;
  if (at > 0 && at + 1 < points.size()) {
    const double refined =
        peak([&](double w) { return size(loop(w)); }, points[at - 1].omega, points[at + 1].omega);
    const double value = size(loop(refined));
    if (value > best) best = value, omega = refined;
  }
  return {best, omega};
}

void at_crossover(const FrequencyResponse& loop, const Point& a, const Point& b, Margins& m) {
  const double omega = bisect([&](double w) { return std::abs(loop(w)) - 1.0; }, a.omega, b.omega);
  // distance of the phase from -180 deg: a lag uses up the way down, a lead the way up
  double below = kPi + std::arg(loop(omega));
  const double lag = below;  // 0 to 2 pi
  if (below > kPi) below = 2.0 * kPi - below;
  const double degrees = below * kPerDegree;
  m.delay = std::min(m.delay, lag / omega);
  if (degrees >= m.phase) return;
  m.phase = degrees;
  m.crossover = omega;
}

/// L crosses the negative real axis between a and b.
void at_phase_crossing(const FrequencyResponse& loop, const Point& a, const Point& b, Margins& m) {
  const double omega = bisect([&](double w) { return loop(w).imag(); }, a.omega, b.omega);
  const std::complex<double> l = loop(omega);
  const double size = std::abs(l);
  if (!(l.real() < 0.0) || size == 0.0) return;
  if (size < 1.0 && 1.0 / size < m.gain) {
    m.gain = 1.0 / size;
    m.gain_at = omega;
  }
  if (size > 1.0) m.gain_down = std::max(m.gain_down, 1.0 / size);
}

}  // namespace

Margins margins_of(const FrequencyResponse& loop, double lowest, double highest, int points_a_decade) {
  Margins m;
  const std::vector<Point> points = sweep(loop, lowest, highest, points_a_decade);
  if (points.size() < 2) return m;
  const auto sensitivity = [](std::complex<double> l) { return 1.0 / std::abs(1.0 + l); };
  const auto complementary = [](std::complex<double> l) { return std::abs(l / (1.0 + l)); };
  std::tie(m.sensitivity, m.sensitivity_at) = largest(loop, points, sensitivity);
  m.complementary = largest(loop, points, complementary).first;
  for (std::size_t k = 1; k < points.size(); ++k) {
    const Point &a = points[k - 1], &b = points[k];
    if ((std::abs(a.l) < 1.0) != (std::abs(b.l) < 1.0)) at_crossover(loop, a, b, m);
    if ((a.l.imag() < 0.0) != (b.l.imag() < 0.0) && a.l.real() + b.l.real() < 0.0)
      at_phase_crossing(loop, a, b, m);
  }
  // a sampled loop is real at the highest frequency: there, too, more gain may bring it to -1
  const std::complex<double> last = points.back().l;
  if (last.real() < 0.0 && std::abs(last.imag()) < 1e-6 * std::abs(last.real()) && std::abs(last) < 1.0 &&
      1.0 / std::abs(last) < m.gain) {
    m.gain = 1.0 / std::abs(last);
    m.gain_at = points.back().omega;
  }
  return m;
}

double gain_promised(double sensitivity) {
  return sensitivity > 1.0 ? sensitivity / (sensitivity - 1.0) : std::numeric_limits<double>::infinity();
}

double phase_promised(double sensitivity) {
  return 2.0 * std::asin(1.0 / (2.0 * sensitivity)) * kPerDegree;
}

}  // namespace duskline::harness
