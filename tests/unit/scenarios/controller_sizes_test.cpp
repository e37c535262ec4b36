// What controllers know of the size of a plant.
#include "scenarios/reader/controller_sizes.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "scenarios/reader/scenario_file.hpp"

using namespace duskline;

// The default map is that of the plant file, written out (plant_controller_parameters.h); between 0.8 and 0.9 of the speed
// the last stages only throttle, and the ratio says nothing.
TEST_CASE("The plant controller has the surge line of its own machine") {
  const auto file = scenarios::read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/outpost.yaml");
  REQUIRE(file);
  plant::PlantParameters p = file.value->parameters;
  ctl_plant_params usual, sized;
  ctl_plant_default_params(&usual);
  sized = usual;
  scenarios::size_controller(p, sized);
  CHECK(std::abs(sized.map_speed / usual.map_speed - 1) < 0.01F);
  for (std::size_t row = 0; row < CTL_PLANT_MAP_ROWS; ++row) {
    INFO("row " << row << ": " << sized.map_surge_flow[row] << " kg/s, " << sized.map_ratio[row]);
    CHECK(std::abs(sized.map_surge_flow[row] / usual.map_surge_flow[row] - 1) < 0.02F);
    if (row != 3) CHECK(std::abs(sized.map_ratio[row] / usual.map_ratio[row] - 1) < 0.02F);
  }
  ctl_plant_state state;
  CHECK(ctl_plant_init(&state, &sized) == CTL_OK);
  // a larger surge coefficient moves the line outward by as much
  p.train.surge_coefficient *= 1.05;
  ctl_plant_params later = usual;
  scenarios::size_controller(p, later);
  CHECK(std::abs(later.map_surge_flow[6] / sized.map_surge_flow[6] / 1.05F - 1) < 0.03F);
}
