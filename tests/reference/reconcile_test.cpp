// Data reconciliation: two textbook networks (Narasimhan and Jordache 2000, ch. 3 and 7; values computed here
// by hand from the formulas of the header) and the oxygen balance of the plant.
#include <catch2/catch.hpp>

#include "controller/detect/reconcile.hpp"

using duskline::controller::reconcile;

TEST_CASE("a splitter: one balance detects and cannot isolate") {
  const float a[1][3] = {{1, -1, -1}}, y[3] = {101, 64, 40}, v[3] = {4, 1, 1};
  const auto r = reconcile(a, y, v);
  CHECK(r.global == Approx(1.5));  // r = -3, S = 6; below 3.8415, chi2 of one degree at 95 %
  CHECK(r.stream[0] == Approx(103.0));
  CHECK(r.stream[1] == Approx(63.5));
  CHECK(r.stream[2] == Approx(39.5));
  for (const float z : r.measurement) CHECK(std::abs(z) == Approx(1.22474).epsilon(1e-5));
  CHECK(r.suspect == 3);  // not isolable
}

TEST_CASE("two nodes: the stream with the gross error is found") {
  const float a[2][4] = {{1, -1, -1, 0}, {0, 0, 1, -1}}, y[4] = {100, 58, 44, 49}, v[4] = {1, 1, 1, 1};
  const auto r = reconcile(a, y, v);
  const float stream[4] = {101.8f, 56.2f, 45.6f, 45.6f};
  const float measurement[4] = {-2.84605f, 2.84605f, -2.06559f, 4.38938f};
  const float ratio[4] = {8.1f, 8.1f, 4.26667f, 19.26667f};
  CHECK(r.global == Approx(20.6));  // above 5.9915, chi2 of two degrees at 95 %
  CHECK(r.nodal[0] == Approx(-1.1547).epsilon(1e-4));
  CHECK(r.nodal[1] == Approx(-3.5355).epsilon(1e-4));
  for (int j = 0; j < 4; ++j) {
    CHECK(r.stream[j] == Approx(stream[j]));
    CHECK(r.measurement[j] == Approx(measurement[j]).epsilon(1e-5));
    CHECK(r.ratio[j] == Approx(ratio[j]).epsilon(1e-5));
  }
  CHECK(r.suspect == 3);  // the fourth stream
}

TEST_CASE("feed, exhaust and oxygen of the plant balance within their classes") {
  // feed 55.0 +- 1, cathode outlet 44.0 +- 1, oxygen 10.00 +- 0.1 g/h: r = 1, variance 2.01
  const float a[1][3] = {{1, -1, -1}}, y[3] = {55.0f, 44.0f, 10.0f}, v[3] = {1.0f, 1.0f, 0.01f};
  const auto r = reconcile(a, y, v);
  CHECK(r.stream[0] == Approx(54.50249).epsilon(1e-6));
  CHECK(r.stream[1] == Approx(44.49751).epsilon(1e-6));
  CHECK(r.stream[2] == Approx(10.00498).epsilon(1e-6));
  CHECK(r.global == Approx(0.49751).epsilon(1e-5));  // below 3.841
}
