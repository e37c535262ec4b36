// The rows of `describe` and the reference page come from the same lists as the reader.
#include <algorithm>
#include <catch2/catch.hpp>
#include <set>
#include <string>

#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"

using namespace duskline::scenarios;

namespace {

const Row* find(const std::vector<Row>& rows, const std::string& path) {
  for (const Row& row : rows)
    if (row.path == path) return &row;
  return nullptr;
}

}  // namespace

TEST_CASE("Keys of a scenario are described with unit, range, default and meaning") {
  const auto rows = describe_scenario_keys();
  std::set<std::string> paths;
  for (const Row& row : rows) {
    INFO(row.path);
    CHECK_FALSE(row.meaning.empty());
    CHECK_FALSE(row.allowed.empty());
    CHECK(paths.insert(row.path).second);
  }
  const Row* demand = find(rows, "commands[].demand");
  REQUIRE(demand);
  CHECK(demand->unit == "kg/s");
  CHECK(demand->lower == 0.0);
  const Row* method = find(rows, "integrator.method");
  REQUIRE(method);
  CHECK(method->allowed == "linearly-implicit | rosenbrock4 | dormand-prince");
  CHECK(method->value == "linearly-implicit");
  CHECK(find(rows, "duration")->required);
  for (const char* path :
       {"format", "plant", "plant_overrides", "controller.file", "controller.table[].speed", "events[].set",
        "events[].to", "storms[].peak", "initial.state"})
    CHECK(find(rows, path) != nullptr);
}

TEST_CASE("Parameters of controller and plant are described with their sources") {
  const auto controller = describe_controller_parameters();
  CHECK(controller.size() == controller_parameters().size());
  for (const Row& row : controller) {
    INFO(row.path);
    CHECK_FALSE(row.meaning.empty());
    CHECK_FALSE(row.source.empty());
    // The unit is one, and the default lies in the range.
    const Reading reading = read_quantity(row.value, {row.unit, row.lower, row.upper, true});
    INFO(reading.error);
    CHECK(reading.error.empty());
  }
  const auto plant = read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/bench.yaml");
  REQUIRE(plant);
  const auto rows = describe_plant_parameters(*plant.value);
  const auto fits = [](const auto& info) { return info.fits(duskline::plant::PlantForm{}); };
  CHECK(rows.size() ==
        static_cast<std::size_t>(std::ranges::count_if(duskline::plant::parameter_table(), fits)));
  for (const Row& row : rows) CHECK_FALSE(row.source.empty());
}

TEST_CASE("The reference page holds every key and parameter") {
  const std::string page = scenario_reference();
  for (const auto& rows :
       {describe_scenario_keys(), describe_controller_parameters(), describe_plant_parameters()})
    for (const Row& row : rows) CHECK(page.find("| `" + row.path + "` |") != std::string::npos);
  CHECK(page.find(scenario_example()) != std::string::npos);
}
