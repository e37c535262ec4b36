// The clairvoyant optimum holds the true margin it is asked to hold, and no law beats it where the margin binds.
// Source of the bounds: by construction (constant margin; a law that holds more margin makes less).
#include <catch2/catch.hpp>

#include "hil-harness/batch/clairvoyant.hpp"
#include "hil-harness/batch/dispersion.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

const std::vector<std::string> kBeyondReach = {"controller.parameters.current_max=8 A",
                                               "commands[1].demand=20 g/h", "duration=1 h"};
constexpr const char* kNoon = "storms/fast-vortex.yaml";

}  // namespace

TEST_CASE("more margin costs oxygen, and the best of several speeds is no worse than any of them") {
  const auto c = read_shipped(library() / kNoon, kBeyondReach);
  const double speeds[] = {320.0, 560.0};
  const auto narrow = harness::clairvoyant(c, 0.030, speeds, 600.0);
  const auto wide = harness::clairvoyant(c, 0.050, speeds, 600.0);
  // 0.025 V/A of eight cells: 20 mV are 0.8 A, or 1.9 g/h
  CHECK(narrow.total() - wide.total() == Approx(1.9e-3).epsilon(0.4));
  const auto one = harness::clairvoyant(c, 0.030, std::span(speeds).first(1), 600.0);
  CHECK(narrow.total() >= one.total());
  CHECK(narrow.speed.size() == 6);
}

TEST_CASE("a dispersed plant under the cascade comes near the optimum and keeps its margin") {
  auto c = read_shipped(library() / kNoon, kBeyondReach);
  harness::disperse(c.plant.parameters, {}, 1003);
  const double speeds[] = {440.0, 600.0};
  const double best = harness::clairvoyant(c, c.scenario.controller.margin_setpoint, speeds, 600.0).total();
  const auto run = run_case(c);
  CHECK(run.figures.coke_margin.value > 0.0);
  CHECK(run.figures.oxygen_made > 0.9 * best);
  CHECK(run.figures.oxygen_made < 1.05 * best);
}

TEST_CASE("after five thousand hours the regulating laws hold their margins and the fixed speed does not") {
  const char* const aged = "endurance/sol-after-5000-hours.yaml";
  const auto fixed = run_shipped(aged, {"controller.law=fixed"});
  CHECK(fixed.figures.coke_margin.value < 0.0);
  CHECK(run_shipped(aged, {"controller.law=fixed", "initial.operating_hours=0 h"}).figures.coke_margin.value >
        0.0);
  for (const char* law : {"cascade", "adaptive"}) {
    INFO(law);
    const auto regulated = run_shipped(aged, {std::string("controller.law=") + law});
    CHECK(regulated.figures.coke_margin.value > 0.030);
    CHECK(regulated.figures.nickel_ratio.value > 1.5);
    CHECK(regulated.figures.oxygen_made > 0.99 * regulated.figures.oxygen_demanded);
  }
}
