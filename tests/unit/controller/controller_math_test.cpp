// Elementary functions of the controller against double precision std:: functions (the standard library of
// the host).
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "controller/math.hpp"

using namespace duskline::controller;

namespace {

double relative(double got, double wanted) {
  return std::abs(got - wanted) / std::abs(wanted);
}

}  // namespace

TEST_CASE("exponential stays within the stated error") {
  double worst = 0.0;
  for (int k = -86000; k <= 86000; ++k) {
    const float x = static_cast<float>(k) * 1e-3f;
    worst = std::max(worst, relative(exponential(x), std::exp(static_cast<double>(x))));
  }
  CHECK(worst < 2e-7);
  CHECK(exponential(0.0f) == 1.0f);
  CHECK(std::isfinite(exponential(1e30f)));
  CHECK(std::isfinite(exponential(std::numeric_limits<float>::quiet_NaN())));
}

TEST_CASE("logarithm stays within the stated error") {
  double worst = 0.0;
  for (int k = -370; k <= 380; ++k) {
    for (int j = 0; j < 64; ++j) {
      const float x = std::ldexp(1.0f + static_cast<float>(j) / 64.0f, k / 3);
      const double wanted = std::log(static_cast<double>(x));
      worst = std::max(worst, std::abs(logarithm(x) - wanted) / std::max(1.0, std::abs(wanted)));
    }
  }
  for (int k = 1; k < 40000; ++k) {
    const float x = static_cast<float>(k) * 1e-4f;
    const double wanted = std::log(static_cast<double>(x));
    worst = std::max(worst, std::abs(logarithm(x) - wanted) / std::max(1.0, std::abs(wanted)));
  }
  CHECK(worst < 2e-7);
  CHECK(logarithm(1.0f) == 0.0f);
  CHECK(logarithm(-1.0f) == logarithm(0.0f));
  CHECK(std::isfinite(logarithm(0.0f)));
}

TEST_CASE("logarithm of one plus keeps small arguments") {
  double worst = 0.0;
  for (int k = -300; k <= 300; ++k) {
    const float x = std::pow(10.0f, static_cast<float>(k) / 30.0f);
    worst = std::max(worst, relative(logarithm_of_one_plus(x), std::log1p(static_cast<double>(x))));
  }
  CHECK(worst < 4e-7);
}

TEST_CASE("square root stays within the stated error") {
  double worst = 0.0;
  for (int k = -3600; k <= 3600; ++k) {
    const float x = std::pow(10.0f, static_cast<float>(k) / 100.0f);
    worst = std::max(worst, relative(square_root(x), std::sqrt(static_cast<double>(x))));
  }
  CHECK(worst < 1.2e-7);
  CHECK(square_root(-1.0f) == 0.0f);
  CHECK(square_root(std::numeric_limits<float>::quiet_NaN()) == 0.0f);
}

TEST_CASE("inverse sinh stays within the stated error and is odd") {
  double worst = 0.0;
  for (int k = -600; k <= 500; ++k) {
    const float x = std::pow(10.0f, static_cast<float>(k) / 50.0f);
    worst = std::max(worst, relative(inverse_sinh(x), std::asinh(static_cast<double>(x))));
    CHECK(inverse_sinh(-x) == -inverse_sinh(x));
  }
  CHECK(worst < 6e-7);
  CHECK(inverse_sinh(0.0f) == 0.0f);
}

TEST_CASE("clamp answers within its bounds for any bits") {
  CHECK(clamp(std::numeric_limits<float>::quiet_NaN(), 1.0f, 2.0f) == 1.0f);
  CHECK(clamp(std::numeric_limits<float>::infinity(), 1.0f, 2.0f) == 2.0f);
  CHECK(clamp(-std::numeric_limits<float>::infinity(), 1.0f, 2.0f) == 1.0f);
  CHECK(clamp(1.5f, 1.0f, 2.0f) == 1.5f);
}

TEST_CASE("the functions are evaluated by the compiler as on the machine") {
  // constant evaluation follows IEEE 754 single precision: a difference would mean contraction or wider
  // registers
  constexpr float e = exponential(1.2345f), l = logarithm(7.7f), s = square_root(2.0f),
                  a = inverse_sinh(0.3f);
  volatile float x = 1.2345f, y = 7.7f, z = 2.0f, w = 0.3f;
  CHECK(bits_of(exponential(x)) == bits_of(e));
  CHECK(bits_of(logarithm(y)) == bits_of(l));
  CHECK(bits_of(square_root(z)) == bits_of(s));
  CHECK(bits_of(inverse_sinh(w)) == bits_of(a));
}
