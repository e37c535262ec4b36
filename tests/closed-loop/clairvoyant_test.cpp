// The clairvoyant optimum holds the true margin it is asked to hold, and no law beats it where the margin binds.
// Source of the bounds: by construction (constant margins; a law that holds more margin makes less).
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
  const auto narrow = harness::clairvoyant(c, {0.030, 2.0}, speeds, 600.0);
  const auto wide = harness::clairvoyant(c, {0.050, 2.0}, speeds, 600.0);
  // 0.025 V/A of eight cells: 20 mV are 0.8 A, or 1.9 g/h
  CHECK(narrow.total() - wide.total() == Approx(1.9e-3).epsilon(0.4));
  const auto one = harness::clairvoyant(c, {0.030, 2.0}, std::span(speeds).first(1), 600.0);
  CHECK(narrow.total() >= one.total());
  CHECK(narrow.speed.size() == 6);
}

TEST_CASE("more protection of nickel costs oxygen: it takes more exhaust back") {
  const auto c = read_shipped(library() / kNoon, kBeyondReach);
  const double speeds[] = {480.0};
  CHECK(harness::clairvoyant(c, {0.030, 1.5}, speeds, 600.0).total() >
        harness::clairvoyant(c, {0.030, 4.0}, speeds, 600.0).total());
}

TEST_CASE("speeds half as far apart add less than 0.2 % to the optimum") {
  const auto c = read_shipped(library() / kNoon, kBeyondReach);
  const auto coarse = harness::clairvoyant_speeds(c, 20.0), fine = harness::clairvoyant_speeds(c, 10.0);
  const double known = harness::clairvoyant(c, {0.030, 2.0}, coarse, 600.0, 20.0).total();
  const double better = harness::clairvoyant(c, {0.030, 2.0}, fine, 600.0, 10.0).total();
  CHECK(better == Approx(known).epsilon(2e-3));
}

TEST_CASE(
    "no law exceeds the optimum that keeps the same true margins, and the regulating laws come near it") {
  for (const std::uint64_t seed : {1003, 1007})
    for (const char* law : {"cascade", "adaptive"}) {
      INFO(law << ", seed " << seed);
      auto settings = kBeyondReach;
      settings.push_back(std::string("controller.law=") + law);
      auto c = read_shipped(library() / kNoon, settings);
      harness::disperse(c.plant.parameters, {}, seed);
      const auto run = run_case(c);
      CHECK(run.figures.coke_margin.value > 0.0);
      const harness::KeptMargins kept{run.figures.coke_margin.value, run.figures.nickel_ratio.value};
      const double best =
          harness::clairvoyant(c, kept, harness::clairvoyant_speeds(c, 20.0), 600.0, 20.0).total();
      CHECK(run.figures.oxygen_made < best);
      CHECK(run.figures.oxygen_made > 0.8 * best);
    }
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
