// Smooth functions and the dual number: bounds and limits stated in scalar.hpp, derivatives against
// differences, and the same results for all three scalars.
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/scalar.hpp"

using namespace duskline::plant;

namespace {

constexpr double kWidth = 0.01;
using D = Dual<1>;

D variable(double x) {
  return D(x, 0);
}
template <class F>
double slope(F&& f, double x) {
  return f(variable(x)).slope[0];
}
template <class F>
double difference(F&& f, double x, double h = 1e-6) {
  return (f(x + h) - f(x - h)) / (2 * h);
}

}  // namespace

TEST_CASE("positive part: exact limits, never negative, errs by half the width at zero") {
  // algebra: p - (-p mirrored) = x, p p' = w^2/4
  for (const double x : {-1e6, -3.0, -1e-3, 0.0, 1e-3, 3.0, 1e6}) {
    const double up = positive_part(x, kWidth), down = positive_part(-x, kWidth);
    CHECK(up - down == Approx(x).margin(1e-12));
    CHECK(up >= 0);
    CHECK(up >= x - 1e-12 * std::abs(x));
    CHECK(up - std::max(x, 0.0) <= 0.5 * kWidth);
  }
  CHECK(positive_part(0.0, kWidth) == 0.5 * kWidth);
  CHECK(positive_part(1.0, kWidth) - 1.0 == Approx(kWidth * kWidth / 4).epsilon(1e-3));
}

TEST_CASE("smooth minimum lies below both") {
  for (const double a : {-2.0, 0.0, 0.5, 3.0})
    for (const double b : {-2.0, 0.0, 0.501, 3.0}) {
      const double m = smooth_min(a, b, kWidth);
      CHECK(m <= std::min(a, b));
      CHECK(m >= std::min(a, b) - 0.5 * kWidth - 1e-15);
    }
}

TEST_CASE("ramp is exactly zero below zero and has a continuous slope") {
  CHECK(ramp(-5.0, 0.05) == 0.0);
  CHECK(ramp(0.0, 0.05) == 0.0);
  const auto f = [](const auto& x) { return ramp(x, 0.05); };
  CHECK(slope(f, -1e-9) == 0.0);
  CHECK(slope(f, 1e-9) == Approx(0).margin(1e-6));
  CHECK(ramp(1.0, 0.05) == Approx(1.0 / 1.05).epsilon(1e-15));  // m^2/(m + w)
  CHECK(slope(f, 100.0) == Approx(1).margin(1e-6));
}

TEST_CASE("inverse hyperbolic sine agrees with the library for either sign") {
  for (const double x : {-1e8, -30.0, -1.0, -1e-3, 0.0, 1e-3, 1.0, 30.0, 1e8})
    CHECK(duskline::plant::asinh(x) == Approx(std::asinh(x)).epsilon(2e-13).margin(1e-16));
}

TEST_CASE("duals carry the derivative") {
  for (const double x : {-0.7, -0.02, 0.003, 0.4, 2.5}) {
    const auto p = [](const auto& y) { return positive_part(y, kWidth); };
    const auto r = [](const auto& y) { return ramp(y, 0.05); };
    const auto a = [](const auto& y) { return duskline::plant::asinh(y); };
    CHECK(slope(p, x) == Approx(difference(p, x)).margin(1e-7));
    CHECK(slope(r, x) == Approx(difference(r, x)).margin(1e-7));
    CHECK(slope(a, x) == Approx(difference(a, x)).margin(1e-7));
    const auto e = [](const auto& y) {
      using std::exp, duskline::plant::exp;
      return exp(y);
    };
    CHECK(slope(e, x) == Approx(std::exp(x)).epsilon(1e-14));
  }
  const auto q = [](const auto& y) { return fourth_root(y); };
  CHECK(slope(q, 16.0) == Approx(1.0 / 32).epsilon(1e-14));  // analytic: x^(-3/4)/4
  CHECK(q(81.0) == Approx(3.0).epsilon(1e-15));
}

TEST_CASE("pick chooses value and derivative together") {
  const D a = variable(2.0), b(5.0);
  CHECK(pick(true, a, b).value == 2.0);
  CHECK(pick(true, a, b).slope[0] == 1.0);
  CHECK(pick(false, a, b).value == 5.0);
  CHECK(value_of(a) == 2.0);
  CHECK(less(a, 2.5));
  CHECK_FALSE(less(a, 2.0));
}

TEST_CASE("double, pack and dual give the same numbers") {
  for (const double x : {-4.0, -0.01, 0.0, 0.02, 1.7}) {
    const auto f = [](const auto& y) {
      using S = std::decay_t<decltype(y)>;
      return S(positive_part(y, kWidth) + ramp(y, 0.05) + smooth_min(y, S(0.5), kWidth) +
               duskline::plant::asinh(y) + fourth_root(S(y * y + 1.0)));
    };
    const double plain = f(x);
    CHECK(f(variable(x)).value == Approx(plain).epsilon(1e-14).margin(1e-14));
    CHECK(f(Pack(x))[5] == Approx(plain).epsilon(1e-14).margin(1e-14));
  }
}
