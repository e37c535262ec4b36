// Kalman pieces of the controller against closed forms and recomputed values of the literature.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "controller/estimate/constants.hpp"
#include "controller/include/controller.h"

using namespace duskline::controller;

namespace {

constexpr float kOne[1] = {1.0f};
constexpr float kWide[1] = {1e6f};
constexpr float kWidePair[2] = {1e6f, 1e6f};

/// A repeatable stand-in for white noise: sums of twelve uniforms of a linear congruential generator.
struct Noise {
  uint32_t s = 12345;
  float operator()() {
    float sum = -6.0f;
    for (int k = 0; k < 12; ++k) {
      s = s * 1664525u + 1013904223u;
      sum += static_cast<float>(s >> 8) * (1.0f / 16777216.0f);
    }
    return sum;
  }
};

}  // namespace

TEST_CASE("a random walk settles at the golden ratio") {
  // a = c = q = r = 1: P- = (1 + sqrt 5)/2, K = P-/(P- + 1) (closed form)
  Kalman<1> f = kalman_at<1>({0.0f}, {1.0f});
  Innovation i{};
  for (int k = 0; k < 50; ++k) {
    f.p[0][0] += 1.0f;
    i = update(f, kOne, 0.0f, 1.0f, kWide);
  }
  const double golden = 0.5 * (1.0 + std::sqrt(5.0));
  CHECK(double(i.variance) == Approx(golden + 1.0).epsilon(1e-6));
  CHECK(1.0 - 1.0 / double(i.variance) == Approx(0.618034).epsilon(1e-6));
  CHECK(double(f.p[0][0]) == Approx(golden - 1.0).epsilon(1e-6));
}

TEST_CASE("a constant is the running mean") {
  // P0 = 1, r = 1, q = 0, z = 1, 2, 3: K = P = 1/2, 1/3, 1/4 and x = 0.5, 1.0, 1.5 (by hand)
  Kalman<1> f = kalman_at<1>({0.0f}, {1.0f});
  for (int k = 1; k <= 3; ++k) {
    update(f, kOne, static_cast<float>(k) - f.x[0], 1.0f, kWide);
    CHECK(f.p[0][0] == Approx(1.0 / (k + 1)).epsilon(1e-6));
    CHECK(f.x[0] == Approx(0.5 * k).epsilon(1e-6));
  }
}

TEST_CASE("a value that nobody measures returns to its prior, and its variance with it") {
  // first-order Gauss-Markov: x e^(-t/tau), P e^(-2t/tau) + P0 (1 - e^(-2t/tau)), covariance e^(-t/tau) (closed form)
  const float prior = 0.09f;
  Kalman<2> f = kalman_at<2>({0.6f, 1.0f}, {0.01f, 0.04f});
  f.p[0][1] = f.p[1][0] = 0.01f;
  const int steps = 135000;  // 64 s each: 100 days
  for (int k = 0; k < steps; ++k) return_to_prior(f, 0, 1.0f / static_cast<float>(steps), prior);
  const double once = std::exp(-1.0), twice = std::exp(-2.0);
  CHECK(double(f.x[0]) == Approx(0.6 * once).epsilon(0.01));
  CHECK(double(f.p[0][0]) == Approx(0.01 * twice + 0.09 * (1.0 - twice)).epsilon(0.01));
  CHECK(double(f.p[0][1]) == Approx(0.01 * once).epsilon(0.01));
  CHECK(f.p[0][1] == f.p[1][0]);
  CHECK(f.x[1] == 1.0f);
  CHECK(f.p[1][1] == 0.04f);
}

