// Other laws for parts of the plant, each against its source.
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/compressors/scroll.hpp"
#include "tests/support/column_case.hpp"
#include "tests/support/plant.hpp"
#include "tests/support/variants.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

/// Steady under the rated commands: an hour after a warm start, with `ageing` ohm m2 on each cell.
PlantOutputs after_an_hour(const Variants& variants, double ageing = 0.0) {
  PlantParameters p = bench();
  p.variants = variants;
  Plant plant = bench_plant(rated(), afternoon(), p);
  State x = producing_state(p, afternoon(), 1073.15, 0.3);
  for (std::size_t c = 0; c < kCells; ++c) slow_of(x)[at::ageing + c] = ageing;
  auto integrator = plant_integrator();
  run(plant, integrator, x, 3600);
  return outputs(plant, x);
}

/// Voltage of a segment at 3000 A/m2, 800 degC, 1 bar O2, 0.5 bar CO2 of 1 bar, with `ageing` ohm m2.
double aged_voltage(int variant, double ageing) {
  const PlantParameters p = bench();
  Variants v;
  v.drift = variant;
  auto chemistry = segment_chemistry(p.cell, kReferenceTemperature, 0.0, 1.0);
  double resistance = chemistry.resistance + ageing;
  if (variant != kOhmicDrift)
    drift<double>({p.stack, p.cell, p.degradation, p.flow.back_diffusion, v}, 1.0, ageing, chemistry,
                  resistance);
  return polarisation(chemistry, resistance, kDriftDensity, 0.5, 0.5, 1.0).voltage;
}

}  // namespace

TEST_CASE("gas under a rib: the thin-layer result of diffusion with a sink, and no share below zero") {
  // one-dimensional diffusion under a rib of half-width b = 0.5 mm in a layer of 0.15 mm with an even sink: drop at the
  // middle b^2/(2 h) = 0.833 mm of straight diffusion, its mean 2/3 of that (parabola); 40 % of the cell is covered
  const RibTransport ribs = rib_transport(60e-6);
  CHECK(ribs.middle * 60e-6 == Approx(0.8333e-3).epsilon(1e-3));
  CHECK(ribs.mean * 60e-6 == Approx(0.4 * 2.0 / 3.0 * 0.8333e-3).epsilon(1e-3));
  // cosh(phi) with phi^2 = 2 drop/w (a sink in proportion to w): 1/cosh(phi) = 1 - phi^2/2 + 5 phi^4/24
  for (const double drop : {1e-4, 1e-3, 1e-2}) {
    const double exact = 0.3 / std::cosh(std::sqrt(2.0 * drop / 0.3));
    CHECK(under_rib(0.6, 0.3, drop).w == Approx(exact).margin(0.3 * (drop / 0.3) * (drop / 0.3)));
  }
  for (const double drop : {-1e3, -0.1, 0.0, 0.1, 1e3}) {
    const LocalGas<double> gas = under_rib(0.6, 0.3, drop);
    CHECK(gas.u >= 0.0);
    CHECK(gas.w >= 0.0);
    CHECK(gas.u + gas.w == Approx(0.9));
  }
}

TEST_CASE("carbon at the electrolyte where the bulk limit sees none") {
  // Tao, Ebbesen and Mogensen, J. Power Sources 2016: carbon next to the electrolyte at 1.5 A/cm2 and at most 67 %
  // conversion, where the bulk gas would have needed above 99 %. Here CO2 alone; assumed: 800 degC, 1 bar, a thin
  // electrolyte (10 um) on 0.3 mm of nickel cermet, half of which the gas passes on the mean.
  CellParameters cell = demo_cell();
  cell.electrolyte_thickness = 10e-6;
  cell.cathode_exchange = 8000;
  cell.diffusion_length = 150e-6;
  cell.overpotential_share = 0.5;  // a potential profile in the electrode: half of it reaches the electrolyte
  constexpr double kDensity = 15000, kInlet = 0.1;
  // the flow at which 67 % of the CO2 is converted
  const double flow = kDensity * cell.area / (2 * kFaraday) / (0.67 * (1 - kInlet));
  const auto in =
      column_of<double>(cell, Plain{1073.15, kDensity * cell.area, flow, kInlet, 1 - kInlet, 1, 0.21});
  const auto& outlet = in.chemistry[kSegments - 1];
  const double u = kInlet + 0.67 * (1 - kInlet), w = 1 - u;
  CHECK(carbon_activity(outlet.log_boudouard, u, w, 1.0) < 0.5);  // the bulk limit: none
  ColumnInputs<Pack> packed =
      column_of<Pack>(cell, Plain{1073.15, kDensity * cell.area, flow, kInlet, 1 - kInlet, 1, 0.21});
  packed.ribs = rib_transport(cell.diffusion_length);
  for (auto& chemistry : packed.chemistry)
    chemistry.diffusion = chemistry.diffusion * (1.0 + packed.ribs.mean);
  ColumnCurrents<Pack> solved = cold_start();
  for (int n = 0; n < 3; ++n) solve_columns(packed, solved);
  const Composition<Pack> feed{Pack(1 - kInlet), Pack(kInlet), Pack(0.0), Pack(0.0), Pack(0.0)};
  std::array<Pack, kSegments> T;
  T.fill(Pack(1073.15));
  const March<Pack> gas = march(packed, solved, T, Pack(flow), feed, feed);
  const Pack m = 1.0 / (2.0 * kFaraday * packed.flow);
  const auto local = carbon_limit(cell, packed, solved, gas, m, kSegments - 1, true);
  CHECK(local.margin[0] < 0.0);  // carbon there
}

