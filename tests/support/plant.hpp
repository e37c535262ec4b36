// The demo plant in states that tests start from.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

#include "plant-model/integrate/advance.hpp"
#include "plant-model/plant.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "tests/support/places.hpp"

namespace duskline::tests {

inline plant::PlantParameters bench() {
  auto file = scenarios::read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/bench.yaml");
  if (!file.value) throw std::runtime_error("bench.yaml does not read");
  return file.value->parameters;
}

/// A mild afternoon.
inline plant::Ambient afternoon() {
  plant::Ambient a;
  a.pressure = 700;
  a.temperature = 240;
  a.wind_speed = 5;
  a.sky_temperature = 160;
  a.ground_temperature = 245;
  a.optical_depth = 0.4;
  a.dust_concentration = 7e-8;
  a.solar_elevation = 0.5;
  a.composition = {0.951, 0.0007, 0.0016, 0.0264, 0.0203};
  return a;
}

/// Commands near the rated point.
inline plant::Commands rated() {
  plant::Commands u;
  u.compressor_speed = 390;
  u.stack_current = 4.19;  // 10 g/h over eight cells: 33.5 A / 8
  u.end_power = {36, 36};
  u.preheater_power = 8;
  u.recycle_opening = 0.5;
  return u;
}

inline plant::Plant bench_plant(const plant::Commands& u, const plant::Ambient& a = afternoon(),
                                const plant::PlantParameters& p = bench()) {
  plant::Plant plant(p);
  plant.set_boundary(a, 0.0);
  plant.set_commands(u);
  return plant;
}

using PlantIntegrator = plant::IntegratorOn<plant::State>;

/// One row per entry of the state of the demo plant, in order.
inline const std::vector<plant::StateInfo>& state_table() {
  static const std::vector<plant::StateInfo> table = plant::Network().layout().table();
  return table;
}
inline plant::State no_state() {
  return plant::State(plant::kStates);
}

inline plant::TolerancesOf<plant::State> plant_tolerances(double scale = 1, double relative = 1e-4) {
  plant::TolerancesOf<plant::State> tolerances{{}, relative};
  for (const plant::StateInfo& info : state_table()) tolerances.absolute.push_back(scale * info.tolerance);
  return tolerances;
}
inline PlantIntegrator plant_integrator(double scale = 1, double relative = 1e-4) {
  return PlantIntegrator(plant::Method::linearly_implicit, plant::Network().layout().division(),
                         plant_tolerances(scale, relative));
}

/// Advances by `seconds` ticks of 1 s; throws with the reason where the integration ends.
inline void run(plant::Plant& plant, PlantIntegrator& integrator, plant::State& x, int seconds) {
  for (int n = 0; n < seconds; ++n) {
    const plant::Advance done = integrator.advance(plant, x, n, n + 1);
    if (!done.ok())
      throw std::runtime_error(std::string(plant::word(done.reason)) + " at " +
                               state_table()[done.state].name);
  }
}

inline plant::PlantOutputs outputs(plant::Plant& plant, const plant::State& x) {
  plant::State rates;
  plant::PlantOutputs out{};
  plant.observe(x, rates, out);
  return out;
}

/// Rates at x with the inner solution iterated until only round-off is left.
inline plant::State settled_rates(plant::Plant& plant, const plant::State& x) {
  plant::State rates;
  for (int n = 0; n < 3; ++n) plant(x, rates, 0.0);
  return rates;
}

/// The slow part of the state.
inline double* slow_of(plant::State& x) {
  return x.data() + plant::kImplicit + plant::kQuadratures;
}

/// Half an hour of production after a warm start, near the rated point.
inline plant::State production_state(plant::Plant& plant) {
  plant::State x = plant::producing_state(plant.parameters(), plant.boundary().ambient, 1073.15, 0.3);
  auto integrator = plant_integrator();
  run(plant, integrator, x, 1800);
  return x;
}

/// A plant with commands, and a state that it may be in.
struct Situation {
  std::string name;
  plant::Plant plant;
  plant::State x;
};

/// Cold, hot standby, production, production with the compressor slowed, and gas that flows the wrong way.
inline std::vector<Situation> situations() {
  std::vector<Situation> all;
  const plant::PlantParameters p = bench();
  const plant::Ambient air = afternoon();
  plant::Commands rest;
  all.push_back({"cold", bench_plant(rest), plant::cold_state(p, air, 0.0, 0.3)});
  plant::Commands standby = rated();
  standby.stack_current = 0;
  standby.compressor_speed = 200;
  Situation hot{"hot standby", bench_plant(standby), plant::hot_state(p, air, 1073.15, 0.3)};
  auto integrator = plant_integrator();
  run(hot.plant, integrator, hot.x, 600);
  all.push_back(hot);
  Situation production{"production", bench_plant(rated()), {}};
  production.x = production_state(production.plant);
  all.push_back(production);
  Situation starved = production;
  starved.name = "starved";
  plant::Commands slow = rated();
  slow.compressor_speed = 120;
  starved.plant.set_commands(slow);
  auto another = plant_integrator();
  run(starved.plant, another, starved.x, 30);  // later nothing is left to convert, and no slope means much
  all.push_back(starved);
  Situation reverse = production;  // the plenum empty, the anode full: every link against its usual way
  reverse.name = "reverse flows";
  for (std::size_t i = 0; i < plant::kSpecies; ++i) {
    reverse.x[plant::at::plenum + i] *= 0.1;
    reverse.x[plant::at::anode + i] *= 1.5;
    reverse.x[plant::at::cathode + i] *= 0.9;
  }
  reverse.x[plant::at::speed] = 5;
  all.push_back(reverse);
  Situation below =
      hot;  // stores below ambient pressure: air enters through exhaust, product line and filter
  below.name = "air drawn in";
  for (const std::size_t store : {+plant::at::plenum, +plant::at::cathode, +plant::at::anode})
    for (std::size_t i = 0; i < plant::kSpecies; ++i) below.x[store + i] *= 0.01;
  all.push_back(below);
  return all;
}

/// First entry of the gas store that entry i belongs to; kStates: it is no amount of gas.
constexpr std::size_t store_of(std::size_t i) {
  for (const std::size_t store : {+plant::at::plenum, +plant::at::cathode, +plant::at::anode})
    if (i >= store && i < store + plant::kSpecies) return store;
  return plant::kStates;
}

/// By how much an implicit entry moves in a matter of minutes: a tenth of what a store holds, 100 K, 1 A, 50 W.
inline double natural_size(const plant::State& x, std::size_t i) {
  namespace at = plant::at;
  if (const std::size_t store = store_of(i); store < plant::kStates) {
    double all = 0;
    for (std::size_t k = 0; k < plant::kSpecies; ++k) all += x[store + k];
    return 0.1 * all;
  }
  if (i == at::current) return 1;
  if (i > at::current && i < at::recycle_opening) return 50;
  return i == at::recycle_opening ? 0.5 : 100;
}

/// A repeatable sequence in [0, 1): the additive recurrence of the golden ratio.
struct Golden {
  double x = 0.25;
  double operator()() {
    x += 0.61803398874989484820;
    if (x >= 1) x -= 1;
    return x;
  }
  double between(double a, double b) { return a + (b - a) * (*this)(); }
};

/// x with every entry moved: amounts by up to 20 %, temperatures by 40 K, actuators by a tenth, slow states
/// by what a bad day does.
inline plant::State shaken(plant::State x, Golden& next) {
  namespace at = plant::at;
  for (const std::size_t store : {+at::plenum, +at::cathode, +at::anode})
    for (std::size_t i = 0; i < plant::kSpecies; ++i) x[store + i] *= next.between(0.8, 1.2);
  x[at::speed] *= next.between(0.9, 1.1);
  for (std::size_t i = at::current; i < at::stack; ++i) x[i] *= next.between(0.9, 1.1);
  for (std::size_t i = at::stack; i < at::module_end; ++i) x[i] += next.between(-40, 40);
  for (const std::size_t i : {+at::housing, +at::shell, +at::plenum_wall}) x[i] += next.between(-40, 40);
  double* slow = slow_of(x);
  for (std::size_t c = 0; c < plant::kCells; ++c) {
    slow[at::carbon + c] += next.between(0, 5e-5);
    slow[at::oxide + c] += next.between(0, 1e-3);
    slow[at::ageing + c] += next.between(0, 2e-6);
  }
  return x;
}

}  // namespace duskline::tests
