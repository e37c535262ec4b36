// A plant in order gives no diagnosis and no doubt: the shipped scenarios, and dispersed plants (resistance
// +-20 %, share of the flow +-10 %, instruments drawn within their class by the seed). A doubt stands for five
// minutes at least, so that a look every ten seconds misses none.
#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "hil-harness/batch/dispersion.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "plant-model/random/noise.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

struct Reported {
  std::uint32_t diagnosed = 0, suspect = 0, response = 0;
  double first = -1.0;  // s
};

Reported reported_in(const std::string& name, const std::vector<std::string>& settings) {
  Reported reported;
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    const auto& c = s.control;
    if (reported.first < 0.0 && (c.diagnosed | c.suspect[0] | c.suspect[1]) != 0) reported.first = s.time;
    reported.diagnosed |= c.diagnosed;
    reported.suspect |= c.suspect[0] | c.suspect[1];
    reported.response = std::max(reported.response, c.response);
    return true;
  };
  const auto run = run_shipped(name, settings, options);
  REQUIRE(run.end.reason == plant::RunEnd::reached_end);
  return reported;
}

void check_silent(const std::string& name, const std::vector<std::string>& settings = {}) {
  const Reported reported = reported_in(name, settings);
  INFO(name << ": first reported at " << reported.first << " s, "
            << fmt::format("{}", fmt::join(settings, " ")));
  CHECK(reported.diagnosed == 0);
  CHECK(reported.suspect == 0);
  CHECK(reported.response == CTL_RESPOND_NONE);
}

/// Settings of a dispersed plant; shares of the flow add up to the number of cells.
std::vector<std::string> dispersed(std::uint64_t seed) {
  const plant::NoiseStream stream(seed, "tests/false-alarms");
  double share[plant::kCells], sum = 0.0;
  for (std::size_t k = 0; k < plant::kCells; ++k)
    sum += share[k] = 0.9 + 0.2 * stream.uniform(static_cast<std::int64_t>(k));
  std::vector<std::string> settings{fmt::format("seed={}", seed)};
  for (std::size_t k = 0; k < plant::kCells; ++k) {
    const double factor = 0.8 + 0.4 * stream.uniform(100 + static_cast<std::int64_t>(k));
    settings.push_back(
        fmt::format("plant.stack.flow_share.{}={:.4f}", k + 1, share[k] * plant::kCells / sum));
    settings.push_back(fmt::format("plant.stack.resistance_factor.{}={:.4f}", k + 1, factor));
  }
  return settings;
}

}  // namespace

TEST_CASE("the shipped scenarios raise no false alarm") {
  for (const char* name :
       {"start-stop/hour-of-oxygen.yaml", "storms/storm-dusk.yaml", "dawn-dusk/equinox-sol.yaml",
        "seasons/aphelion-night.yaml", "endurance/three-sols-measured-weather.yaml"})
    check_silent(name);
}

TEST_CASE("dispersed plants raise no false alarm") {
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    check_silent("start-stop/hour-of-oxygen.yaml", dispersed(seed));
    check_silent("storms/storm-dusk.yaml", dispersed(seed + 100));
  }
}

// Source: seed 1030 of the table of laws (tests/benchmark/laws_table.cpp): displacement 9 % small and a feed meter that
// reads high within its class. Reported as a model in doubt, it cost a quarter of the oxygen.
TEST_CASE("a feed meter between a small machine and the aperture costs no oxygen") {
  auto c = read_shipped(library() / "storms" / "fast-vortex.yaml", {"seed=1030", "duration=30 min"});
  harness::disperse(c.plant.parameters, {}, 1030);
  std::uint32_t response = 0, diagnosed = 0;
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) {
    response = std::max(response, s.control.response);
    diagnosed |= s.control.diagnosed;
  };
  run_case(c, options);
  CHECK(response <= CTL_RESPOND_FLAG);
  CHECK((diagnosed & CTL_MODEL_SUSPECT) == 0);
}

// Source: ranges of the plant file; 24 drawn sols without commissioning all carry something (docs/models/detection.md).
TEST_CASE("a drawn plant that was commissioned raises no false alarm, and a worn compressor is still found") {
  const std::vector<std::string> hours{"duration=3 h"};
  for (const int draw : {3, 15, 23}) {
    auto settings = hours;
    settings.push_back(fmt::format("plant_draw={}", draw));
    check_silent("dawn-dusk/sol-from-hot-standby.yaml", settings);
  }
  auto c =
      read_shipped(library() / "dawn-dusk" / "sol-from-hot-standby.yaml", {"duration=4 h", "plant_draw=15"});
  c.scenario.faults.push_back(plant::usual_fault(*plant::find_fault("compressor-worn"), 2.0 * 3600.0));
  std::uint32_t diagnosed = 0;
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) { diagnosed |= s.control.diagnosed; };
  run_case(c, options);
  CHECK((diagnosed & CTL_COMPRESSOR_WEAK) != 0);
}

