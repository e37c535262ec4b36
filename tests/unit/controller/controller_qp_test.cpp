// The quadratic programme of the predictive law. Values by hand, from the closed forms named, or from the
// conditions of optimality, which hold for no other point of a strictly convex problem.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

#include "controller/laws/qp.hpp"

using namespace duskline::controller;

namespace {

using Random = std::minstd_rand;

uint32_t below(Random& random, uint32_t limit) {
  return static_cast<uint32_t>(random() >> 8) % limit;
}

template <uint32_t N, uint32_t M>
Qp<N, M> empty(uint32_t variables, uint32_t constraints) {
  Qp<N, M> q{};
  q.variables = variables;
  q.constraints = constraints;
  return q;
}

/// Largest residual of the conditions of optimality, in double precision, relative to the size of their terms.
template <uint32_t N, uint32_t M>
double residual(const Qp<N, M>& q, const QpAnswer<N, M>& a) {
  double worst = 0.0;
  for (uint32_t i = 0; i < q.variables; ++i) {
    double s = q.gradient[i], size = 1.0 + std::abs(s);
    for (uint32_t j = 0; j < q.variables; ++j) {
      s += double(q.hessian[i][j]) * a.x[j];
      size += std::abs(double(q.hessian[i][j]) * a.x[j]);
    }
    for (uint32_t c = 0; c < q.constraints; ++c) {
      s -= double(q.row[c][i]) * a.multiplier[c];
      size += std::abs(double(q.row[c][i]) * a.multiplier[c]);
    }
    worst = std::max(worst, std::abs(s) / size);
  }
  for (uint32_t c = 0; c < q.constraints; ++c) {
    double slack = -double(q.bound[c]), size = 1.0 + std::abs(slack);
    for (uint32_t i = 0; i < q.variables; ++i) {
      slack += double(q.row[c][i]) * a.x[i];
      size += std::abs(double(q.row[c][i]) * a.x[i]);
    }
    worst = std::max({worst, -slack / size, -double(a.multiplier[c])});
    if (a.multiplier[c] > 0.0f) worst = std::max(worst, std::abs(slack) / size);
  }
  return worst;
}

/// H = B'B + I and f from a normal distribution.
template <uint32_t N, uint32_t M>
Qp<N, M> random_convex(Random& random, uint32_t variables, uint32_t constraints) {
  std::normal_distribution<float> normal;
  auto q = empty<N, M>(variables, constraints);
  float b[N][N];
  for (uint32_t i = 0; i < variables; ++i)
    for (uint32_t j = 0; j < variables; ++j) b[i][j] = normal(random);
  for (uint32_t i = 0; i < variables; ++i) {
    q.gradient[i] = normal(random);
    for (uint32_t j = 0; j < variables; ++j) {
      q.hessian[i][j] = i == j ? 1.0f : 0.0f;
      for (uint32_t k = 0; k < variables; ++k) q.hessian[i][j] += b[k][i] * b[k][j];
    }
  }
  return q;
}

}  // namespace

TEST_CASE("without constraints the answer is the stationary point") {
  // by hand: [2 -1; -1 2] x = (1, 1)
  auto q = empty<2, 1>(2, 0);
  q.hessian[0][0] = q.hessian[1][1] = 2.0f;
  q.hessian[0][1] = q.hessian[1][0] = -1.0f;
  q.gradient[0] = q.gradient[1] = -1.0f;
  const auto a = solve(q);
  REQUIRE(a.status == QpStatus::solved);
  CHECK(a.x[0] == Approx(1.0).margin(1e-6));
  CHECK(a.x[1] == Approx(1.0).margin(1e-6));
  CHECK(a.steps == 0);
}

TEST_CASE("one constraint and its multiplier") {
  // by hand: least |x|^2/2 with x1 + x2 >= 1 lies at (1/2, 1/2) with multiplier 1/2
  auto q = empty<2, 1>(2, 1);
  q.hessian[0][0] = q.hessian[1][1] = 1.0f;
  q.row[0][0] = q.row[0][1] = q.bound[0] = 1.0f;
  const auto a = solve(q);
  REQUIRE(a.status == QpStatus::solved);
  CHECK(a.x[0] == Approx(0.5).margin(1e-6));
  CHECK(a.x[1] == Approx(0.5).margin(1e-6));
  CHECK(a.multiplier[0] == Approx(0.5).margin(1e-6));
}

TEST_CASE("conditions of optimality hold on random convex problems") {
  // constraints pass below a random point, so that every problem is feasible; tolerance of the float solver 2e-4
  Random random(11);
  std::normal_distribution<float> normal;
  uint32_t bound = 0;
  for (int k = 0; k < 4000; ++k) {
    const uint32_t n = 1 + below(random, 12), m = below(random, 33);
    auto q = random_convex<12, 32>(random, n, m);
    float inside[12];
    for (float& x : inside) x = normal(random);
    for (uint32_t c = 0; c < m; ++c) {
      q.bound[c] = -0.5f * std::abs(normal(random));
      for (uint32_t i = 0; i < n; ++i) {
        q.row[c][i] = normal(random);
        q.bound[c] += q.row[c][i] * inside[i];
      }
    }
    const auto a = solve(q);
    REQUIRE(a.status == QpStatus::solved);
    REQUIRE(a.steps <= Qp<12, 32>::steps_max());
    REQUIRE(residual(q, a) < 2e-4);
    bound += a.steps > 3 ? 1 : 0;
  }
  CHECK(bound > 1000);  // many of them were held by several constraints
}

