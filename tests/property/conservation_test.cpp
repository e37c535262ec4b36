// Atoms and energy: exact in the right-hand side and in its Jacobian, kept by the stepper over thousands of
// ticks, whatever the state and whichever way the gas flows.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/parts/stack_module.hpp"
#include "tests/support/plant.hpp"
#include "tests/support/variants.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

constexpr std::size_t kSlowAt = kImplicit + kQuadratures;

/// Largest imbalance of any element, relative to the sum of the sizes of all terms and what flows through (at
/// rest the terms are differences of flows, and round-off is that of the flows).
double atom_imbalance(Plant& plant, const State& x, const State& f) {
  const PlantParameters& p = plant.parameters();
  const PlantOutputs out = outputs(plant, x);
  // mol/s; at rest half the width of the intake's rounding (suction.hpp) passes the filter in both directions
  const double through = (std::abs(out.feed_flow) + std::abs(out.intake_flow)) / 0.04 + 0.5e-7;
  double worst = 0;
  for (std::size_t e = 0; e < kElements; ++e) {
    double sum = -f[kImplicit + at::atoms + e], size = std::abs(sum) + through;
    const auto add = [&](double term) {
      sum += term;
      size += std::abs(term);
    };
    for (const std::size_t store : {+at::plenum, +at::cathode, +at::anode})
      for (std::size_t i = 0; i < kSpecies; ++i) add(kAtoms[i][e] * f[store + i]);
    for (std::size_t c = 0; c < kCells; ++c) {
      if (e == kCarbon) add(p.stack.repeats * f[kSlowAt + at::carbon + c]);
      if (e == kOxygen) add(p.stack.repeats * f[kSlowAt + at::oxide + c]);
    }
    worst = std::max(worst, std::abs(sum) / size);
  }
  return worst;
}

/// d/dt of Plant::energy along f, from its own gradient (analytic, written independently), and the sum of the
/// sizes of its terms.
std::array<double, 2> energy_rate(const PlantParameters& p, const State& x, const State& f) {
  double sum = 0, size = 0;
  const auto add = [&](double term) {
    sum += term;
    size += std::abs(term);
  };
  const auto gas = [&](std::size_t store, double T, double dT) {
    for (std::size_t i = 0; i < kSpecies; ++i) {
      add(f[store + i] * (enthalpy(kGasFits[i], T) - kGasConstant * T));
      add(x[store + i] * (heat_capacity(kGasFits[i], T) - kGasConstant) * dT);
    }
  };
  gas(at::plenum, x[at::plenum_wall], f[at::plenum_wall]);
  gas(at::cathode, x[at::manifold], f[at::manifold]);
  gas(at::anode, x[at::manifold], f[at::manifold]);
  for (std::size_t c = 0; c < kCells; ++c)
    for (std::size_t k = 0; k < kSegments; ++k)
      add(p.stack.repeats * p.cell.heat_capacity / static_cast<double>(kSegments) *
          f[at::stack + static_cast<std::size_t>(p.stack.zone[c]) * kSegments + k]);
  for (std::size_t e = 0; e < kEnds; ++e) add(p.heat.end_plate_heat_capacity * f[at::end_plate + e]);
  add(p.heat.manifold_heat_capacity * f[at::manifold]);
  add(p.heat.preheater_heat_capacity * f[at::preheater]);
  add(p.heat.inner_heat_capacity * f[at::inner_insulation]);
  add(p.heat.outer_heat_capacity * f[at::outer_insulation]);
  add(p.housing.heat_capacity * f[at::housing]);
  add(p.compressor.shell_heat_capacity * f[at::shell]);
  add(p.heat.plenum_heat_capacity * f[at::plenum_wall]);
  for (std::size_t c = 0; c < kCells; ++c) {
    add(p.stack.repeats * kCarbonEnthalpy * f[kSlowAt + at::carbon + c]);
    add(p.stack.repeats * kOxideEnthalpy * f[kSlowAt + at::oxide + c]);
  }
  return {sum, size};
}

}  // namespace

TEST_CASE("atoms balance exactly in the right-hand side, whichever way the gas flows") {
  Golden next;
  for (Situation& s : situations()) {
    INFO(s.name);
    for (int n = 0; n < 20; ++n) {
      const State x = n == 0 ? s.x : shaken(s.x, next);
      State f;
      s.plant(x, f, 0.0);
      CHECK(1e15 * atom_imbalance(s.plant, x, f) < 10);
    }
  }
}

TEST_CASE("atoms balance exactly in a stack that repeats its cells, cracked and aged") {
  PlantParameters p = bench();
  p.stack.repeats = 37;
  p.stack.crack_leak[3] = 1e-9;
  Golden next;
  for (const Situation& s : situations()) {
    INFO(s.name);
    Plant plant(p);
    plant.set_boundary(afternoon(), 1e-4);
    plant.set_commands(s.plant.commands());
    for (int n = 0; n < 5; ++n) {
      const State x = shaken(s.x, next), f = settled_rates(plant, x);
      CHECK(1e15 * atom_imbalance(plant, x, f) < 10);
      const auto [rate, size] = energy_rate(p, x, f);
      CHECK(std::abs(rate - f[kImplicit + at::energy]) < 1e-9 * size);
    }
  }
}

