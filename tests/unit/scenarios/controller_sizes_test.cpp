// What controllers know of the size of a plant.
#include "scenarios/reader/controller_sizes.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>

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

// Before, every plant between headers was run as a centrifugal train.
TEST_CASE("The plant controller knows the kind of intake, its speeds and what it sweeps") {
  const auto sized = [](const char* name) {
    const auto file = scenarios::read_plant(std::string(DUSKLINE_SOURCE_DIR "/plant-model/plants/") + name);
    REQUIRE(file);
    ctl_plant_params p;
    ctl_plant_default_params(&p);
    scenarios::size_controller(file.value->parameters, p);
    ctl_plant_state state;
    CHECK(ctl_plant_init(&state, &p) == CTL_OK);
    return p;
  };
  CHECK(sized("outpost.yaml").intake == CTL_INTAKE_CENTRIFUGAL);
  CHECK(sized("outpost-freezer.yaml").intake == CTL_INTAKE_FREEZER);
  const ctl_plant_params axial = sized("outpost-axial.yaml");
  CHECK(axial.intake == CTL_INTAKE_AXIAL);
  CHECK(axial.surge_line < 0.2F);
  // expected: the entries of the plant files, and the swept volume that makes of their design flow, worked out by hand
  const ctl_plant_params lobe = sized("outpost-lobe.yaml");
  CHECK(lobe.intake == CTL_INTAKE_LOBE);
  CHECK(lobe.speed_max == 370.0F);
  CHECK(lobe.speed_min == Approx(300.0 * 1940.0 / 3764.0));
  // 0.12 mol/s at 690 Pa and 240 K are 0.347 m3/s; at 300 rad/s and 0.85: 8.55 L a revolution
  CHECK(lobe.displacement == Approx(8.55e-3).epsilon(0.002));
  const ctl_plant_params bank = sized("outpost-scroll-bank.yaml");
  CHECK(bank.intake == CTL_INTAKE_SCROLL_BANK);
  CHECK(bank.speed_max == 400.0F);
  CHECK(bank.displacement == Approx(24 * 300e-6));
  // of what 24 scrolls fill at 345 rad/s, 700 Pa and 240 K (0.135 mol/s) 7.1 mmol/s leak back from 65 kPa
  CHECK(bank.volumetric_efficiency == Approx(0.97 * (1 - 0.0071 / 0.135)).epsilon(0.005));
}
