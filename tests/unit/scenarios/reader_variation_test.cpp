// What a search may vary: paths, ranges, values. Sources: the definitions in scenarios/reader/variation.hpp; the
// geometric mean is that of the ends (1 and 25 give 5).
#include <algorithm>
#include <catch2/catch.hpp>
#include <string>

#include "scenarios/reader/scenario_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"

using namespace duskline::scenarios;

namespace {

const std::filesystem::path kPlants = DUSKLINE_SOURCE_DIR "/plant-model/plants";

const std::string kText =
    "format: duskline-scenario/1\ntitle: t\nplant: bench\nduration: 1 h\nvortices:\n"
    "  - {at: 10 min, depth: 5 Pa, width: 10 s}\n"
    "faults:\n  - {at: 20 min, fault: ambient-pressure-bias, size: 5 Pa}\n"
    "requirements:\n  - {name: no coke, must: \"always (coke_margin > 10 mV)\"}\n"
    "falsify:\n  requirement: no coke\n  vary:\n"
    "    - {set: vortices.1.depth, from: 1 Pa, to: 25 Pa, scale: log}\n"
    "    - {set: \"faults[1].size\", from: -0.05 mbar, to: 5 Pa}\n"
    "    - {set: start.local_time, from: 4.5 h, to: 16.25 h}\n"
    "    - {set: plant.stack.resistance_factor.4, from: 0.9, to: 1.1}\n"
    "    - {set: controller.parameters.margin_setpoint, from: 40 mV, to: 60 mV}\n";

Case read(const std::vector<std::string>& settings = {}) {
  const auto outcome = parse_case(kText, "made", {}, kPlants, settings);
  INFO(to_text(outcome.problems));
  REQUIRE(outcome);
  return *outcome.value;
}

}  // namespace

TEST_CASE("A variation holds its range in the unit of its number") {
  const auto vary = read().scenario.falsify.vary;
  REQUIRE(vary.size() == 5);
  CHECK(vary[0].unit == "Pa");
  CHECK(vary[0].scale == Spacing::logarithmic);
  CHECK(vary[1].from == -5.0);
  CHECK(vary[1].scale == Spacing::linear);
  CHECK(vary[2].to == 16.25);
  CHECK(vary[4].from == Approx(0.04).epsilon(1e-12));
  CHECK(dotted(vary[1].set) == "faults.1.size");
}

TEST_CASE("Shares of a range are values, evenly or by equal factors") {
  const auto vary = read().scenario.falsify.vary;
  CHECK(value_at(vary[0], 0.0) == 1.0);
  CHECK(value_at(vary[0], 0.5) == Approx(5.0).epsilon(1e-14));
  CHECK(value_at(vary[0], 1.0) == 25.0);
  CHECK(value_at(vary[1], 0.5) == 0.0);
  CHECK(value_at(vary[2], 1.0) == 16.25);
}

TEST_CASE("A setting changes that number and nothing else, to the last bit") {
  const auto vary = read().scenario.falsify.vary;
  for (const double x : {0.0, 0.1, 1.0 / 3.0, 0.77777, 1.0}) {
    std::vector<std::string> settings;
    for (const Variation& v : vary) settings.push_back(setting_at(v, x));
    const Case c = read(settings);
    CHECK(c.scenario.vortices[0].depth == value_at(vary[0], x));
    CHECK(c.scenario.faults[0].size == value_at(vary[1], x));
    CHECK(c.scenario.start.local_time_h == value_at(vary[2], x));
    CHECK(c.plant.parameters.stack.resistance_factor[3] == value_at(vary[3], x));
    CHECK(c.scenario.controller.margin_setpoint == static_cast<float>(value_at(vary[4], x)));
    CHECK(c.scenario.vortices[0].width == 10.0);
    // and the written case is the same case
    const auto again = parse_case(write_resolved(c.scenario, c.plant), "again", {}, kPlants);
    REQUIRE(again);
    CHECK(again.value->scenario.vortices[0].depth == c.scenario.vortices[0].depth);
    CHECK(again.value->scenario.falsify.vary.size() == vary.size());
    CHECK(again.value->scenario.falsify.requirement == "no coke");
  }
}

TEST_CASE("What is varied leaves services in the order of time") {
  const auto outcome = parse_case(
      "format: duskline-scenario/1\ntitle: t\nplant: bench\nduration: 1 h\nservices:\n"
      "  - {at: 10 min, part: filter}\n  - {at: 20 min, part: seals}\n"
      "campaign:\n  vary:\n    - {set: services.1.at, from: 5 min, to: 30 min}\n",
      "made", {}, kPlants);
  CHECK_FALSE(outcome);
  CHECK(to_text(outcome.problems) ==
        "made:10:45: campaign.vary[1].to: 1800 s is not before 1200 s, services[2].at\n");
}

TEST_CASE("What may be varied: numbers of what happens, not how it is calculated") {
  const auto numbers = number_paths(read().scenario);
  const auto has = [&](const std::string& path) {
    return std::any_of(numbers.begin(), numbers.end(), [&](const NumberPath& n) { return n.path == path; });
  };
  for (const char* path :
       {"start.local_time", "start.season", "turbulence", "vortices.1.at", "vortices.1.width", "faults.1.at",
        "initial.operating_hours", "controller.parameters.margin_setpoint", "plant.compressor.displacement",
        "plant.stack.resistance_factor.1"})
    CHECK(has(path));
  for (const char* path : {"seed", "title", "duration", "period", "record", "vortices.2.at",
                           "plant.stack.resistance_factor", "integrator.relative_tolerance"})
    CHECK_FALSE(has(path));
}
