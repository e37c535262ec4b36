// The pack of eight doubles: its functions against the C library, and lanes that know nothing of each other.
#include <array>
#include <catch2/catch.hpp>
#include <cfloat>
#include <cmath>
#include <cstdint>

#include "plant-model/pack.hpp"

using duskline::plant::Pack;

namespace {

/// A repeatable sequence in [0, 1): the additive recurrence of the golden ratio.
struct Golden {
  double x = 0.5;
  double operator()() {
    x += 0.61803398874989484820;
    if (x >= 1) x -= 1;
    return x;
  }
};

template <class Function, class Reference>
double largest_relative_error(Function&& f, Reference&& reference, double low, double high,
                              bool in_exponent) {
  Golden next;
  double worst = 0;
  for (int n = 0; n < 40000; ++n) {
    Pack a;
    for (std::size_t l = 0; l < Pack::kLanes; ++l) {
      const double u = low + (high - low) * next();
      a.set(l, in_exponent ? std::pow(10.0, u) : u);
    }
    const Pack r = f(a);
    for (std::size_t l = 0; l < Pack::kLanes; ++l) {
      const long double exact = reference(static_cast<long double>(a[l]));
      worst = std::max(worst, static_cast<double>(std::abs((r[l] - exact) / exact)));
    }
  }
  return worst;
}

}  // namespace

TEST_CASE("exp of a pack agrees with the extended-precision library") {
  const auto f = [](const Pack& a) { return exp(a); };
  const auto reference = [](long double x) { return std::exp(x); };
  CHECK(largest_relative_error(f, reference, -1, 1, false) < 4e-16);
  CHECK(largest_relative_error(f, reference, -50, 50, false) < 4e-16);
  CHECK(largest_relative_error(f, reference, -699, 699, false) < 4e-16);
}

TEST_CASE("log of a pack agrees with the extended-precision library") {
  const auto f = [](const Pack& a) { return log(a); };
  const auto reference = [](long double x) { return std::log(x); };
  CHECK(largest_relative_error(f, reference, -300, -1, true) < 4e-16);
  CHECK(largest_relative_error(f, reference, 1, 300, true) < 4e-16);
  CHECK(largest_relative_error(f, reference, 0.1, 0.99, false) < 4e-16);
  CHECK(largest_relative_error(f, reference, 1.01, 10, false) < 4e-16);
  CHECK(largest_relative_error(f, reference, 0.99, 1.01, false) < 4e-16);
}

TEST_CASE("square root of a pack is the library's, bit for bit") {
  Golden next;
  for (int n = 0; n < 1000; ++n) {
    Pack a;
    for (std::size_t l = 0; l < Pack::kLanes; ++l) a.set(l, std::pow(10.0, 600 * next() - 300));
    const Pack r = sqrt(a);
    for (std::size_t l = 0; l < Pack::kLanes; ++l) CHECK(r[l] == std::sqrt(a[l]));  // IEEE 754: exact
  }
}

TEST_CASE("exact values") {
  CHECK(exp(Pack(0.0))[3] == 1.0);
  CHECK(log(Pack(1.0))[3] == 0.0);
  for (int n = -1021; n < 1023; n += 7)  // a power of two has the logarithm n ln 2
    CHECK(log(Pack(std::ldexp(1.0, n)))[0] == Approx(n * 0.69314718055994530942).epsilon(3e-16));
}

TEST_CASE("exp is held at the ends of its range and stays finite") {
  // the header says: held at 700
  CHECK(exp(Pack(1e6))[0] == exp(Pack(700.0))[0]);
  CHECK(exp(Pack(-1e6))[0] == exp(Pack(-700.0))[0]);
  CHECK(std::isfinite(exp(Pack(1e300))[0]));
  CHECK(exp(Pack(-1e300))[0] > 0);
  CHECK(exp(Pack(700.0))[0] == Approx(std::exp(700.0)).epsilon(4e-16));
  CHECK(exp(Pack(-700.0))[0] == Approx(std::exp(-700.0)).epsilon(4e-16));
}

TEST_CASE("log is finite from the smallest normal number to the largest") {
  CHECK(log(Pack(DBL_MIN))[0] == Approx(std::log(DBL_MIN)).epsilon(4e-16));
  CHECK(log(Pack(DBL_MAX))[0] == Approx(std::log(DBL_MAX)).epsilon(4e-16));
}

TEST_CASE("exp and log rise: no step backwards between neighbours") {
  // monotone over steps much larger than round-off; range reduction must not tear at its seams
  double last = exp(Pack(-20.0))[0], last_log = log(Pack(0.3))[0];
  for (int n = 1; n < 200000; ++n) {
    const double x = -20.0 + 2e-4 * n, y = 0.3 + 1e-5 * n;
    const double now = exp(Pack(x))[0], now_log = log(Pack(y))[0];
    if (!(now > last && now_log > last_log)) FAIL("at " << x << ", " << y);
    last = now;
    last_log = now_log;
  }
  CHECK(last > 0);
}

TEST_CASE("lanes are independent: each gives the bits it gives alone") {
  Golden next;
  for (int n = 0; n < 500; ++n) {
    Pack a, b;
    for (std::size_t l = 0; l < Pack::kLanes; ++l) {
      a.set(l, std::pow(10.0, 20 * next() - 10));
      b.set(l, 2 * next() + 0.5);
    }
    const auto all = [](const Pack& x, const Pack& y) {
      return exp(log(x) * 0.25 - y) / (sqrt(x) + y) + select(x.v < y.v, x * y, x - y);
    };
    const Pack together = all(a, b);
    for (std::size_t l = 0; l < Pack::kLanes; ++l) {
      const Pack alone = all(Pack(a[l]), Pack(b[l]));
      for (std::size_t m = 0; m < Pack::kLanes; ++m) CHECK(alone[m] == together[l]);
    }
  }
}

TEST_CASE("arithmetic goes lane by lane") {
  Pack a, b;
  for (std::size_t l = 0; l < Pack::kLanes; ++l) {
    a.set(l, static_cast<double>(l) - 3.5);
    b.set(l, 2.0 * static_cast<double>(l) + 1);
  }
  Pack sum = a;
  sum += b;
  Pack difference = a;
  difference -= b;
  Pack product = a;
  product *= b;
  const Pack quotient = a / b, chosen = select(a.v < 0.0, a, b), negative = -a;
  for (std::size_t l = 0; l < Pack::kLanes; ++l) {  // IEEE 754: the same as in double
    CHECK(sum[l] == a[l] + b[l]);
    CHECK(difference[l] == a[l] - b[l]);
    CHECK(product[l] == a[l] * b[l]);
    CHECK(quotient[l] == a[l] / b[l]);
    CHECK(negative[l] == -a[l]);
    CHECK(chosen[l] == (a[l] < 0 ? a[l] : b[l]));
  }
}
