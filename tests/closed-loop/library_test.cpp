// An hour of every scenario of the library runs to its end and balances. Bounds: balances as the project states them (1e-9
// of the atoms held, 1e-6 of the energy supplied); limits are limits, where nothing is broken.
#include <algorithm>
#include <catch2/catch.hpp>

#include "hil-harness/loop/signal_rows.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

/// At most an hour of each scenario of a folder; to their ends they run in `duskline verify scenarios/library`.
void runs_and_balances(const std::string& folder, std::size_t at_least) {
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(library() / folder))
    if (entry.path().extension() == ".yaml") paths.push_back(entry.path());
  std::sort(paths.begin(), paths.end());
  REQUIRE(paths.size() >= at_least);
  for (const auto& path : paths) {
    INFO(path.filename().string());
    const auto read = scenarios::read_case(path, DUSKLINE_SOURCE_DIR "/plant-model/plants", {},
                                           harness::requirement_lists());
    REQUIRE(read);
    scenarios::Case c = *read.value;
    CHECK(harness::surroundings(c).problems.empty());
    CHECK_FALSE(c.scenario.requirements.empty());
    c.scenario.duration = std::min(c.scenario.duration, 3600.0);
    const auto run = run_case(c);
    REQUIRE(run.end.reason == plant::RunEnd::reached_end);
    CHECK(run.ticks == static_cast<std::int64_t>(scenarios::periods(c.scenario)));
    for (const double residual : run.atom_residual) CHECK(residual < 1e-9);
    CHECK(run.energy_residual < 1e-6);
    if (folder == "faults" || folder == "training" || folder == "outpost") continue;
    CHECK(run.figures.coke_margin.value > 0.0);
    // a first flow may pass the limit of the nickel for a minute; of 3 mmol a few thousandths may oxidise
    CHECK(run.figures.oxide_greatest < 1e-5);
    CHECK(run.figures.carbon_greatest < 1e-8);
  }
}

}  // namespace

TEST_CASE("scenarios of dawn and dusk run balanced and unharmed") {
  runs_and_balances("dawn-dusk", 24);
}
TEST_CASE("scenarios of faults run balanced") {
  runs_and_balances("faults", 40);
}
TEST_CASE("scenarios of starts and stops run balanced and unharmed") {
  runs_and_balances("start-stop", 12);
}
TEST_CASE("scenarios of weather run balanced and unharmed") {
  runs_and_balances("seasons", 5);
  runs_and_balances("storms", 7);
}
TEST_CASE("scenarios of years and people run balanced") {
  runs_and_balances("endurance", 5);
  runs_and_balances("maintenance", 4);
  runs_and_balances("training", 4);
}

TEST_CASE("scenarios of the outpost run balanced") {
  runs_and_balances("outpost", 25);
}

TEST_CASE("measured weather changes the run") {
  auto c = read_shipped(library() / "endurance" / "three-sols-measured-weather.yaml", {"duration=2 h"});
  REQUIRE_FALSE(c.weather_file.empty());
  const auto measured = run_case(c);
  c.weather_file.clear();
  const auto modelled = run_case(c);
  CHECK(measured.end.reason == plant::RunEnd::reached_end);
  CHECK(measured.final_state != modelled.final_state);
}

TEST_CASE("a ceiling on the bus costs oxygen, not heat") {
  // ceiling of the scenario 150 W from 4 h to 15 h; 10 g/h takes about 180 W then (computed here)
  double hottest_dip = 2000.0, greatest = 0.0, min_rate = 1.0;
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    if (s.time < 5.0 * 3600.0 || s.time > 15.0 * 3600.0) return true;
    hottest_dip = std::min(hottest_dip, s.hottest);
    greatest = std::max(greatest, s.plant.bus_power);
    min_rate = std::min(min_rate, s.plant.oxygen_made);
    return true;
  };
  const auto run = run_shipped("seasons/aphelion-night.yaml", {}, options);
  CHECK(run.figures.time_limited[CTL_BY_POWER] > 8.0 * 3600.0);
  CHECK(greatest < 155.0);
  CHECK(min_rate > 6.0 * kGramsPerHour);
  CHECK(min_rate < 9.0 * kGramsPerHour);
  CHECK(hottest_dip > 1073.15 - 10.0);
}