TEST_CASE("a year at one working point: resistance that grows is not taken for another exchange current") {
  // 20 mV in a year at 1670 A/m2, from cells that age; everything else is as the parameters say. Slopes of the rated
  // point (column of the plant file's cell); noise 1 mV a round. With a random walk of 1 % a day the
  // cathode goes to 0.57 of its prior deviation.
  ctl_params p{};
  ctl_default_params(&p);
  float prior[kCommonStates]{};
  common_variances(p, prior);
  const float rest[kCommonStates]{}, slopes[kConstants] = {-0.03f, -0.02f, 1670.0f};
  Kalman<kCommonStates> f = kalman_at(rest, prior);
  begin_point(f, p);
  float h[kCommonStates]{};
  common_row(h, 1670.0f, slopes, -0.0005f, -0.2f);
  Noise noise;
  const float round = 64.0f, day = round / 86400.0f;
  for (int k = 0; k < 330 * 1350; ++k) {
    predict_rate(f, common_added, common_growth, round);
    age(f, p, prior, day);
    bound(f, prior);
    float expected = 0.0f;
    for (uint32_t i = 0; i < kCommonStates; ++i) expected += h[i] * f.x[i];
    const float seen = 0.020f * static_cast<float>(k) / (330.0f * 1350.0f) + 0.001f * noise();
    update(f, h, seen - expected, p.residual_noise * p.residual_noise, prior);
    hold_states(f, p);
  }
  CHECK(std::abs(f.x[common_cathode]) < 0.3f * p.cathode_prior_sigma);
  CHECK(f.x[common_added] * 1670.0f == Approx(0.02f).margin(0.01f));
}

TEST_CASE("value and rate settle at the solution of the Riccati equation") {
  // h = 0.1, Q = diag(0, 0.01), r = 0.04, only the value is measured: P- = [0.0149137 0.0234337; . 0.0736421],
  // gain (0.271584, 0.426736), recomputed in double precision
  Kalman<2> f = kalman_at<2>({0.0f, 0.0f}, {1.0f, 1.0f});
  const float h[2] = {1.0f, 0.0f};
  for (int k = 0; k < 2000; ++k) {
    update(f, h, 0.0f, 0.04f, kWidePair);
    predict_rate(f, 0, 1, 0.1f);
    f.p[1][1] += 0.01f;
  }
  CHECK(f.p[0][0] == Approx(0.0149137).epsilon(1e-4));
  CHECK(f.p[0][1] == Approx(0.0234337).epsilon(1e-4));
  CHECK(f.p[1][0] == f.p[0][1]);
  CHECK(f.p[1][1] == Approx(0.0736421).epsilon(1e-4));
  CHECK(f.p[0][0] / (f.p[0][0] + 0.04f) == Approx(0.271584).epsilon(1e-4));
  CHECK(f.p[1][0] / (f.p[0][0] + 0.04f) == Approx(0.426736).epsilon(1e-4));
}

TEST_CASE("with noise equal to the forgetting factor it is recursive least squares") {
  // factor 0.9, P0 = 100, y = 1, 2, 3: k = 0.991080, 0.524082, 0.368014 = P; x = 0.991080, 1.519836, 2.064557
  // (recomputed)
  const double gain[3] = {0.991080, 0.524082, 0.368014}, value[3] = {0.991080, 1.519836, 2.064557};
  Kalman<1> f = kalman_at<1>({0.0f}, {100.0f});
  for (int k = 0; k < 3; ++k) {
    update(f, kOne, static_cast<float>(k + 1) - f.x[0], 0.9f, kWide);
    forget(f, 0.9f, kWide);
    CHECK(f.x[0] == Approx(value[k]).epsilon(2e-5));
    CHECK(f.p[0][0] == Approx(gain[k]).epsilon(2e-5));
  }
}

TEST_CASE("an outlier is counted and not used, a new level is found all the same") {
  Kalman<1> f = kalman_at<1>({0.0f}, {1e-4f});
  const float bound[1] = {100.0f};
  const Innovation wild = update(f, kOne, 5.0f, 1e-2f, bound);
  CHECK_FALSE(wild.used);
  CHECK(wild.nis > kGate);
  CHECK(f.x[0] == 0.0f);
  CHECK(f.outliers == 1);
  CHECK(update(f, kOne, 0.1f, 1e-2f, bound).used);
  CHECK(f.in_a_row == 0);
  int ticks = 0;
  while (std::abs(f.x[0] - 5.0f) > 0.5f && ticks < 100) {
    update(f, kOne, 5.0f - f.x[0], 1e-2f, bound);
    ++ticks;
  }
  CHECK(ticks > static_cast<int>(kPatience));
  CHECK(ticks < 20);
}

