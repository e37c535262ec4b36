// Average run lengths of the two-sided CUSUM against published values: Montgomery, Introduction to Statistical
// Quality Control (table of k = 1/2), after Lucas and Crosier 1982; k = 1/4, h = 8: same method (Goel and Wu
// 1971). Monte Carlo with a fixed seed, three standard errors.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/detect/cusum.hpp"
#include "plant-model/random/noise.hpp"

using namespace duskline;

namespace {

struct Run {
  double mean, error;
};

Run average_run_length(float shift, float k, float h, int runs) {
  const plant::NoiseStream stream(20261125, "tests/cusum");
  std::int64_t n = 0;
  double sum = 0.0, square = 0.0;
  for (int r = 0; r < runs; ++r) {
    controller::Cusum c{};
    int samples = 0;
    while (c.up <= h && c.down <= h) {
      controller::add(c, static_cast<float>(stream.normal(n++)) + shift, k, 2.0f * h);
      ++samples;
    }
    sum += samples;
    square += double(samples) * samples;
  }
  const double mean = sum / runs;
  return {mean, std::sqrt((square / runs - mean * mean) / runs)};
}

}  // namespace

TEST_CASE("run lengths of the CUSUM are those published") {
  struct Row {
    float shift, k, h;
    double published;
    int runs;
  };
  const Row rows[] = {{0.0f, 0.5f, 4.0f, 167.68, 3000}, {1.0f, 0.5f, 4.0f, 8.38, 20000},
                      {2.0f, 0.5f, 4.0f, 3.34, 20000},  {0.0f, 0.5f, 5.0f, 465.44, 1500},
                      {1.0f, 0.5f, 5.0f, 10.38, 20000}, {0.5f, 0.25f, 8.0f, 28.76, 8000}};
  for (const Row& row : rows) {
    const Run found = average_run_length(row.shift, row.k, row.h, row.runs);
    INFO("shift " << row.shift << " k " << row.k << " h " << row.h << ": " << found.mean << " +- "
                  << found.error);
    CHECK(std::abs(found.mean - row.published) < 3.0 * found.error + 0.005);
  }
}

TEST_CASE("Siegmund's approximation gives its published values") {
  // Siegmund 1985: h = 5, k = 1/2: 938.2 one-sided, 469.1 two-sided, 10.34 for a shift of one
  CHECK(controller::one_sided_run_length(0.0f, 0.5f, 5.0f) == Approx(938.22).epsilon(2e-4));
  CHECK(controller::run_length(0.0f, 0.5f, 5.0f) == Approx(469.1).epsilon(2e-4));
  CHECK(controller::one_sided_run_length(1.0f, 0.5f, 5.0f) == Approx(10.336).epsilon(2e-4));
}
