// Statistics of campaigns against what is known exactly.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "hil-harness/campaign/sampling.hpp"
#include "hil-harness/campaign/statistics.hpp"
#include "hil-harness/campaign/subset.hpp"
#include "plant-model/random/noise.hpp"

using namespace duskline;
using namespace duskline::harness;

namespace {

/// T. Ishigami, T. Homma, Proc. ISUMA 1990, 398, with a = 7, b = 0.1, on shares of (-pi, pi).
double ishigami(const double* share) {
  const auto at = [&](int i) { return std::numbers::pi * (2.0 * share[i] - 1.0); };
  const double s = std::sin(at(1));
  return std::sin(at(0)) + 7.0 * s * s + 0.1 * std::pow(at(2), 4) * std::sin(at(0));
}

Points independent(std::size_t runs, std::size_t dimensions, std::uint64_t seed) {
  const plant::NoiseStream stream(seed, "test/points");
  Points points(runs * dimensions);
  for (std::size_t i = 0; i < points.size(); ++i) points[i] = stream.uniform(static_cast<std::int64_t>(i));
  return points;
}

}  // namespace

TEST_CASE("sensitivities of the Ishigami function are the analytic ones, within their intervals") {
  // A. Saltelli et al., Global Sensitivity Analysis: The Primer, Wiley 2008, 4.9: partial variances in closed form
  const double pi4 = std::pow(std::numbers::pi, 4), b = 0.1, v1 = 0.5 * std::pow(1.0 + b * pi4 / 5.0, 2),
               v2 = 49.0 / 8.0, v13 = b * b * pi4 * pi4 * (1.0 / 18.0 - 1.0 / 50.0), v = v1 + v2 + v13;
  const double first[] = {v1 / v, v2 / v, 0.0}, total[] = {(v1 + v13) / v, v2 / v, v13 / v};
  constexpr std::size_t kBlocks = 2048;
  const Points points = sobol_points(kBlocks, 6, 11);
  std::vector<SensitivityBlock> blocks;
  for (std::size_t k = 0; k < kBlocks; ++k) {
    const double* const a = &points[6 * k];
    SensitivityBlock block{ishigami(a), ishigami(a + 3)};
    for (int i = 0; i < 3; ++i) {
      double mixed[] = {a[0], a[1], a[2]};
      mixed[i] = a[3 + i];
      block.push_back(ishigami(mixed));
    }
    blocks.push_back(block);
  }
  const auto found = sensitivities(blocks, 0.99);
  REQUIRE(found.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) {
    INFO("factor " << i + 1);
    // the root of the mean square error with 2048 blocks is about 0.02 (Saltelli 2010, figure 2)
    CHECK(found[i].first == Approx(first[i]).margin(0.05));
    CHECK(found[i].total == Approx(total[i]).margin(0.05));
    CHECK((found[i].first_low <= first[i] && first[i] <= found[i].first_high));
    CHECK((found[i].total_low <= total[i] && total[i] <= found[i].total_high));
    CHECK(found[i].first_high - found[i].first_low < 0.25);
  }
}

TEST_CASE("the Sobol sequence is the published one, and every dimension is evenly filled") {
  // the first ten points of the program that comes with the directions of Joe and Kuo (2008)
  const double published[][3] = {{0, 0, 0},
                                 {0.5, 0.5, 0.5},
                                 {0.75, 0.25, 0.25},
                                 {0.25, 0.75, 0.75},
                                 {0.375, 0.375, 0.625},
                                 {0.875, 0.875, 0.125},
                                 {0.625, 0.125, 0.875},
                                 {0.125, 0.625, 0.375},
                                 {0.1875, 0.3125, 0.9375},
                                 {0.6875, 0.8125, 0.4375}};
  const Points plain = sobol_points(10, 3, 1, false);
  for (std::size_t n = 0; n < 10; ++n)
    for (std::size_t d = 0; d < 3; ++d) CHECK(plain[3 * n + d] == published[n][d]);
  // of 2^k points each 2^k-th part of every dimension holds one: Sobol 1967; a digital shift keeps it
  constexpr std::size_t kRuns = 256, kDimensions = 150;
  for (const bool shifted : {false, true}) {
    const Points points = sobol_points(kRuns, kDimensions, 5, shifted);
    for (std::size_t d = 0; d < kDimensions; ++d) {
      std::vector<int> parts(kRuns);
      for (std::size_t n = 0; n < kRuns; ++n)
        ++parts[static_cast<std::size_t>(points[n * kDimensions + d] * kRuns)];
      CHECK(std::count(parts.begin(), parts.end(), 1) == kRuns);
    }
  }
  const Points few = sobol_points(100, 5, 9), more = sobol_points(200, 5, 9);
  CHECK(std::equal(few.begin(), few.end(), more.begin()));
  CHECK(sobol_points(100, 5, 10) != few);
}

