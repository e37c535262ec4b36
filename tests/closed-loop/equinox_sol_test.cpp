// A sol with dawn and dusk under both laws. Bounds: the demand within half the class of the product meter (1 %), the
// design's margin_setpoint of 30 mV for the regulating law, zero margin for the other; computed here by running both.
#include <catch2/catch.hpp>
#include <cstdio>

#include "tests/support/folder.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

constexpr const char* kSol = "dawn-dusk/equinox-sol.yaml";

double energy_per_oxygen(const harness::Figures& f) {  // J/kg
  return f.production_energy / f.oxygen_in_production;
}

/// The row of the page says what this version does, to its last digit.
void check_page(const harness::Figures& f, double settled) {
  const std::string page = bytes_of(DUSKLINE_SOURCE_DIR "/docs/models/controller.md");
  const std::string name = "| cascade, 65 % utilisation (the default) | ";
  const auto row = page.find(name);
  REQUIRE(row != page.npos);
  double least = 0.0, then = 0.0, energy = 0.0, power = 0.0;
  const int read = std::sscanf(page.c_str() + row + name.size(),
                               "%lf mV at the start, %lf after the first hour | 00:00 | %lf kWh/kg | %lf W",
                               &least, &then, &energy, &power);
  REQUIRE(read == 4);
  CHECK(least == Approx(1e3 * f.coke_margin.value).margin(1.0));
  CHECK(then == Approx(1e3 * settled).margin(1.0));
  CHECK(energy == Approx(energy_per_oxygen(f) / 3.6e6).margin(0.1));
  CHECK(power == Approx(f.production_energy / f.time_in_mode[CTL_PRODUCTION]).margin(2.0));
}

}  // namespace

TEST_CASE("over a sol the regulating law keeps oxygen and margin where a fixed speed loses both") {
  double settled = 1.0;  // V, least margin after the first hour
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) {
    if (s.time >= 3600.0) settled = std::min(settled, s.coke_margin);
  };
  const auto cascade = run_shipped(kSol, {}, options), fixed = run_shipped(kSol, {"controller.law=fixed"});
  REQUIRE(cascade.end.reason == plant::RunEnd::reached_end);
  REQUIRE(fixed.end.reason == plant::RunEnd::reached_end);
  const double demanded = cascade.figures.oxygen_demanded;

  CHECK(cascade.figures.oxygen_made == Approx(demanded).epsilon(0.005));
  CHECK(cascade.figures.coke_margin.value > 0.030);
  CHECK(cascade.figures.nickel_ratio.value > 1.5);
  CHECK(cascade.figures.carbon_greatest == 0.0);
  CHECK(cascade.figures.time_in_mode[CTL_SAFE] == 0.0);
  check_page(cascade.figures, settled);

  CHECK(fixed.figures.coke_margin.value < 0.0);
  CHECK(fixed.figures.time_below_onset > 60.0);
  CHECK(fixed.figures.carbon_greatest > 0.0);
  CHECK(fixed.figures.oxygen_made < 0.9 * demanded);
}

TEST_CASE("a fixed speed that keeps the margin through the thinnest air costs a tenth more energy") {
  // 379 rad/s is what 65 % utilisation takes at the least density of the sol, 0.01236 kg/m3 (read from the
  // trace)
  const auto cascade = run_shipped(kSol);
  const auto careful = run_shipped(kSol, {"controller.law=fixed", "controller.table[1].speed=379 rad/s"});
  CHECK(careful.figures.coke_margin.value > 0.030);
  CHECK(energy_per_oxygen(careful.figures) > 1.10 * energy_per_oxygen(cascade.figures));
}
