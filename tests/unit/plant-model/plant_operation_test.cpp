// The demo plant as a whole: does it stand where a plant of its size should, and do its parts pull the right
// way? Numbers marked "change detector" were computed here; their bounds are wide on purpose.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/plant.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

struct Settled {
  Plant plant;
  State x;
  PlantOutputs out;
};

Settled settle(const Commands& u, const Ambient& air = afternoon(), const PlantParameters& p = bench(),
               int seconds = 1800) {
  Settled s{bench_plant(u, air, p), {}, {}};
  s.x = producing_state(p, air, 1073.15, 0.3);
  auto integrator = plant_integrator();
  run(s.plant, integrator, s.x, seconds);
  s.out = outputs(s.plant, s.x);
  return s;
}

const Settled& rated_point() {
  static const Settled point = settle(rated());
  return point;
}

}  // namespace

TEST_CASE("the demo plant at its rated point") {
  const PlantOutputs& o = rated_point().out;
  CHECK(o.oxygen_made * 3.6e6 == Approx(10.0).margin(0.1));  // g/h, Faraday: 8 cells, 4.19 A, 0.29848 g/(A h)
  CHECK(o.anode_gas[O2] > 0.98);                             // requirement on purity
  // change detectors, computed here:
  CHECK(o.cathode_pressure == Approx(55e3).margin(5e3));
  CHECK(o.bus_power > 180);
  CHECK(o.bus_power < 300);
  CHECK(o.utilisation == Approx(0.52).margin(0.06));
  CHECK(o.inlet_gas[CO] > 0.03);
  CHECK(o.inlet_gas[CO] < 0.08);
  for (const double V : o.cells.voltage) CHECK((V > 0.98 && V < 1.25));
  CHECK(o.min_margin > 0.03);
  CHECK(o.cells.worst_segment[o.worst_cell] == 5);  // the outlet
  CHECK(o.min_nickel_ratio > 3);
  CHECK(o.zone_temperature[2] == Approx(1073).margin(25));
}

TEST_CASE("masses close around the plant at rest in time") {
  // at steady state: oxygen made leaves through the product line; carbon in equals carbon out
  const auto& [plant, x, o] = rated_point();
  CHECK(o.oxygen_delivered == Approx(o.oxygen_made).epsilon(2e-3));
  const double carbon_in = o.intake_flow / plant.boundary().air_molar_mass *
                           (afternoon().composition[CO2] + afternoon().composition[CO]);
  const double M = 0.04401 * o.cathode_gas[CO2] + 0.02801 * o.cathode_gas[CO] + 0.02801 * o.cathode_gas[N2] +
                   0.03995 * o.cathode_gas[Ar] + 0.032 * o.cathode_gas[O2];
  const double carbon_out = o.exhaust_flow / M * (o.cathode_gas[CO2] + o.cathode_gas[CO]);
  CHECK(carbon_out == Approx(carbon_in).epsilon(5e-3));  // the rest leaks into the product
}

TEST_CASE("the current makes oxygen by Faraday's law, less what leaks as electrons") {
  const auto& [plant, x, o] = rated_point();
  const double faraday = 8 * x[at::current] / (4 * kFaraday) * 31.998e-3;
  CHECK(o.oxygen_made < faraday);
  CHECK(o.oxygen_made > 0.99 * faraday);  // sources quote current efficiencies of 0.97-1
}

TEST_CASE("the feed burns its oxygen before the cells, and what is left is a whole mixture") {
  // 2 CO + O2 -> 2 CO2 where the feed is hot (light-off around 700 K): three moles become two
  const auto& [plant, x, o] = rated_point();
  const Composition<double>&in = o.feed_gas, &at_stack = o.inlet_gas;
  REQUIRE(in[O2] > 1e-3);  // the air's 0.16 % by volume, and some CO to burn it
  REQUIRE(in[CO] > 2 * in[O2]);
  const double burnt = in[O2], left = 1 - burnt;
  CHECK(at_stack[CO] == Approx((in[CO] - 2 * burnt) / left).epsilon(5e-4));
  CHECK(at_stack[CO2] == Approx((in[CO2] + 2 * burnt) / left).epsilon(5e-4));
  CHECK(total(at_stack) == Approx(1.0).epsilon(1e-8));  // before: short by the burnt mole, 0.16 %
  // all cells empty into the cathode volume: its CO is the mean of the outlets, weighed by their flows
  double mean = 0, flow = 0;
  const auto& share = plant.parameters().stack.flow_share;
  for (std::size_t c = 0; c < kCells; ++c) {
    mean += share[c] * o.cells.outlet_co[c];
    flow += share[c];
  }
  CHECK(o.cathode_gas[CO] == Approx(mean / flow).epsilon(3e-4));
}

