// The table of states and the initial states: names, tolerances, bounds, pressures and inventories.
#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "tests/support/plant.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

double pressure(const PlantParameters& p, const State& x, std::size_t store) {
  double n = 0;
  for (std::size_t i = 0; i < kSpecies; ++i) n += x[store + i];
  const double volume = store == at::plenum    ? p.flow.plenum_volume
                        : store == at::cathode ? p.flow.cathode_volume
                                               : p.flow.anode_volume;
  return n * kGasConstant * x[store == at::plenum ? +at::plenum_wall : +at::manifold] / volume;
}

}  // namespace

TEST_CASE("every state has a name of its own, a tolerance and a range") {
  const auto& table = state_table();
  REQUIRE(table.size() == kStates);
  std::set<std::string> names;
  for (const StateInfo& info : table) {
    INFO(info.name);
    CHECK(names.insert(info.name).second);
    CHECK_FALSE(info.unit.empty());
    CHECK(info.tolerance > 0);
    CHECK(info.lower < info.upper);
  }
}

TEST_CASE("names in the table stand where the offsets say") {
  const auto& table = state_table();
  const Layout layout = Network().layout();
  CHECK(layout.division().implicit == kImplicit);
  CHECK(layout.first_slow() == kImplicit + kQuadratures);
  for (std::size_t i = 0; i < kStates; ++i) CHECK(layout.index(table[i].name) == i);
  CHECK(table[at::plenum + O2].name == "plenum.O2");
  CHECK(table[at::cathode + CO].name == "cathode.CO");
  CHECK(table[at::anode + Ar].name == "anode.Ar");
  CHECK(table[at::speed].name == "compressor.speed");
  CHECK(table[at::recycle_opening].name == "recycle.opening");
  CHECK(table[at::stack + 29].name == "stack.temperature[30]");
  CHECK(table[at::end_plate + 1].name == "end_plate.temperature[2]");
  CHECK(table[at::outer_insulation].name == "outer_insulation.temperature");
  CHECK(table[at::plenum_wall].name == "plenum_wall.temperature");
  CHECK(table[at::shell].name == "shell.temperature");
  CHECK(table[at::housing].name == "housing.temperature");
  CHECK(table[kImplicit + at::energy].name == "boundary.energy");
  CHECK(table[kImplicit + at::bus_energy].name == "boundary.bus_energy");
  CHECK(table[kImplicit + kQuadratures + at::carbon].name == "cell.carbon[1]");
  CHECK(table[kImplicit + kQuadratures + at::ageing + 7].name == "cell.ageing[8]");
  CHECK(table[kImplicit + kQuadratures + at::dust].name == "filter.dust");
}

TEST_CASE("initial states lie inside their ranges and are at the pressures they claim") {
  const PlantParameters p = bench();
  const Ambient air = afternoon();
  const State cold = cold_state(p, air, 0.0, 0.3), warm = cold_state(p, air, 500.0, 0.3),
              hot = hot_state(p, air, 1073.15, 0.3), working = producing_state(p, air, 1073.15, 0.3);
  for (const State* x : {&cold, &warm, &hot, &working})
    for (std::size_t i = 0; i < kStates; ++i) {
      INFO(state_table()[i].name);
      CHECK(std::isfinite((*x)[i]));
      CHECK((*x)[i] >= state_table()[i].lower);
      CHECK((*x)[i] <= state_table()[i].upper);
    }
  for (const State* x : {&cold, &warm, &hot})
    for (const std::size_t store : {+at::plenum, +at::cathode, +at::anode})
      CHECK(pressure(p, *x, store) == Approx(700).epsilon(1e-12));  // ideal gas at ambient pressure
  CHECK(cold[at::stack] == 240);
  CHECK(warm[at::stack] == 500);
  CHECK(warm[at::housing] == 240);
  CHECK(hot[at::stack + 17] == 1073.15);
  CHECK(pressure(p, working, at::cathode) > 40e3);
  CHECK(working[at::current] > 0);
}

TEST_CASE("equal starts give equal bits, copies go on as the original") {
  Plant one = bench_plant(rated()), two = bench_plant(rated());
  State x = producing_state(one.parameters(), afternoon(), 1073.15, 0.3), y = x;
  auto a = plant_integrator(), b = plant_integrator();
  run(one, a, x, 300);
  run(two, b, y, 300);
  CHECK(x == y);
  Plant copy = one;
  auto c = a;
  State z = x;
  run(one, a, x, 300);
  run(copy, c, z, 300);
  CHECK(x == z);
}

TEST_CASE("what lies within the limits and cannot be run is reported, and what can be run is run") {
  CHECK(check(bench()).empty());
  PlantParameters p = bench();
  p.stack.zone[2] = 1.5;  // no cell lies between zones
  auto problems = check(p);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].path == "stack.zone");
  CHECK(problems[0].item == 3);
  CHECK(problems[0].message == "is no zone; expected a whole number from 0 to 4");
  p = bench();
  for (double& zone : p.stack.zone)
    if (zone == 3) zone = 2;
  problems = check(p);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].item == 0);
  CHECK(problems[0].message == "leaves zone 3 without a cell; each of the zones 0 to 4 needs one");
  p = bench();
  p.stack.repeats = 1.5;
  REQUIRE(check(p).size() == 1);
  CHECK(check(p)[0].path == "stack.repeats");
  // seals without any leak are none of these: the plant runs (its Jacobian was not finite before)
  p = bench();
  p.flow.seal_leak = 0.0;
  CHECK(check(p).empty());
  Plant tight = bench_plant(Commands{}, afternoon(), p);
  State x = hot_state(p, afternoon(), 1073.15, 0.3);
  auto integrator = plant_integrator();
  run(tight, integrator, x, 60);
  CHECK(std::isfinite(outputs(tight, x).stack_voltage));
}
