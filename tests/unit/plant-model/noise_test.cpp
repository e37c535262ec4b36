#include "plant-model/random/noise.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

using namespace duskline::plant;

namespace {

std::vector<double> normals_of(const NoiseStream& stream, std::int64_t count) {
  std::vector<double> z(static_cast<std::size_t>(count));
  for (std::int64_t t = 0; t < count; ++t) z[static_cast<std::size_t>(t)] = stream.normal(t);
  return z;
}

double mean_of_products(const std::vector<double>& x, const std::vector<double>& y, std::size_t lag = 0) {
  double sum = 0.0;
  for (std::size_t i = lag; i < x.size(); ++i) sum += x[i] * y[i - lag];
  return sum / static_cast<double>(x.size() - lag);
}

/// Largest distance between the empirical distribution of x and a distribution function, times sqrt(n).
template <class Cdf>
double kolmogorov(std::vector<double> x, Cdf cdf) {
  std::sort(x.begin(), x.end());
  const double n = static_cast<double>(x.size());
  double distance = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double f = cdf(x[i]);
    distance = std::max({distance, f - static_cast<double>(i) / n, static_cast<double>(i + 1) / n - f});
  }
  return distance * std::sqrt(n);
}

double normal_cdf(double z) {
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

constexpr std::int64_t kDraws = 100000;
const double kRootDraws = std::sqrt(static_cast<double>(kDraws));

}  // namespace

TEST_CASE("Philox 4x32-10 gives the published words") {
  // First three: known-answer vectors of Salmon et al., SC'11 (reference distribution, kat_vectors).
  CHECK(philox({0, 0, 0, 0}, {0, 0}) == PhiloxCounter{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8});
  constexpr std::uint32_t kOnes = 0xffffffff;
  CHECK(philox({kOnes, kOnes, kOnes, kOnes}, {kOnes, kOnes}) ==
        PhiloxCounter{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd});
  CHECK(philox({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}) ==
        PhiloxCounter{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1});
  // Computed with an independent implementation of the same paper.
  CHECK(philox({1, 0, 0, 0}, {0, 0}) == PhiloxCounter{0xf8e4cca4, 0x5cb200db, 0xb1a574eb, 0x097eff67});
}

TEST_CASE("The generator can be evaluated by the compiler") {
  STATIC_REQUIRE(philox({0, 0, 0, 0}, {0, 0})[0] == 0x6627e8d5);
  STATIC_REQUIRE(NoiseStream(1, "a").uniform(3) > 0.0);
}

TEST_CASE("The inverse normal gives the quantiles of the handbooks") {
  // Check values printed with algorithm AS 241 (Wichura 1988).
  CHECK(inverse_normal(0.25) == Approx(-0.6744897501960817).epsilon(1e-15));
  CHECK(inverse_normal(0.001) == Approx(-3.090232306167814).epsilon(1e-15));
  CHECK(inverse_normal(1e-20) == Approx(-9.262340089798408).epsilon(1e-15));
  // Abramowitz and Stegun, table 26.6 (points of the normal distribution), to the digits printed there and
  // continued by root finding on the normal integral at 40 digits.
  CHECK(inverse_normal(0.95) == Approx(1.6448536269514727).epsilon(2e-15));
  CHECK(inverse_normal(0.975) == Approx(1.9599639845400542).epsilon(2e-15));
  CHECK(inverse_normal(0.2) == Approx(-0.84162123357291442).epsilon(2e-15));
  CHECK(inverse_normal(0.0749) == Approx(-1.4402382675279637).epsilon(2e-15));
  CHECK(inverse_normal(1e-9) == Approx(-5.9978070150076869).epsilon(2e-15));
  CHECK(inverse_normal(1.3e-11) == Approx(-6.6676114565107408).epsilon(2e-15));
  CHECK(inverse_normal(1e-300) == Approx(-37.047096299361199).epsilon(2e-15));
  CHECK(inverse_normal(0.5) == 0.0);
}

TEST_CASE("The inverse normal undoes the normal integral over all of its pieces") {
  // The lower half; the upper half follows from the antisymmetry below.
  for (double z = -12.0; z < 0.0; z += 0.01)
    CHECK(inverse_normal(normal_cdf(z)) == Approx(z).epsilon(1e-13).margin(1e-16));
}

TEST_CASE("The inverse normal is antisymmetric and defined at its ends") {
  for (const double p : {0.03125, 0.0625, 0.25, 0x1p-33})
    CHECK(inverse_normal(p) == -inverse_normal(1.0 - p));
  CHECK(inverse_normal(0.0) == -std::numeric_limits<double>::infinity());
  CHECK(inverse_normal(1.0) == std::numeric_limits<double>::infinity());
  CHECK(std::isnan(inverse_normal(-0.1)));
  CHECK(std::isnan(inverse_normal(1.1)));
  CHECK(std::isnan(inverse_normal(std::numeric_limits<double>::quiet_NaN())));
}