TEST_CASE("ribs cost some tens of millivolts of margin and a few of voltage at the rated point") {
  Variants ribs;
  ribs.transport = kRibs;
  const PlantOutputs usual = after_an_hour({}), ribbed = after_an_hour(ribs);
  // 10-30 mV: docs/models/plant.md, an estimate from practice
  CHECK(usual.min_margin - ribbed.min_margin > 8e-3);
  CHECK(usual.min_margin - ribbed.min_margin < 32e-3);
  CHECK(ribbed.stack_voltage > usual.stack_voltage);
}

TEST_CASE("kinetic drift and loss of contact raise the voltage as ohmic drift does at 3000 A/m2") {
  const double age = 1.5e-6;  // ohm m2: 15 mohm cm2, 1000 h (plant file)
  const double before = aged_voltage(kOhmicDrift, 0.0);
  CHECK(aged_voltage(kOhmicDrift, age) - before == Approx(age * kDriftDensity));
  for (const int drift : {+kKineticDrift, +kContactLoss}) {
    CHECK(aged_voltage(drift, 0.0) == Approx(before).epsilon(1e-12));
    CHECK(aged_voltage(drift, age) - before == Approx(age * kDriftDensity).epsilon(0.03));  // linear in g
  }
  // kinetic drift brings carbon nearer, as ohmic drift does not: the overpotential of the cathode grows
  Variants kinetic;
  kinetic.drift = kKineticDrift;
  CHECK(after_an_hour(kinetic, 5 * age).min_margin < after_an_hour({}, 5 * age).min_margin - 2e-3);
}

TEST_CASE("without a cooler the pressure rises as the root of the temperature at the aperture") {
  Variants hot;
  hot.exhaust = kHotExhaust;
  const PlantOutputs usual = after_an_hour({}), warm = after_an_hour(hot);
  const double ratio = warm.cathode_pressure / usual.cathode_pressure;
  // ISO 9300: n = A p/sqrt(M R T) f at the critical ratio; flows change a little with the pressure
  const double expected = std::sqrt(warm.exhaust_temperature / usual.truth.housing_temperature) *
                          warm.exhaust_flow / usual.exhaust_flow;
  CHECK(ratio == Approx(expected).epsilon(0.02));
  CHECK(ratio > 1.03);
  CHECK(warm.min_margin < usual.min_margin);
}

TEST_CASE("friction that grows with the load is the usual one at the rated pressure") {
  CHECK(load_factor(41e3) == Approx(1.0));
  CHECK(load_factor(0.0) == Approx(0.4));
  CHECK(load_factor(82e3) == Approx(1.6));
}

TEST_CASE("all laws of the insulation pass the same heat at work and differ when cold") {
  for (const WorkingTemperatures& at : {kInnerAtWork, kOuterAtWork}) {
    const double usual = insulation_by(kOpacified, at, 0.1, 1.0, at.hot, at.cold);
    for (const int law : {+kConducting, +kRadiating})
      CHECK(insulation_by(law, at, 0.1, 1.0, at.hot, at.cold) == Approx(usual));
    const double cold = insulation_by(kOpacified, at, 0.1, 1.0, 250.0, 240.0);
    CHECK(insulation_by(kConducting, at, 0.1, 1.0, 250.0, 240.0) > cold);
    // Stefan-Boltzmann: between bodies at nearly one temperature the conductance is 4 k T^3
    const double k = usual * (at.hot - at.cold) / (std::pow(at.hot, 4) - std::pow(at.cold, 4));
    CHECK(insulation_by(kRadiating, at, 0.1, 1.0, 250.0, 250.0) == Approx(4 * k * std::pow(250.0, 3)));
  }
}

TEST_CASE("each variant changes something, and the usual plant has none") {
  const double usual = after_an_hour({}).bus_power;
  for (const NamedVariants& v : all_variants()) {
    INFO(v.name);
    if (v.variants.drift != kOhmicDrift) continue;  // an hour does not age
    CHECK(std::abs(after_an_hour(v.variants).bus_power - usual) > 1e-3);
  }
}
