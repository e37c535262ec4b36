#include "plant-model/instruments/actuator.hpp"

#include <catch2/catch.hpp>

using namespace duskline::plant;

// Expected values follow from the definition in actuator.hpp by hand.

namespace {
constexpr double kLost = std::numeric_limits<double>::quiet_NaN();
}  // namespace

TEST_CASE("Without limits the command passes as it is") {
  ActuatorState state;
  for (const double command : {3.0, -1.0, 0.0}) {
    const ActuatorSpec spec{.name = "free", .unit = "1", .lower = -5.0};
    CHECK(actuate(spec, state, command, 1.0) == command);
  }
}

TEST_CASE("A command outside the span gives the end of the span") {
  const ActuatorSpec spec{.name = "current", .unit = "A", .lower = 0.0, .upper = 10.0};
  ActuatorState state;
  CHECK(actuate(spec, state, 12.0, 1.0) == 10.0);
  CHECK(actuate(spec, state, -2.0, 1.0) == 0.0);
}

TEST_CASE("Slew limits the change in a period, both ways, and the target is met exactly") {
  const ActuatorSpec spec{.name = "speed", .unit = "rad/s", .upper = 700.0, .slew = 50.0};
  ActuatorState state;
  for (const double expected : {25.0, 50.0, 75.0, 90.0, 90.0})
    CHECK(actuate(spec, state, 90.0, 0.5) == expected);
  for (const double expected : {65.0, 40.0, 30.0}) CHECK(actuate(spec, state, 30.0, 0.5) == expected);
}

TEST_CASE("A step of the drive coarser than the slew does not stall the drive") {
  const ActuatorSpec spec{.name = "valve", .unit = "1", .upper = 1.0, .slew = 0.01, .resolution = 0.05};
  ActuatorState state;
  double position = 0.0;
  for (int i = 0; i < 60; ++i) position = actuate(spec, state, 0.52, 1.0);
  CHECK(position == Approx(0.50));
  CHECK(state.position == Approx(0.52));
}

TEST_CASE("Rounding never leaves the span") {
  const ActuatorSpec spec{.name = "power", .unit = "W", .upper = 0.98, .resolution = 0.25};
  ActuatorState state;
  CHECK(actuate(spec, state, 0.98, 1.0) == 0.98);  // nearest step is 1.00
}

TEST_CASE("A lost command leaves the last one standing") {
  const ActuatorSpec spec{.name = "power", .unit = "W", .upper = 100.0};
  ActuatorState state;
  actuate(spec, state, 40.0, 1.0);
  CHECK(actuate(spec, state, kLost, 1.0) == 40.0);
  state.fault = {ActuatorFaultMode::loss, 0.5};
  CHECK(actuate(spec, state, kLost, 1.0) == 40.0);
}

TEST_CASE("Faults act until they are taken off") {
  const ActuatorSpec spec{.name = "valve", .unit = "1", .upper = 1.0, .slew = 0.4};
  ActuatorState state;
  CHECK(actuate(spec, state, 0.3, 1.0) == Approx(0.3));
  state.fault = {ActuatorFaultMode::stuck};
  CHECK(actuate(spec, state, 0.6, 1.0) == Approx(0.3));
  state.fault = {ActuatorFaultMode::fixed, 1.0};
  CHECK(actuate(spec, state, 0.0, 1.0) == Approx(0.7));  // 0.4 a second towards 1
  CHECK(actuate(spec, state, 0.0, 1.0) == Approx(1.0));
  state.fault = {ActuatorFaultMode::loss, 0.25};
  CHECK(actuate(spec, state, 0.8, 1.0) == Approx(0.6));
  state.fault = {};
  CHECK(actuate(spec, state, 0.8, 1.0) == Approx(0.8));
}
