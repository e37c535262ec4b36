// Published values of linear predictive control: Riccati equations, offset-free targets, augmented estimators, and a
// quadratic programme of the controller that equals the linear-quadratic law.
//
// Forms: Pannocchia and Rawlings, AIChE J. 49 (2003) 426; Muske and Badgwell, J. Process Control 12 (2002) 617. The
// figures were computed independently of this program; those of the scalar cases follow from the golden ratio.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/laws/predictive.hpp"
#include "tests/support/riccati.hpp"

using namespace duskline::test;
using namespace duskline::controller;

TEST_CASE("the linear-quadratic regulator of an integrator and of a double one") {
  const auto scalar = regulator({{{1, 0}, {0, 0}}, {1, 0}, 1, 1});
  CHECK(scalar.cost[0][0] == Approx(0.5 * (1.0 + std::sqrt(5.0))).epsilon(1e-9));  // p^2 = p + 1
  CHECK(scalar.gain[0] == Approx(0.618034).epsilon(1e-6));
  const auto twice = regulator({{{1, 0.1}, {0, 1}}, {0.005, 0.1}, 1, 1});
  CHECK(twice.cost[0][0] == Approx(17.834931).epsilon(1e-6));
  CHECK(twice.cost[0][1] == Approx(10.012492).epsilon(1e-6));
  CHECK(twice.cost[1][1] == Approx(17.857).epsilon(1e-3));
  CHECK(twice.gain[0] == Approx(0.917075).epsilon(1e-5));
  CHECK(twice.gain[1] == Approx(1.635596).epsilon(1e-5));
}

TEST_CASE("offset-free target and augmented filter of a lag with an input disturbance") {
  // x+ = 0.9 x + 0.1 u + 0.1 d, y = x; d = 0.5, r = 2: xs = 2, us = 1.5. The target is solved by the controller's
  // programme, its two equations as pairs of bounds.
  Qp<2, 4> q{};
  q.hessian[0][0] = q.hessian[1][1] = 1.0f;
  const float rows[2][3] = {{-0.1f, 0.1f, -0.05f}, {1.0f, 0.0f, 2.0f}};  // (A - 1) x + B u = -Bd d;  C x = r
  for (uint32_t k = 0; k < 2; ++k)
    for (uint32_t side = 0; side < 2; ++side) {
      const float sign = side == 0 ? 1.0f : -1.0f;
      q.row[2 * k + side][0] = sign * rows[k][0];
      q.row[2 * k + side][1] = sign * rows[k][1];
      q.bound[2 * k + side] = sign * rows[k][2];
    }
  const auto target = solve(q);
  REQUIRE(target.status == QpStatus::solved);
  CHECK(target.x[0] == Approx(2.0).epsilon(1e-4));
  CHECK(target.x[1] == Approx(1.5).epsilon(1e-4));

  // by duality: A', C' in place of A, B; filter gain P C'/(C P C' + R)
  const auto filter = regulator({{{0.9, 0.0}, {0.1, 1.0}}, {1.0, 0.0}, 0.01, 0.1});
  CHECK(filter.cost[0][0] / (filter.cost[0][0] + 0.1) == Approx(0.279394).epsilon(1e-5));
  CHECK(filter.cost[1][0] / (filter.cost[0][0] + 0.1) == Approx(0.268441).epsilon(1e-5));
}

TEST_CASE("the controller's observer of the feed is stable and slower than the feed's own noise") {
  // x = (F, d): prediction with h/(tau + h), then correction by kFlowGain and kMissedGain; poles by the trace and
  // determinant of (1 - LC) A
  const double a = 1.0 / 36.0, l1 = double(kFlowGain), l2 = double(kMissedGain);
  const double trace = (1 - l1) * (1 - a) + 1 - l2 * a;
  const double determinant = (1 - l1) * (1 - a) * (1 - l2 * a) + l2 * (1 - a) * (1 - l1) * a;
  const double root = std::sqrt(trace * trace - 4.0 * determinant);
  const double slow = 0.5 * (trace + root);
  CHECK(0.5 * (trace - root) > 0.0);
  CHECK(slow < 0.99);
  CHECK(-1.0 / std::log(slow) == Approx(55.0).epsilon(0.1));  // s, as stated beside the gains
}