TEST_CASE("utilisation is the CO2 converted over the CO2 that the feed brings") {
  const PlantOutputs& o = rated_point().out;
  const auto& in = o.feed_gas;
  const double M = 0.0440095 * in[CO2] + 0.0280101 * in[CO] + 0.0319988 * in[O2] + 0.0280134 * in[N2] +
                   0.039948 * in[Ar];                           // kg/mol, standard atomic weights
  const double co2 = o.feed_flow / M * (in[CO2] + 2 * in[O2]);  // the oxygen burns to CO2 on the way
  CHECK(o.utilisation == Approx(2 * o.oxygen_made / 0.0319988 / co2).epsilon(1e-3));
  // at rest nothing is fed and nothing is converted: none
  Plant rest = bench_plant(Commands{});
  const State still = hot_state(rest.parameters(), afternoon(), 1073.15, 0.3);
  CHECK(outputs(rest, still).utilisation <= 0.0);  // the electronic leak burns a trace of CO
}

TEST_CASE("purity is the oxygen made over oxygen and leak") {
  const PlantOutputs& o = rated_point().out;
  const double oxygen = o.oxygen_made / 31.998e-3;
  CHECK(o.leak_flow > 0);  // the cathode stands above the anode
  CHECK(o.anode_gas[O2] == Approx(oxygen / (oxygen + o.leak_flow)).epsilon(1e-4));
  // by hand: a seal leak of 1e-12 kg/s/Pa at 10 kPa is 0.36 % of 10 g/h by mass
  CHECK(1e-12 * 10e3 * 3.6e6 / 10 == Approx(0.0036));
  PlantParameters cracked = bench();
  cracked.stack.crack_leak[4] = 1e-10;
  const PlantOutputs c = settle(rated(), afternoon(), cracked).out;
  CHECK(c.anode_gas[O2] < o.anode_gas[O2] - 0.003);
  CHECK(c.anode_gas[O2] ==
        Approx(c.oxygen_made / 31.998e-3 / (c.oxygen_made / 31.998e-3 + c.leak_flow)).epsilon(1e-3));
}

TEST_CASE("thin air lowers flow and pressure, speed makes up for it") {
  const PlantOutputs& o = rated_point().out;
  Ambient thin = afternoon();
  thin.pressure *= 0.75;
  const PlantOutputs low = settle(rated(), thin).out;
  CHECK(low.feed_flow < 0.85 * o.feed_flow);
  CHECK(low.cathode_pressure < 0.85 * o.cathode_pressure);
  CHECK(low.utilisation > o.utilisation);
  CHECK(low.min_margin < o.min_margin);
  Commands faster = rated();
  faster.compressor_speed = 540;
  const PlantOutputs made_up = settle(faster, thin).out;
  CHECK(made_up.feed_flow == Approx(o.feed_flow).epsilon(0.08));
  CHECK(made_up.compressor_power > o.compressor_power);
  Ambient warm = afternoon();
  warm.temperature += 40;  // the same pressure, less density
  CHECK(settle(rated(), warm).out.feed_flow < o.feed_flow);
}

TEST_CASE("cells of more resistance, less flow or lower temperature have less margin") {
  const auto& [plant, x, o] = rated_point();
  PlantParameters p = bench();
  p.stack.resistance_factor.fill(1.0);
  p.stack.flow_share.fill(1.0);
  State even = x;
  for (std::size_t i = 0; i < kStackNodes; ++i) even[at::stack + i] = 1073.15;
  Plant alike = bench_plant(rated(), afternoon(), p);
  const PlantOutputs base = outputs(alike, even);
  for (std::size_t c = 1; c < kCells; ++c)
    CHECK(base.cells.margin[c] == Approx(base.cells.margin[0]).margin(1e-6));
  p.stack.flow_share[2] = 0.92;
  Plant weak = bench_plant(rated(), afternoon(), p);
  const PlantOutputs starved = outputs(weak, even);
  CHECK(starved.worst_cell == 2);
  CHECK(starved.cells.voltage[2] > starved.cells.voltage[3]);
  p.stack.flow_share[2] = 1.0;
  p.stack.resistance_factor[5] = 1.3;
  Plant worn = bench_plant(rated(), afternoon(), p);
  // by hand: 0.3 * 0.175 ohm cm2 * 0.168 A/cm2 = 8.8 mV
  CHECK(outputs(worn, even).cells.voltage[5] == Approx(base.cells.voltage[5] + 0.0088).margin(0.001));
  State cold = even;
  for (std::size_t k = 0; k < kSegments; ++k) cold[at::stack + 4 * kSegments + k] -= 20;  // the last zone
  const PlantOutputs end = outputs(alike, cold);
  CHECK(end.worst_cell == 7);
  CHECK(end.cells.margin[7] < base.cells.margin[7] - 0.01);
  CHECK(end.gradient == Approx(20).margin(1e-9));
}

