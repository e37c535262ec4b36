// Carbon, nickel oxide and ageing: they form where they should, act on the cell, heal and leave damage.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/stack/ageing.hpp"
#include "plant-model/stack/crack.hpp"
#include "tests/support/plant.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

double largest(const State& x, std::size_t first) {
  const double* slow = x.data() + kImplicit + kQuadratures;
  return *std::max_element(slow + first, slow + first + kCells);
}
State rates_of(Plant& plant, const State& x) {
  State f;
  plant(x, f, 0.0);
  return f;
}

}  // namespace

TEST_CASE("at the rated point no carbon and no oxide forms") {
  Plant plant = bench_plant(rated());
  State x = production_state(plant);
  CHECK(largest(x, at::carbon) < 1e-12);
  CHECK(largest(x, at::oxide) < 1e-12);
  CHECK(largest(x, at::carbon_damage) < 1e-9);
}

TEST_CASE("a starved stack grows carbon, in the weakest cell most, and heals with a scar") {
  Plant plant = bench_plant(rated());
  State x = production_state(plant);
  Commands slow = rated();
  slow.compressor_speed = 150;  // less CO2 than the current asks for
  plant.set_commands(slow);
  auto integrator = plant_integrator();
  run(plant, integrator, x, 900);
  const PlantOutputs during = outputs(plant, x);
  CHECK(during.min_margin < 0);
  CHECK(largest(x, at::carbon) > 1e-8);
  const double* carbon = slow_of(x) + at::carbon;
  CHECK(std::max_element(carbon, carbon + kCells) - carbon == static_cast<std::ptrdiff_t>(during.worst_cell));
  const double formed = largest(x, at::carbon), scar = largest(x, at::carbon_damage);
  CHECK(scar > 0);
  // standby: flow without current removes the carbon, the scar stays to the last bit
  Commands standby = rated();
  standby.stack_current = 0;
  plant.set_commands(standby);
  run(plant, integrator, x, 6 * 3600);
  CHECK(largest(x, at::carbon) < 0.2 * formed);
  CHECK(largest(x, at::carbon_damage) >= scar);
  CHECK(largest(x, at::carbon_damage) < 1.01 * scar + 1e-9);
  plant.set_commands(rated());
  run(plant, integrator, x, 1800);
  CHECK(std::isfinite(outputs(plant, x).stack_voltage));
}

TEST_CASE("carbon raises the resistance of its cell and chokes its flow") {
  Plant plant = bench_plant(rated());
  State x = production_state(plant);
  const PlantOutputs clean = outputs(plant, x);
  const double reference = plant.parameters().degradation.carbon_reference;
  slow_of(x)[at::carbon + 3] = 0.2 * reference;
  const PlantOutputs fouled = outputs(plant, x);
  CHECK(fouled.cells.voltage[3] > clean.cells.voltage[3] + 0.005);
  CHECK(fouled.cells.outlet_co[3] > clean.cells.outlet_co[3] + 0.01);  // less flow, more conversion
  CHECK(fouled.cells.margin[3] < clean.cells.margin[3]);
  for (const std::size_t other : {0u, 1u, 2u, 4u, 5u, 6u, 7u})  // the others get the flow that it lacks
    CHECK(fouled.cells.outlet_co[other] < clean.cells.outlet_co[other]);
  // by definition of the reference amount: the resistance doubles
  CHECK(resistance_rise(plant.parameters().degradation, reference, 0, 0) == Approx(2));
  CHECK(flow_remaining(plant.parameters().degradation, reference, 0) == Approx(0.5));
}

TEST_CASE("hot nickel oxidises in pure CO2 and is protected by a few per cent of CO") {
  // equilibrium ratio 0.0061 at 800 degC: 3 % CO is five times enough; none is too little
  Commands blow;
  blow.end_power = {36, 36};
  blow.compressor_speed = 300;  // air through the hot stack, no recycle, no current
  Plant plant = bench_plant(blow);
  State x = hot_state(plant.parameters(), afternoon(), 1073.15, 0.3);
  auto integrator = plant_integrator();
  run(plant, integrator, x, 900);
  CHECK(outputs(plant, x).min_nickel_ratio < 1);
  const double oxidised = largest(x, at::oxide), scar = largest(x, at::oxide_damage);
  CHECK(oxidised > 1e-6);
  CHECK(scar > 0);
  const auto f = rates_of(plant, x);
  CHECK(f[kImplicit + kQuadratures + at::oxide] > 0);
  // the same flow with a small current and recycle, which bring CO to the inlet
  Commands protective = blow;
  protective.stack_current = 1.0;
  protective.recycle_opening = 1.0;
  Plant guarded = bench_plant(protective);
  State safe = producing_state(guarded.parameters(), afternoon(), 1073.15, 0.3);
  run(guarded, integrator, safe, 900);
  CHECK(outputs(guarded, safe).min_nickel_ratio > 2);
  CHECK(largest(safe, at::oxide) < 1e-9);
  // that gas takes the oxide away, not the scar
  State healed = safe;
  for (std::size_t c = 0; c < kCells; ++c) {
    slow_of(healed)[at::oxide + c] = oxidised;
    slow_of(healed)[at::oxide_damage + c] = scar;
  }
  run(guarded, integrator, healed, 3600);
  CHECK(largest(healed, at::oxide) < 0.2 * oxidised);
  CHECK(largest(healed, at::oxide_damage) == Approx(scar).epsilon(1e-12));
}

