// What controllers know of the size of a plant.
#include "scenarios/reader/controller_sizes.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "scenarios/reader/scenario_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"

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
  CHECK(axial.surge_line < 0.25F);  // of the centrifugal train 0.3: this one chokes sooner
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

namespace {

/// A plant with 4000 h behind it.
scenarios::Case aged(const std::string& plant, const std::vector<std::string>& settings = {}) {
  auto file = scenarios::read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/" + plant + ".yaml", settings);
  INFO(scenarios::to_text(file.problems));
  REQUIRE(file);
  scenarios::Case c{scenarios::default_scenario(), std::move(*file.value), {}};
  c.scenario.initial.operating_hours = 4000 * 3600.0;
  scenarios::size_controller(c.plant.parameters, c.scenario.controller);
  return c;
}

}  // namespace

// Expected, worked out by hand from the plant file: 52 % of 67 A over 100 cm2 are 3484 A/m2; 1e-13 to 1e-12 ohm m2/s at 3000 A/m2
// over 10 000 h add 4.18e-6 to 4.18e-5 ohm m2. By equal factors, the root mean square of a share from 0 to 1 of a decade,
// (10^s - 1)/9, is 0.4257; beside it the 6.5e-6 ohm m2 of new cells.
TEST_CASE("The controller of a module is given the least resistance that its hours have added") {
  scenarios::Case c = aged("outpost");
  plant::PlantParameters built = c.plant.parameters;
  built.module.production[2] = 6000 * 3600.0;
  built.degradation.ageing_rate *= 2.0;  // not known to the controller
  const ctl_params third = scenarios::module_controller_of(c, built, 2);
  CHECK(third.mean_resistance_prior == Approx(4.18e-6).epsilon(1e-3));
  CHECK(third.mean_resistance_prior_sigma == Approx(std::hypot(6.5e-6, 0.4257 * 3.762e-5)).epsilon(5e-3));
  CHECK(scenarios::module_controller_of(c, built, 0).mean_resistance_prior ==
        Approx(0.4 * 4.18e-6).epsilon(1e-3));
  c.scenario.initial.operating_hours = 0.0;
  const ctl_params young = scenarios::module_controller_of(c, built, 0);
  CHECK(young.mean_resistance_prior == 0.0F);
  CHECK(young.mean_resistance_prior_sigma == 6.5e-6F);
}

// 1e-12 ohm m2/s over 100 000 h would be 4.18e-4 ohm m2: more than an estimate may be.
TEST_CASE("What the hours have added stays within what the controller may estimate") {
  scenarios::Case c = aged("outpost");
  c.scenario.initial.operating_hours = 1e6 * 3600.0;
  const ctl_params old = scenarios::module_controller_of(c, c.plant.parameters, 0);
  CHECK(old.mean_resistance_prior == old.resistance_max);
  CHECK(old.mean_resistance_prior_sigma < 1e-3F);  // controller_parameters.h
}

// 4.2e-13 ohm m2/s, set for this plant alone: 1.756e-5 ohm m2 over 10 000 h, nothing of it in doubt.
TEST_CASE("A rate of ageing that a scenario sets is known") {
  const scenarios::Case c = aged("outpost", {"degradation.ageing_rate=4.2e-13 ohm m2 s-1"});
  plant::PlantParameters built = c.plant.parameters;
  built.module.production[0] = 6000 * 3600.0;
  const ctl_params first = scenarios::module_controller_of(c, built, 0);
  CHECK(first.mean_resistance_prior == Approx(1.756e-5).epsilon(1e-3));
  CHECK(first.mean_resistance_prior_sigma == 6.5e-6F);
}

// The demo plant has one module; its controller identifies what its cells have become.
TEST_CASE("Without headers the controller is given no hours") {
  const scenarios::Case c = aged("bench");
  const ctl_params only = scenarios::module_controller_of(c, c.plant.parameters, 0);
  CHECK(only.mean_resistance_prior == 0.0F);
  CHECK(only.mean_resistance_prior_sigma == 4e-6F);
}
