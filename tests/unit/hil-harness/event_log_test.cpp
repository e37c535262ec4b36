// The list of what happened: folding of chatter, and its bound.
#include <catch2/catch.hpp>

#include "hil-harness/loop/event_log.hpp"

using namespace duskline::harness;

TEST_CASE("a limit crossed back and forth within a minute is one event with a count") {
  EventLog log;
  const auto cross = [&](double time, bool passed) {
    log.limit(time, "margin", passed, "passed", "regained");
  };
  for (int n = 0; n < 16; ++n) {
    cross(10.0 + 20.0 * n, true);
    cross(20.0 + 20.0 * n, false);
  }
  REQUIRE(log.events().size() == 1);
  CHECK(log.events()[0].time == 10.0);
  CHECK(log.events()[0].until == 320.0);
  CHECK(log.events()[0].count == 16);
  CHECK(log.events()[0].text == "passed 16 times in 310 s; regained");
}

TEST_CASE("a limit that stays passed for longer than a minute is two events") {
  EventLog log;
  log.limit(10.0, "margin", true, "passed", "regained");
  log.limit(100.0, "margin", false, "passed", "regained");
  REQUIRE(log.events().size() == 2);
  CHECK(log.events()[0].text == "passed");
  CHECK(log.events()[1].text == "regained");
  CHECK_FALSE(log.events()[1].begins);
}

TEST_CASE("equal events about one subject are counted, those about others or later ones are not") {
  EventLog log;
  log.log(0.0, LogKind::alarm, "low", "a");
  log.log(30.0, LogKind::alarm, "low", "a");
  log.log(40.0, LogKind::alarm, "low", "b");
  log.log(50.0, LogKind::alarm_return, "low returned", "a", false);
  log.log(90.0, LogKind::alarm, "low", "a");   // a minute after the latest of its kind
  log.log(151.0, LogKind::alarm, "low", "a");  // more than a minute
  REQUIRE(log.events().size() == 4);
  CHECK(log.events()[0].count == 3);
  CHECK(log.events()[0].until == 90.0);
  CHECK(log.events()[3].time == 151.0);
}

TEST_CASE("the list is bounded, and what is left out is counted") {
  EventLog log;
  for (std::size_t n = 0; n < kLogEventsMax + 7; ++n) log.log(static_cast<double>(n), LogKind::mode, "x");
  CHECK(log.events().size() == kLogEventsMax);
  CHECK(log.left_out() == 7);
}