TEST_CASE("in production the inlet of the cells sees the feed and no gas of the cathode volume") {
  // 4e-4 mol/s of feed against an exchange of 2e-6 mol/s at no flow: e^-200 comes back. The ratio of the coldest
  // inlet is then that of the feed over the equilibrium of nickel at its temperature (thermochemistry).
  Plant plant = bench_plant(rated());
  const State x = production_state(plant);
  const PlantOutputs o = outputs(plant, x);
  double worst = 1e9;
  for (std::size_t z = 0; z < kZones; ++z) {
    const double limit = std::exp(log_nickel_oxidation(x[at::stack + z * kSegments]));
    worst = std::min(worst, o.inlet_gas[CO] / o.inlet_gas[CO2] / limit);
  }
  CHECK(o.min_nickel_ratio == Approx(worst).epsilon(1e-4));  // with the exchange at full strength 3-13 % more
}

TEST_CASE("a cell cracks at the difference that it stands, and leaks from then on") {
  // by definition of the parameters: crack_gradient, crack_pressure, crack_size
  PlantParameters p = bench();
  const double K = p.stack.crack_gradient, Pa = p.stack.crack_pressure;
  CHECK_FALSE(overloaded(p.stack, 0.999 * K, 0.999 * Pa));
  CHECK(overloaded(p.stack, K, 0.0));
  CHECK(overloaded(p.stack, 0.0, Pa));
  const double before = total_leak(p.flow.seal_leak, p.stack);
  CHECK(before == p.flow.seal_leak);  // the demo plant starts whole
  p.stack.repeats = 3;
  crack(p.stack, 2);
  CHECK(total_leak(p.flow.seal_leak, p.stack) == Approx(before + 3 * p.stack.crack_size).epsilon(1e-14));
}

TEST_CASE("nothing reacts in the cold") {
  Plant plant = bench_plant(Commands{});
  State x = cold_state(plant.parameters(), afternoon(), 0.0, 0.0);
  const State f = rates_of(plant, x);
  for (std::size_t c = 0; c < kCells; ++c) {
    CHECK(std::abs(f[kImplicit + kQuadratures + at::carbon + c]) < 1e-15);
    CHECK(std::abs(f[kImplicit + kQuadratures + at::oxide + c]) < 1e-15);
  }
}

TEST_CASE("current and heating cycles age the cells as their parameters say") {
  Plant plant = bench_plant(rated());
  State x = production_state(plant);
  PlantParameters& p = plant.parameters();
  p.degradation.cycle_ageing = 0;
  State f = rates_of(plant, x);
  // 15 mohm cm2 per 1000 h at 0.3 A/cm2, in proportion to the current
  const double density = x[at::current] / p.cell.area;
  CHECK(f[kImplicit + kQuadratures + at::ageing] * 3.6e6 * 1e4 * 1e3 ==
        Approx(15 * density / 3000).epsilon(0.02));
  // a cycle of 780 K up and down at 1 K/min, without current, costs one cycle_ageing
  p.degradation.cycle_ageing = 4e-7;
  p.degradation.ageing_rate = 0;
  std::array<double, kImplicit> heating{};
  for (std::size_t i = 0; i < kStackNodes; ++i) heating[at::stack + i] = 1.0 / 60;
  StackMemory memory;
  std::array<double, kSlow> slow;
  slow_rates<kSegments>(p.degradation, p.cell, p.stack, x[at::current], memory, heating.data(), slow.data());
  CHECK(slow[at::ageing] * 2 * 780 * 60 == Approx(4e-7).epsilon(1e-9));
  // ten times as fast, beyond 2 K/min: a hundred times a quarter as harmful per kelvin
  for (std::size_t i = 0; i < kStackNodes; ++i) heating[at::stack + i] = 10.0 / 60;
  slow_rates<kSegments>(p.degradation, p.cell, p.stack, x[at::current], memory, heating.data(), slow.data());
  CHECK(slow[at::ageing] * 2 * 78 * 60 == Approx(25 * 4e-7).epsilon(1e-9));
}

TEST_CASE("dust gathers on the filter by the volume drawn") {
  // mass = concentration * volume flow * efficiency; 7e-8 kg/m3 at about 1 L/s: 0.25 g per 1000 h
  Plant plant = bench_plant(rated());
  State x = production_state(plant);
  State f;
  PlantOutputs out{};
  plant.observe(x, f, out);
  const double density = 700 * plant.boundary().air_molar_mass / (kGasConstant * 240);
  CHECK(f[kImplicit + kQuadratures + at::dust] ==
        Approx(0.9997 * 7e-8 * out.intake_flow / density).epsilon(1e-9));
  // and lowers the suction pressure
  Plant dusty = bench_plant(rated());
  dusty.set_boundary(afternoon(), 0.01);
  CHECK(outputs(dusty, x).suction_pressure < out.suction_pressure - 20);
}