TEST_CASE("atoms balance in the Jacobian: the stepper cannot lose them") {
  for (Situation& s : situations()) {
    INFO(s.name);
    DenseMatrix j(kImplicit + kQuadratures, kImplicit);
    s.plant.jacobian(s.x, 0.0, j);
    for (std::size_t column = 0; column < kImplicit; ++column)
      for (std::size_t e = 0; e < kElements; ++e) {
        double sum = -j(kImplicit + at::atoms + e, column), size = std::abs(sum);
        for (const std::size_t store : {+at::plenum, +at::cathode, +at::anode})
          for (std::size_t i = 0; i < kSpecies; ++i) {
            const double term = kAtoms[i][e] * j(store + i, column);
            sum += term;
            size += std::abs(term);
          }
        if (!(std::abs(sum) <= 1e-13 * size + 1e-30))
          FAIL(kElementNames[e] << " by " << state_table()[column].name << ": " << sum << " of " << size);
      }
  }
  SUCCEED("all columns balance");
}

TEST_CASE("energy balances in the right-hand side, whichever way the gas flows") {
  Golden next;
  for (Situation& s : situations()) {
    for (int n = 0; n < 20; ++n) {
      INFO(s.name << ", shaken " << n << " times");
      const State x = n == 0 ? s.x : shaken(s.x, next), f = settled_rates(s.plant, x);
      const auto [rate, size] = energy_rate(s.plant.parameters(), x, f);
      CHECK(std::abs(rate - f[kImplicit + at::energy]) < 1e-9 * size);
      // the gradient used here is that of Plant::energy: difference along f, error of the order of rounding
      State up = x, down = x;
      const double h = 1e-4;
      for (std::size_t i = 0; i < kStates; ++i) {
        up[i] += h * f[i];
        down[i] -= h * f[i];
      }
      const double along = (s.plant.energy(up) - s.plant.energy(down)) / (2 * h);
      CHECK(along == Approx(rate).margin(1e-6 * size + 1e-9 * std::abs(s.plant.energy(x)) / h * 1e-6));
    }
  }
}

TEST_CASE("atoms and energy balance under every law that a part may have") {
  Golden next;
  for (Situation& s : situations())
    for (const NamedVariants& v : all_variants()) {
      INFO(s.name << ", " << v.name);
      s.plant.parameters().variants = v.variants;
      for (int n = 0; n < 5; ++n) {
        const State x = n == 0 ? s.x : shaken(s.x, next), f = settled_rates(s.plant, x);
        CHECK(1e15 * atom_imbalance(s.plant, x, f) < 10);
        const auto [rate, size] = energy_rate(s.plant.parameters(), x, f);
        CHECK(std::abs(rate - f[kImplicit + at::energy]) < 1e-9 * size);
      }
    }
}

TEST_CASE("a correction for new commands is the change of the right-hand side") {
  for (Situation& s : situations()) {
    INFO(s.name);
    State f, direct;
    PlantOutputs out{};
    for (int n = 0; n < 3; ++n) s.plant.observe(s.x, f, out);
    Commands u = rated();
    u.compressor_speed = 300;
    u.end_power = {10, 50};
    s.plant.set_commands(u);
    s.plant.command_rates(s.x, f);
    direct = settled_rates(s.plant, s.x);
    for (std::size_t i = 0; i < kStates; ++i) {
      INFO(state_table()[i].name);
      CHECK(f[i] == Approx(direct[i]).epsilon(1e-6).margin(1e-6 * state_table()[i].tolerance));
    }
  }
}

TEST_CASE("what the recuperator takes from the exhaust the feed gets, and the insulation nothing") {
  Plant plant = bench_plant(rated());
  const State x = production_state(plant);
  const PlantOutputs out = outputs(plant, x);
  const double given = out.recuperator_given;
  CHECK(given > 5);  // W: 4e-4 mol/s that cool by some 700 K at 40 J/mol/K are 11 W
  CHECK(std::abs(given - out.recuperator_taken) < 1e-3 * given);  // before: up to 1.1 W
}

TEST_CASE("an hour of ticks with moving commands keeps atoms and energy") {
  Plant plant = bench_plant(rated());
  State x = producing_state(plant.parameters(), afternoon(), 1073.15, 0.3);
  const auto atoms = plant.atoms(x);
  const double energy = plant.energy(x);
  auto integrator = plant_integrator();
  double turnover = 0;  // J and mol that crossed the boundary, to judge by
  Ambient air = afternoon();
  for (int tick = 0; tick < 3600; ++tick) {
    Commands u = rated();
    u.stack_current = tick / 300 % 2 == 0 ? 4.19 : 1.0;
    u.compressor_speed = tick / 700 % 2 == 0 ? 390 : 180;
    u.recycle_opening = tick / 500 % 2 == 0 ? 0.5 : 0.0;
    if (tick > 3000) u = Commands{};  // everything off: the plant blows down
    air.pressure = 700 + 60 * std::sin(tick * 2e-3);
    air.temperature = 240 - 30 * std::sin(tick * 1.5e-3);
    plant.set_boundary(air, slow_of(x)[at::dust]);
    plant.set_commands(u);
    const Advance done = integrator.advance(plant, x, tick, tick + 1);
    REQUIRE(done.ok());
    turnover = std::max(turnover, std::abs(x[kImplicit + at::bus_energy]));
  }
  const auto after = plant.atoms(x);
  for (std::size_t e = 0; e < kElements; ++e) {
    INFO(kElementNames[e]);
    const double imbalance = after[e] - atoms[e] - x[kImplicit + at::atoms + e];
    CHECK(std::abs(imbalance) < 1e-9 * (atoms[e] + std::abs(x[kImplicit + at::atoms + e])));
  }
  const double lost = plant.energy(x) - energy - x[kImplicit + at::energy];
  CHECK(std::abs(lost) < 1e-6 * turnover);
}
