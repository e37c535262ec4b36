// The plant over an hour of production at dawn: our stepper against CVODE (SUNDIALS, BDF, order up to 5) on
// the same right-hand side. Checks the integration in time, not the model.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/cvode.hpp"
#include "tests/support/plant.hpp"
#include "tests/support/verification.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

/// Surroundings and commands as smooth functions of time: air warms by 40 K and thins, the sun comes up, the
/// controller raises the speed and follows a demand.
struct Dawn {
  Plant plant = bench_plant(rated());

  void set(double t) {
    const double u = 0.5 - 0.5 * std::cos(t * 3.14159265358979 / 3600);
    Ambient a = afternoon();
    a.pressure = 720 - 15 * u;
    a.temperature = 205 + 40 * u;
    a.ground_temperature = 200 + 45 * u;
    a.solar_elevation = 0.4 * u + 0.01;
    a.wind_speed = 4 + 2 * std::sin(t / 300);
    Commands c = rated();
    c.compressor_speed = 340 + 60 * u + 5 * std::sin(t / 40);
    c.stack_current = 4.0 + 0.2 * std::sin(t / 200);
    c.recycle_opening = 0.5 + 0.1 * std::sin(t / 500);
    plant.set_boundary(a, 0.0);
    plant.set_commands(c);
  }
  void operator()(const State& x, State& dxdt, double t) {
    set(t);
    plant(x, dxdt, t);
  }
  void jacobian(const State& x, double t, DenseMatrix& j) {
    set(t);
    plant.jacobian(x, t, j);
  }
};

State at_sunrise() {
  Dawn dawn;
  dawn.set(0);
  State x = production_state(dawn.plant);
  for (std::size_t i = kImplicit; i < kStates; ++i) x[i] = 0;
  return x;
}

/// What a difference is judged by: the value, but for amounts the content of the store, and for atoms that
/// crossed the boundary both ways those in the product, and for energy that of the bus.
double size_of(const State& x, std::size_t i) {
  if (store_of(i) < kStates) return 10 * natural_size(x, i);
  if (i >= kImplicit && i < kImplicit + at::energy) return 2 * x[kImplicit + at::product];
  if (i == kImplicit + at::energy) return x[kImplicit + at::bus_energy];
  return std::abs(x[i]);
}

}  // namespace

TEST_CASE("an hour of production at dawn agrees with CVODE") {
  const State start = at_sunrise();
  verify(
      {"all states after an hour of production at dawn", "CVODE 6.4.1 on the same right-hand side", 1e-6, ""},
      [&](Deviations& d) {
        Dawn ours, theirs;
        PlantIntegrator integrator = plant_integrator(1e-4, 1e-8);
        const State absolute = plant_tolerances(1e-6).absolute;
        State x = start;
        Cvode<Dawn, kStates, State> cvode(theirs, start, 0.0, 1e-10, absolute);
        for (int minute = 0; minute < 60; ++minute) {
          for (int s = 0; s < 60; ++s) {
            const double t = 60.0 * minute + s;
            REQUIRE(integrator.advance(ours, x, t, t + 1).ok());
          }
          if (minute % 10 != 9) continue;
          const State y = cvode.integrate(60.0 * (minute + 1));
          for (std::size_t i = 0; i < kImplicit + kQuadratures; ++i)
            d.absolute((x[i] - y[i]) / size_of(y, i), 0.0,
                       state_table()[i].name + " after " + std::to_string(minute + 1) + " min");
        }
      });
}

TEST_CASE("the tolerance of a run costs less than a tenth of a millivolt") {
  // the tolerances of the parts against tight ones, over the same hour: change detector, computed here
  Dawn usual, tight;
  PlantIntegrator loose = plant_integrator(), strict = plant_integrator(1e-3, 1e-7);
  State x = at_sunrise(), y = x;
  for (int s = 0; s < 3600; ++s) {
    REQUIRE(loose.advance(usual, x, s, s + 1).ok());
    REQUIRE(strict.advance(tight, y, s, s + 1).ok());
    if (s % 60 != 59) continue;
    const PlantOutputs a = outputs(usual.plant, x), b = outputs(tight.plant, y);
    for (std::size_t c = 0; c < kCells; ++c) {
      CHECK(std::abs(a.cells.voltage[c] - b.cells.voltage[c]) < 1e-4);
      CHECK(std::abs(a.cells.margin[c] - b.cells.margin[c]) < 1e-4);
    }
  }
}