TEST_CASE("a plant left alone goes to the temperature and pressure of its surroundings") {
  Plant plant = bench_plant(Commands{});
  State x = hot_state(plant.parameters(), afternoon(), 1073.15, 0.3);
  plant.parameters().power.electronics = 0;
  auto integrator = plant_integrator();
  run(plant, integrator, x, 2 * 88775);  // two sols
  const PlantOutputs o = outputs(plant, x);
  CHECK(o.plenum_pressure == Approx(700).margin(5));
  CHECK(o.cathode_pressure == Approx(700).margin(5));
  CHECK(o.anode_pressure == Approx(700).margin(5));
  // housing: warmed by sun, cooled by sky; everything inside follows it
  const double house = x[at::housing];
  for (std::size_t i = 0; i < kImplicit; ++i) {
    if (state_table()[i].unit != "K") continue;
    INFO(state_table()[i].name);
    CHECK(x[i] == Approx(house).margin(3));
  }
  CHECK(house > 160);
  CHECK(house < 260);
}

TEST_CASE("a hot plant at rest never has less than no oxygen, and its voltage moves without stairs") {
  Commands heated;
  heated.end_power = {36, 36};
  Plant plant = bench_plant(heated, afternoon());
  State x = hot_state(bench(), afternoon(), 1073.15, 0.3);
  auto integrator = plant_integrator();
  run(plant, integrator, x, 600);  // what flows at first has come to rest
  double least = 1.0, step = 0.0, before = outputs(plant, x).cells.voltage[0];
  for (int minute = 0; minute < 120; ++minute) {
    run(plant, integrator, x, 60);
    const PlantOutputs o = outputs(plant, x);
    least = std::min({least, o.anode_gas[O2], o.cathode_gas[O2]});
    step = std::max(step, std::abs(o.cells.voltage[0] - before));
    before = o.cells.voltage[0];
  }
  CHECK(least > -1e-6);
  CHECK(step < 0.02);  // V in a minute
}

TEST_CASE("a plant of repeated cells is the same plant on a larger scale") {
  // ten cells for each modelled one, all flows, apertures, conductances and capacities times ten
  PlantParameters p = bench();
  p.stack.repeats = 10;
  const double k = 10;
  auto& c = p.compressor;
  for (double* v : {&p.filter.area,
                    &c.displacement,
                    &c.leakage,
                    &c.friction_torque,
                    &c.viscous_friction,
                    &c.inertia,
                    &c.shell_heat_capacity,
                    &c.shell_conductance,
                    &p.flow.plenum_volume,
                    &p.flow.cathode_volume,
                    &p.flow.anode_volume,
                    &p.flow.feed_conductance,
                    &p.flow.exhaust_aperture,
                    &p.flow.recycle_aperture,
                    &p.flow.product_aperture,
                    &p.flow.seal_leak,
                    &p.flow.back_diffusion,
                    &p.flow.feed_diffusion,
                    &p.flow.outlet_diffusion,

                    &p.heat.end_plate_heat_capacity,
                    &p.heat.manifold_heat_capacity,
                    &p.heat.preheater_heat_capacity,
                    &p.heat.inner_heat_capacity,
                    &p.heat.outer_heat_capacity,
                    &p.heat.plenum_heat_capacity,
                    &p.heat.axial_conductance,
                    &p.heat.end_conductance,
                    &p.heat.manifold_conductance,
                    &p.heat.side_loss,
                    &p.heat.end_loss,
                    &p.heat.manifold_loss,
                    &p.heat.preheater_loss,
                    &p.heat.inner_conductance,
                    &p.heat.outer_conductance,
                    &p.heat.recuperator_ua,
                    &p.heat.plenum_conductance,
                    &p.housing.area,
                    &p.housing.sunlit_area,
                    &p.housing.ground_conductance,
                    &p.housing.heat_capacity,
                    &p.power.electronics})
    *v *= k;
  Commands u = rated();
  u.end_power = {k * u.end_power[0], k * u.end_power[1]};
  u.preheater_power *= k;
  const PlantOutputs large = settle(u, afternoon(), p).out, small = rated_point().out;
  CHECK(large.oxygen_made == Approx(k * small.oxygen_made).epsilon(1e-3));
  CHECK(large.stack_voltage == Approx(k * small.stack_voltage).epsilon(1e-3));  // all in series
  CHECK(large.cathode_pressure == Approx(small.cathode_pressure).epsilon(1e-3));
  CHECK(large.bus_power == Approx(k * small.bus_power).epsilon(1e-3));
  CHECK(large.min_margin == Approx(small.min_margin).margin(5e-4));
}