TEST_CASE("a Latin hypercube holds one point in each part of every dimension, and dimensions are not alike") {
  constexpr std::size_t kRuns = 100, kDimensions = 20;
  const Points points = latin_hypercube(kRuns, kDimensions, 3);
  std::vector<std::vector<double>> columns(kDimensions);
  for (std::size_t d = 0; d < kDimensions; ++d) {
    std::vector<int> parts(kRuns);
    for (std::size_t n = 0; n < kRuns; ++n) {
      columns[d].push_back(points[n * kDimensions + d]);
      ++parts[static_cast<std::size_t>(columns[d].back() * kRuns)];
    }
    CHECK(std::count(parts.begin(), parts.end(), 1) == kRuns);
  }
  // four standard errors of a rank correlation of independent columns: 4/sqrt(n)
  for (std::size_t d = 1; d < kDimensions; ++d)
    CHECK(std::abs(rank_correlation(columns[0], columns[d])) < 4.0 / std::sqrt(100.0));
}

TEST_CASE("points of Sobol are more even than a Latin hypercube, and that than chance") {
  constexpr std::size_t kRuns = 256, kDimensions = 4;
  double by_chance = 0.0, cube = 0.0, sobol = 0.0;
  constexpr int kTimes = 50;
  for (int k = 1; k <= kTimes; ++k) {
    const auto seed = static_cast<std::uint64_t>(k);
    by_chance += square_discrepancy(independent(kRuns, kDimensions, seed), kDimensions) / kTimes;
    cube += square_discrepancy(latin_hypercube(kRuns, kDimensions, seed), kDimensions) / kTimes;
    sobol += square_discrepancy(sobol_points(kRuns, kDimensions, seed), kDimensions) / kTimes;
  }
  // mean over independent points, Warnock 1972; the mean of 50 scatters by about a tenth
  CHECK(by_chance == Approx((std::pow(2.0, -4) - std::pow(3.0, -4)) / kRuns).epsilon(0.3));
  CHECK(cube < by_chance);
  CHECK(sobol < 0.5 * cube);
}

TEST_CASE("subset simulation finds the probability of a linear limit state") {
  // P(beta - sum u_i / sqrt(d) <= 0) = Phi(-beta), exactly, in any dimension
  for (const double beta : {2.0, 3.5, 4.75}) {
    const double exact = 0.5 * std::erfc(beta / std::numbers::sqrt2);
    constexpr std::size_t kDimensions = 50;
    double sum = 0.0, stated = 0.0, squares = 0.0;
    constexpr int kTimes = 40;
    for (int k = 1; k <= kTimes; ++k) {
      SubsetSimulation subset(kDimensions, 4000, 12, static_cast<std::uint64_t>(k));
      for (auto batch = subset.ask(); !batch.empty(); batch = subset.ask()) {
        std::vector<double> values;
        for (const auto& u : batch) {
          double total = 0.0;
          for (const double one : u) total += one;
          values.push_back(beta - total / std::sqrt(static_cast<double>(kDimensions)));
        }
        subset.tell(values);
      }
      REQUIRE(subset.reached());
      sum += subset.probability() / exact / kTimes;
      squares += std::pow(subset.probability() / exact - 1.0, 2) / kTimes;
      stated += subset.variation() / kTimes;
    }
    INFO("beta " << beta << ", mean " << sum << ", deviation " << std::sqrt(squares) << ", stated "
                 << stated);
    // three standard errors of the mean of 40, and a bias of the order of the square of the deviation (Au and Beck)
    CHECK(sum == Approx(1.0).margin(3.0 * std::sqrt(squares / kTimes) + squares));
    CHECK(std::sqrt(squares) < 2.0 * stated);
    CHECK(std::sqrt(squares) > 0.4 * stated);
  }
}

TEST_CASE("subset simulation that never reaches the event says so") {
  SubsetSimulation subset(3, 100, 3, 1);
  std::size_t asked = 0;
  for (auto batch = subset.ask(); !batch.empty(); batch = subset.ask()) {
    asked += batch.size();
    subset.tell(std::vector<double>(batch.size(), 1.0));  // a value that never falls
  }
  CHECK_FALSE(subset.reached());
  CHECK(asked <= 300);
}

TEST_CASE("quantiles and rank correlations by hand") {
  // R 4.2, quantile(c(3, 1, 4, 2), 0.25): 1.75 (type 7)
  CHECK(quantile({3, 1, 4, 2}, 0.25) == Approx(1.75));
  CHECK(quantile({3, std::nan(""), 1}, 0.5) == Approx(2.0));
  CHECK(std::isnan(quantile({}, 0.5)));
  const std::vector<double> x{1, 2, 3, 4}, y{1, 8, 27, 64}, down{4, 3, 2, 1}, tied{1, 1, 2, 2},
      flat{5, 5, 5, 5};
  CHECK(rank_correlation(x, y) == Approx(1.0));
  CHECK(rank_correlation(x, down) == Approx(-1.0));
  CHECK(rank_correlation(x, tied) ==
        Approx(4.0 / std::sqrt(20.0)));  // 4 of sqrt(5 * 4), ranks 1.5 1.5 3.5 3.5
  CHECK(std::isnan(rank_correlation(x, flat)));
}
