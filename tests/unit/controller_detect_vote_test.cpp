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

TEST_CASE("a suspicion is raised at 3 of 5 and ends after the clean time") {
  Persistence p{};
  bool raised = false;
  const bool seen[] = {true, false, true, false, true};
  for (const bool suspect : seen) raised = persists(p, raised, suspect, 3, 5, 4, false);
  CHECK(raised);
  for (int k = 0; k < 3; ++k) raised = persists(p, raised, false, 3, 5, 4, false);
  CHECK(raised);
  CHECK_FALSE(persists(p, raised, false, 3, 5, 4, false));
  CHECK(persists(p, raised, false, 3, 5, 4, true));  // latched
  Persistence sparse{};
  bool sparse_raised = false;
  for (int k = 0; k < 100; ++k) sparse_raised = persists(sparse, sparse_raised, k % 3 == 0, 3, 5, 4, false);
  CHECK_FALSE(sparse_raised);
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