TEST_CASE("redundant and degenerate constraints change nothing") {
  // least |x - (2, 2)|^2/2 inside x <= 1, y <= 1, x + y <= 2: all three meet in the answer (1, 1)
  auto q = empty<2, 6>(2, 6);
  q.hessian[0][0] = q.hessian[1][1] = 1.0f;
  q.gradient[0] = q.gradient[1] = -2.0f;
  const float rows[6][3] = {{-1, -1, -2}, {-1, 0, -1}, {0, -1, -1}, {-1, 0, -1}, {-2, -2, -4}, {-1, 0, -5}};
  for (uint32_t c = 0; c < 6; ++c) {
    q.row[c][0] = rows[c][0];
    q.row[c][1] = rows[c][1];
    q.bound[c] = rows[c][2];
  }
  const auto a = solve(q);
  REQUIRE(a.status == QpStatus::solved);
  CHECK(a.x[0] == Approx(1.0).margin(1e-5));
  CHECK(a.x[1] == Approx(1.0).margin(1e-5));
  CHECK(residual(q, a) < 1e-5);
}

TEST_CASE("bounds that meet are an equality") {
  // least x^2 + y^2 with x = 0.3 as two bounds: (0.3, 0)
  auto q = empty<2, 2>(2, 2);
  q.hessian[0][0] = q.hessian[1][1] = 2.0f;
  q.row[0][0] = 1.0f, q.bound[0] = 0.3f;
  q.row[1][0] = -1.0f, q.bound[1] = -0.3f;
  const auto a = solve(q);
  REQUIRE(a.status == QpStatus::solved);
  CHECK(a.x[0] == Approx(0.3).margin(1e-5));
  CHECK(a.x[1] == Approx(0.0).margin(1e-6));
}

TEST_CASE("a pair that excludes itself is reported") {
  auto q = empty<2, 2>(2, 2);
  q.hessian[0][0] = q.hessian[1][1] = 1.0f;
  q.row[0][0] = 1.0f, q.bound[0] = 1.0f;   // x >= 1
  q.row[1][0] = -1.0f, q.bound[1] = 0.0f;  // x <= 0
  CHECK(solve(q).status == QpStatus::infeasible);
  q.row[1][0] = 0.0f, q.row[1][1] = 0.0f, q.bound[1] = 1.0f;  // 0 >= 1
  CHECK(solve(q).status == QpStatus::infeasible);
}

TEST_CASE("a matrix that is not positive definite and numbers that are none end with a status") {
  auto q = empty<2, 1>(2, 0);
  q.hessian[0][0] = 1.0f, q.hessian[1][1] = -1.0f;
  CHECK(solve(q).status == QpStatus::not_positive);
  const float bad[] = {NAN, INFINITY, -INFINITY, std::numeric_limits<float>::max()};
  Random random(3);
  for (int k = 0; k < 2000; ++k) {
    auto r = random_convex<12, 32>(random, 12, 32);
    for (auto& row : r.row)
      for (float& x : row) x = static_cast<float>(below(random, 7)) - 3.0f;
    const uint32_t hits = 1 + below(random, 3);
    for (uint32_t h = 0; h < hits; ++h) {
      const float value = bad[below(random, 4)];
      switch (below(random, 4)) {
        case 0:
          r.hessian[below(random, 12)][below(random, 12)] = value;
          break;
        case 1:
          r.gradient[below(random, 12)] = value;
          break;
        case 2:
          r.row[below(random, 32)][below(random, 12)] = value;
          break;
        default:
          r.bound[below(random, 32)] = value;
      }
    }
    const auto a = solve(r);
    REQUIRE(a.steps <= Qp<12, 32>::steps_max() + 1);
    if (a.status != QpStatus::solved) continue;
    for (const float x : a.x) REQUIRE(std::isfinite(x));
  }
}

namespace {

/// x+ = x + u, Q = R = 1, three moves inside +-1, terminal weight of the unconstrained optimum.
QpAnswer<3, 6> three_moves(float x0) {
  const float h[3][3] = {{4.618034f, 2.618034f, 1.618034f},
                         {2.618034f, 3.618034f, 1.618034f},
                         {1.618034f, 1.618034f, 2.618034f}};
  const float f[3] = {3.618034f, 2.618034f, 1.618034f};
  auto q = empty<3, 6>(3, 6);
  for (uint32_t i = 0; i < 3; ++i) {
    for (uint32_t j = 0; j < 3; ++j) q.hessian[i][j] = h[i][j];
    q.gradient[i] = f[i] * x0;
    q.row[2 * i][i] = 1.0f, q.row[2 * i + 1][i] = -1.0f;
    q.bound[2 * i] = q.bound[2 * i + 1] = -1.0f;
  }
  return solve(q);
}

}  // namespace

TEST_CASE("predictive control of an integrator equals the linear-quadratic law where no bound acts") {
  // gain K = 0.618034 of the Riccati equation with a = b = q = r = 1 (golden ratio): u_k = -K (1 - K)^k x0
  const auto free = three_moves(1.5f);
  REQUIRE(free.status == QpStatus::solved);
  CHECK(free.x[0] == Approx(-0.927051).margin(1e-5));
  CHECK(free.x[1] == Approx(-0.354102).margin(1e-5));
  CHECK(free.x[2] == Approx(-0.135255).margin(1e-5));
  // from 5 every move stays at its bound, by hand: 5 - 3 is still beyond 1/K
  const auto held = three_moves(5.0f);
  REQUIRE(held.status == QpStatus::solved);
  for (const float u : held.x) CHECK(u == Approx(-1.0).margin(1e-5));
}