// Source: ranges of the plant file. Before: of 24 sampled plants eight were tripped by *current deviation* at the
// fall of the demand, these four among them, because their converters follow at 0.25 to 0.37 A/s.
TEST_CASE("a demand that falls to two fifths trips no drawn plant") {
  for (const int draw : {1, 6, 14, 16}) {
    INFO(draw);
    auto c =
        read_shipped(library() / "dawn-dusk" / "sol-from-hot-standby.yaml",
                     {"duration=85 min", "start.local_time=10 h", fmt::format("plant_draw={}", draw),
                      fmt::format("seed={}", draw), "controller.parameters.commissioning=30 min",
                      "commands=[{at: 0 s, mode: standby, demand: 0 g/h}, {at: 30 min, mode: production, "
                      "demand: 14 g/h}, {at: 80 min, demand: 5.6 g/h}]"});
    std::uint32_t diagnosed = 0;
    bool safe = false;
    harness::LoopOptions options;
    options.watch = [&](const harness::Snapshot& s) {
      diagnosed |= s.control.diagnosed;
      safe = safe || s.control.mode == CTL_SAFE;
    };
    run_case(c, options);
    CHECK_FALSE(safe);
    CHECK((diagnosed & (CTL_CURRENT_DEVIATION | CTL_COMPRESSOR_STOPPED)) == 0);
  }
}

// Source: type K walks 3 K in 1000 h (sheet): 10 K in 10 000 h, 17 K seen in a simulated year. Before: *cell resistive*
// and *cell starved* every ten minutes, 95 g instead of 120 g.
TEST_CASE("thermocouples that have drifted for 10 000 h blame no cell and cost no oxygen") {
  auto c = read_shipped(library() / "dawn-dusk" / "equinox-sol.yaml", {"duration=6 h", "record=60 s"});
  const auto& row = *plant::find_fault("zone-thermocouple-drifting");
  const std::pair<int, double> drifts[] = {{0, 17.0}, {3, -10.0}};  // zone, K
  for (const auto& [zone, size] : drifts) {
    c.scenario.faults.push_back(plant::usual_fault(row, 1200.0));
    c.scenario.faults.back().item = zone;
    c.scenario.faults.back().size = size;
    c.scenario.faults.back().rise = 4.0 * 3600.0;
  }
  std::uint32_t response = 0, diagnosed = 0;
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) {
    response = std::max(response, s.control.response);
    diagnosed |= s.control.diagnosed;
  };
  run_case(c, options);
  CHECK((diagnosed & (CTL_CELL_RESISTIVE | CTL_CELL_STARVED)) == 0);
  CHECK(response <= CTL_RESPOND_SUBSTITUTE);
}

// Before: the power of a motor that was commissioned at midnight did not fit by noon, and the bus power was suspect from
// 13:30 on. Nothing else of this plant is beyond its range.
TEST_CASE("the power of a sampled plant that was commissioned at night is believed at noon") {
  check_silent("dawn-dusk/sol-from-hot-standby.yaml",
               {"plant_draw=1000195", "seed=1000195", "duration=15 h"});
}

// 3 K in 80 min stand for the drift of 150 sols (type K: 3 K in 1000 h). Before: an end thermocouple was taken for wrong
// because the differences of the drifted ones no longer held, and with seed 4 the plant tripped.
TEST_CASE("calibrated instruments are not judged by what was learnt against their old readings") {
  for (const int seed : {1, 3, 4, 5})
    check_silent(
        "dawn-dusk/equinox-sol.yaml",
        {fmt::format("seed={}", seed), "duration=100 min", "start.local_time=11 h",
         "plant.instruments.end_temperature.walk=3 K", "plant.instruments.end_temperature.walk_time=1 h",
         "plant.instruments.zone_temperature.walk=3 K", "plant.instruments.zone_temperature.walk_time=1 h",
         "services=[{at: 80 min, part: instruments}]"});
}

// Before: 24 to 29 g of 36.9 g, up to a third of the oxygen, at true margins of 60 mV and more.
TEST_CASE(
    "a plant that the model does not fit gives up oxygen only for its margin, and the residual is named in "
    "minutes") {
  for (const int draw : {3, 5, 7, 9, 12}) {
    double oxygen = 0.0, margin = 1.0, named = -1.0;
    harness::LoopOptions options;
    options.watch = [&](const harness::Snapshot& s) {
      oxygen += s.plant.oxygen_made;
      margin = std::min(margin, s.coke_margin);
      if (named < 0.0 && (s.control.diagnosed & CTL_MODEL_SUSPECT) != 0 && s.control.unexplained != 0)
        named = s.time;
    };
    // drawn from the ranges of the plant file and never commissioned
    run_shipped("start-stop/start-from-hot-standby.yaml",
                {fmt::format("plant_draw={}", draw), fmt::format("seed={}", draw), "duration=4 h"}, options);
    INFO("draw " << draw << ": " << 1e3 * oxygen << " g, margin " << 1e3 * margin << " mV, named at "
                 << named);
    CHECK(oxygen > 0.95 * 36.9e-3);  // kg; the plant of the file at 10 g/h
    CHECK(margin > 0.025);           // what the law keeps at least
    CHECK(named > 0.0);
    CHECK(named < 600.0);
  }
}