TEST_CASE("The portable logarithm agrees with the library to two units in the last place") {
  const NoiseStream stream(1, "arguments");
  for (std::int64_t t = 0; t < 20000; ++t) {
    const double x = std::ldexp(stream.uniform(t), static_cast<int>(t % 200) - 180);
    const double expected = std::log(x);  // source: the C library
    CHECK(std::abs(portable_log(x) - expected) <= 2 * std::abs(expected) * 0x1p-52 + 1e-17);
  }
  CHECK(portable_log(1.0) == 0.0);
}

TEST_CASE("Ticks of one block and ticks one by one give the same numbers") {
  const NoiseStream stream(42, "sensor/plenum_pressure");
  for (std::int64_t block = -3; block < 50; ++block)
    for (std::int64_t i = 0; i < 4; ++i)
      CHECK(stream.normals(block)[static_cast<std::size_t>(i)] == stream.normal(4 * block + i));
}

TEST_CASE("A draw depends on seed, name and tick, and on nothing else") {
  const NoiseStream stream(7, "a");
  const double before = stream.normal(1000);
  const NoiseStream other(7, "b");
  for (std::int64_t t = 0; t < 100; ++t) CHECK(other.normal(t) != stream.normal(t));
  CHECK(stream.normal(1000) == before);
  CHECK(NoiseStream(7, "a").normal(1000) == before);
  CHECK(NoiseStream(8, "a").normal(1000) != before);
  CHECK(NoiseStream(7 + (std::uint64_t{1} << 32), "a").normal(1000) != before);
  CHECK(stream.normal(1000 + (std::int64_t{1} << 40)) != before);
}

TEST_CASE("Names that differ by one letter hash far apart") {
  // Of 64 bits about 32 change; 5 standard deviations of 4 bits leave 12 at least (binomial distribution).
  for (int i = 0; i < 40; ++i) {
    const auto a = stream_hash("cell_voltage[" + std::to_string(i) + "]");
    const auto b = stream_hash("cell_voltage[" + std::to_string(i + 1) + "]");
    CHECK(std::popcount(a ^ b) >= 12);
  }
}

TEST_CASE("The uniform draws fill 256 bins evenly") {
  const NoiseStream stream(3, "uniform");
  std::array<double, 256> bins{};
  constexpr std::int64_t kCount = 256 * 1000;
  for (std::int64_t t = 0; t < kCount; ++t) {
    const double u = stream.uniform(t);
    REQUIRE((u > 0.0 && u < 1.0));
    bins[static_cast<std::size_t>(256.0 * u)] += 1.0;
  }
  double chi_square = 0.0;
  for (const double n : bins) chi_square += (n - 1000.0) * (n - 1000.0) / 1000.0;
  // 0.05 % and 99.95 % points of chi-square with 255 degrees of freedom, computed here by root finding on
  // the incomplete gamma function.
  CHECK(chi_square > 187.17);
  CHECK(chi_square < 335.92);
}

TEST_CASE("The draws follow their distributions") {
  const NoiseStream stream(5, "distribution");
  std::vector<double> u(static_cast<std::size_t>(kDraws));
  for (std::int64_t t = 0; t < kDraws; ++t) u[static_cast<std::size_t>(t)] = stream.uniform(t);
  // 99.9 % point of the Kolmogorov distribution: 1.9495 (Smirnov's table).
  CHECK(kolmogorov(u, [](double x) { return x; }) < 1.9495);
  CHECK(kolmogorov(normals_of(stream, kDraws), normal_cdf) < 1.9495);
}

TEST_CASE("The moments of the normal draws are those of the standard normal") {
  for (const char* name : {"sensor/ambient_pressure", "sensor/cell_voltage[7]", "sensor/bus_power/walk"}) {
    const std::vector<double> z = normals_of(NoiseStream(11, name), kDraws);
    double m1 = 0.0, m2 = 0.0, m3 = 0.0, m4 = 0.0;
    for (const double x : z) {
      m1 += x;
      m2 += x * x;
      m3 += x * x * x;
      m4 += x * x * x * x;
    }
    const double n = static_cast<double>(kDraws);
    // Moments 0, 1, 0, 3 with sampling variances 1, 2, 15, 96 over n (normal distribution); 4 deviations.
    CHECK(std::abs(m1 / n) < 4.0 / kRootDraws);
    CHECK(std::abs(m2 / n - 1.0) < 4.0 * std::sqrt(2.0) / kRootDraws);
    CHECK(std::abs(m3 / n) < 4.0 * std::sqrt(15.0) / kRootDraws);
    CHECK(std::abs(m4 / n - 3.0) < 4.0 * std::sqrt(96.0) / kRootDraws);
  }
}

TEST_CASE("Streams are independent of each other and of their own past") {
  const std::vector<double> z = normals_of(NoiseStream(1, "zone_temperature[0]"), kDraws);
  const double bound = 4.0 / kRootDraws;  // a product of independent standard normals has variance 1
  CHECK(std::abs(mean_of_products(z, normals_of(NoiseStream(1, "zone_temperature[1]"), kDraws))) < bound);
  CHECK(std::abs(mean_of_products(z, normals_of(NoiseStream(2, "zone_temperature[0]"), kDraws))) < bound);
  for (const std::size_t lag : {1u, 2u, 3u, 4u, 5u, 8u, 16u, 60u})
    CHECK(std::abs(mean_of_products(z, z, lag)) < bound);
}
