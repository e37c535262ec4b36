// A loop with a gain so high that every move ends at a limit feeds nothing back in its linear model: that is no margin.
#include <catch2/catch.hpp>

#include "hil-harness/tune/margins.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

TEST_CASE("a loop that feeds nothing back any more lacks its margin") {
  auto c = read_shipped(library() / "tuning" / "dawn-demand.yaml");
  c.scenario.tuning.operating_points.resize(1);
  const harness::MarginCheck check(c, 1, nullptr);
  REQUIRE(check.problem().empty());
  std::string why;
  CHECK(check.lack(check.at_start(), why) == 0.0);
  ctl_params wild = c.scenario.controller;
  wild.flow_gain = 1000.0F;
  const auto margins = check.at_all_points(wild);
  CHECK(margins[0].loops.size() == check.at_start()[0].loops.size());
  CHECK(check.lack(margins, why) >= 10.0);
  CHECK(why.find("speed") != why.npos);
}