// Source: a run of the fast vortex with a dispersed plant, in which widening the covariance as a whole moved a cell's
// share of the flow by ten of its prior deviations and tripped the plant 29 mV from the limit.
TEST_CASE("outliers in a row do not move what no measurement tells apart") {
  constexpr float kPrior[3] = {1e-12f, 1.6e-3f, 6.25e-6f}, kNone[3] = {};
  constexpr float kMost[3] = {1e-10f, 0.16f, 6.25e-4f};
  const float h[3] = {2800.0f, -0.086f, 1.0f};
  Kalman<3> f = kalman_at<3>(kNone, kPrior);
  const auto expected = [&] { return h[0] * f.x[0] + h[1] * f.x[1] + h[2] * f.x[2]; };
  REQUIRE(update(f, h, 3.6e-3f, 9e-8f, kMost).used);
  int more = 0;
  while (!update(f, h, 12.6e-3f - expected(), 9e-8f, kMost).used) REQUIRE(++more < 20);
  CHECK(more >= static_cast<int>(kPatience));
  CHECK(std::abs(expected() - 12.6e-3f) < 1e-3f);
  for (int i = 0; i < 3; ++i) CHECK(std::abs(f.x[i]) < 3.0f * std::sqrt(kPrior[i]));
}

TEST_CASE("what is not a number changes nothing") {
  Kalman<1> f = kalman_at<1>({1.0f}, {1.0f});
  for (const float bad : {std::numeric_limits<float>::quiet_NaN(), std::numeric_limits<float>::infinity()}) {
    CHECK_FALSE(update(f, kOne, bad, 1.0f, kWide).used);
    CHECK_FALSE(update(f, kOne, 0.0f, bad, kWide).used);
  }
  CHECK_FALSE(update(f, kOne, 0.0f, -2.0f, kWide).used);
  CHECK(f.x[0] == 1.0f);
  CHECK(f.p[0][0] == 1.0f);
}

TEST_CASE("the covariance stays symmetric and positive over a long run in single precision") {
  Kalman<3> f = kalman_at<3>({0.0f, 0.0f, 0.0f}, {1e-11f, 2e-3f, 6e-6f});
  const float most[3] = {1.0f, 1.0f, 1.0f};
  Noise noise;
  for (int k = 0; k < 200000; ++k) {
    const float h[3] = {1500.0f + 100.0f * noise(), -0.08f + 0.01f * noise(), 1.0f};
    update(f, h, 3e-4f * noise(), 1e-7f, most);
    f.p[1][1] += 1e-12f;
  }
  for (int i = 0; i < 3; ++i) {
    CHECK(f.p[i][i] > 0.0f);
    for (int j = 0; j < 3; ++j) {
      CHECK(f.p[i][j] == f.p[j][i]);
      CHECK(f.p[i][j] * f.p[i][j] <= 1.0001f * f.p[i][i] * f.p[j][j]);
    }
  }
}

TEST_CASE("bounding a variance keeps the correlation") {
  Kalman<2> f = kalman_at<2>({0.0f, 0.0f}, {4.0f, 9.0f});
  f.p[0][1] = f.p[1][0] = 3.0f;  // correlation one half
  const float most[2] = {1.0f, 100.0f};
  bound(f, most);
  CHECK(f.p[0][0] == Approx(1.0));
  CHECK(f.p[0][1] / std::sqrt(f.p[0][0] * f.p[1][1]) == Approx(0.5).epsilon(1e-6));
}

TEST_CASE("band of a mean NIS") {
  // 50 innovations of two dimensions: quantiles of chi-square with 100 degrees of freedom over 50, recomputed
  const Band b = consistency_band(50.0f, 2.0f);
  CHECK(b.lower == Approx(1.4844).epsilon(3e-4));
  CHECK(b.upper == Approx(2.5912).epsilon(3e-4));
}

TEST_CASE("consistency is one for white noise of the size expected, and tells twice the noise") {
  Noise noise;
  for (const float size : {1.0f, 2.0f}) {
    Consistency c = kConsistentAtRest;
    Kalman<1> f = kalman_at<1>({0.0f}, {1.0f});
    float truth = 0.0f;
    for (int k = 0; k < 5000; ++k) {
      truth += 0.3f * size * noise();
      f.p[0][0] += 0.09f;
      note(c, update(f, kOne, truth + size * noise() - f.x[0], 1.0f, kWide), 200.0f);
    }
    // forgetting over 200 weighs like 2 x 200 - 1 independent innovations
    const Band band = consistency_band(399.0f, 1.0f);
    CHECK((c.mean > band.lower && c.mean < band.upper) == (size == 1.0f));
    if (size > 1.0f) CHECK(c.mean > band.upper);
  }
}
