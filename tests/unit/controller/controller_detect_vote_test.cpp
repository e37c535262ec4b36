// Votes, persistence and the single-sensor statistics of detection.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/detect/cusum.hpp"
#include "controller/detect/vote.hpp"

using namespace duskline::controller;

TEST_CASE("the mid value never lets a single wrong one through") {
  for (const float wrong : {-1e9f, 0.0f, 10.5f, 1e9f}) {
    CHECK(mid_value(10.0f, 11.0f, wrong) >= 10.0f);
    CHECK(mid_value(10.0f, wrong, 11.0f) <= 11.0f);
    CHECK(mid_value(wrong, 11.0f, 10.0f) >= 10.0f);
  }
  CHECK(vote_of_three(1.0f, true, 5.0f, true, 2.0f, true).value == 2.0f);
  const Vote two = vote_of_three(1.0f, true, 5.0f, false, 3.0f, true);
  CHECK(two.value == 2.0f);
  CHECK(two.voters == 2);
  CHECK(vote_of_three(1.0f, false, 5.0f, true, 3.0f, false).value == 5.0f);
  CHECK(vote_of_three(1.0f, false, 5.0f, false, 3.0f, false).voters == 0);
}

TEST_CASE("a suspicion is believed at four of the last five") {
  uint32_t history = 0;
  for (const bool suspect : {true, false, true, true}) CHECK_FALSE(four_of_five(history, suspect));
  CHECK(four_of_five(history, true));         // x-xxx
  CHECK_FALSE(four_of_five(history, false));  // -xxx-
  CHECK(four_of_five(history, true));         // xxx-x
  uint32_t sparse = 0;
  bool ever = false;
  for (int k = 0; k < 100; ++k) ever = ever || four_of_five(sparse, k % 4 != 0 && k % 4 != 2);
  CHECK_FALSE(ever);
}

TEST_CASE("the CUSUM keeps its bounds and ignores what is not a number") {
  Cusum c{};
  for (int k = 0; k < 100; ++k) add(c, 1e30f, 3.0f, 80.0f);
  CHECK(c.up == 80.0f);
  CHECK(c.down == 0.0f);
  add(c, NAN, 3.0f, 80.0f);
  CHECK(c.up == 80.0f);
  for (int k = 0; k < 27; ++k) add(c, 0.0f, 3.0f, 80.0f);
  CHECK(c.up == 0.0f);
}
