// The plant controller around simple modules, headers and a train that can surge (tests/support/outpost_stand_in.hpp).
#include <catch2/catch.hpp>

#include "tests/support/outpost_stand_in.hpp"

using duskline::test::OutpostRig;

namespace {

constexpr double kHour = 3600.0;

/// Six modules at 3 kg/h, in order for 15 min.
OutpostRig at_full_load() {
  OutpostRig rig;
  rig.run(900.0);
  REQUIRE(rig.out.mode == CTL_PLANT_PRODUCTION);
  rig.plant.least_margin = 1e9, rig.plant.across = 0.0;
  return rig;
}

/// The demand moves to a share of 3 kg/h over some time.
void ramp(OutpostRig& rig, double share, double seconds) {
  const double from = rig.demand, to = share * 3.0 / kHour;
  for (double t = 0.0; t < seconds; t += 1.0) {
    rig.demand = from + (to - from) * t / seconds;
    rig.step();
  }
  rig.demand = to;
}

}  // namespace

TEST_CASE("Six modules make 3 kg/h at their pressures") {
  OutpostRig rig = at_full_load();
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.005));
  CHECK(rig.plant.header == Approx(65e3).epsilon(0.005));
  CHECK(rig.plant.exhaust == Approx(55e3).epsilon(0.005));
  CHECK(rig.plant.product - rig.plant.exhaust == Approx(500.0).margin(100.0));
  CHECK(rig.plant.co == Approx(0.02).epsilon(0.02));
  CHECK(rig.out.anti_surge_opening == 0.0F);
  // the margin that the controller estimates from its map is that of the train
  CHECK(static_cast<double>(rig.out.surge_margin) == Approx(rig.plant.surge_margin()).margin(0.04));
  CHECK(rig.out.limiter == CTL_PLANT_BY_DEMAND);
  CHECK(rig.out.alarms_active == 0);
}

TEST_CASE("Turned down to 30 % and back the train does not surge and the cells keep their pressure") {
  OutpostRig rig = at_full_load();
  ramp(rig, 0.3, 300.0);
  rig.run(900.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(0.9).epsilon(0.06));  // one module at standby, protected
  CHECK(rig.out.anti_surge_opening > 0.1F);
  CHECK(rig.out.surge_margin == Approx(rig.params.surge_line).margin(0.03));  // the control line
  ramp(rig, 1.0, 300.0);
  rig.run(900.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.least_margin > 0.08);  // the line at which the valve opens fully
  CHECK(rig.plant.across < 2000.0);      // the limit is 5 kPa
  CHECK(rig.out.mode == CTL_PLANT_PRODUCTION);
}

TEST_CASE("Without its anti-surge valve the same plant surges and trips") {
  OutpostRig rig = at_full_load();
  rig.guarded = false;
  ramp(rig, 0.3, 300.0);
  const double tripped = rig.until(600.0, [&] { return rig.out.mode == CTL_PLANT_SAFE; });
  CHECK(rig.out.mode == CTL_PLANT_SAFE);
  CHECK(tripped >= 0.0);
  CHECK(rig.out.tripped == CTL_PLANT_SURGED);
  CHECK(rig.plant.reversals >= 2);
  CHECK(rig.out.compressor_speed == 0.0F);
  rig.run(600.0);
  CHECK(rig.plant.across < 5000.0);  // both outlet headers empty together
  CHECK(rig.plant.exhaust < 5000.0);
}

TEST_CASE("One module falls out and the others take its share") {
  OutpostRig rig = at_full_load();
  rig.demand = 2.7 / kHour;
  rig.run(300.0);
  rig.plant.module[2].mode = CTL_SAFE;
  rig.run(600.0);
  CHECK(rig.out.order[2].requested_mode == CTL_SAFE);
  CHECK(rig.plant.oxygen() * kHour == Approx(2.7).epsilon(0.01));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.least_margin > 0.0);
  CHECK(rig.plant.across < 5000.0);
  CHECK(rig.plant.header == Approx(65e3).epsilon(0.02));
}

TEST_CASE("All modules fall out in a moment: no surge while the machine runs on") {
  OutpostRig rig = at_full_load();
  for (auto& m : rig.plant.module) m.oxygen = 0.0;
  rig.demand = 0.0;
  rig.run(120.0);
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.out.mode == CTL_PLANT_PRODUCTION);
  CHECK(rig.plant.header < 85e3);
}

TEST_CASE("Under a sudden power ceiling the liquefier goes first, then the module with the least margin") {
  OutpostRig rig = at_full_load();
  rig.plant.module[1].margin = 0.03;
  rig.ceiling = 16000.0;  // of 22.7 kW
  rig.run(60.0);
  CHECK(rig.plant.bus_power() < 16000.0);
  CHECK((rig.out.shed & CTL_SHED_LIQUEFIER) != 0);
  CHECK((rig.out.shed & CTL_SHED_HEAT) == 0);
  CHECK(rig.plant.module[1].oxygen < 0.7 * rig.plant.module[0].oxygen);
  for (const auto& m : rig.plant.module) CHECK(m.heating == Approx(150.0));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.across < 5000.0);
  rig.ceiling = 40000.0;
  rig.run(900.0);
  CHECK(rig.out.shed == CTL_SHED_NOTHING);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
}

TEST_CASE("A surge of demand from a third to all is followed without a trip") {
  OutpostRig rig = at_full_load();
  ramp(rig, 0.35, 200.0);
  rig.run(600.0);
  rig.demand = 3.0 / kHour;
  rig.run(600.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.across < 5000.0);
}

TEST_CASE("An aged module with little margin gets less, and the demand is met") {
  OutpostRig rig;
  rig.demand = 2.4 / kHour;
  rig.plant.module[4].margin = 0.02, rig.plant.module[4].age = 3e-5;
  rig.run(3000.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(2.4).epsilon(0.01));
  // weight (0.4 + 0.6/3)/1.5 = 0.4 of the others: shares 0.4/5.4 and 1/5.4 of 2.4 kg/h
  CHECK(rig.plant.module[4].oxygen * kHour == Approx(2.4 * 0.4 / 5.4).epsilon(0.02));
  CHECK(rig.plant.module[0].oxygen * kHour == Approx(2.4 / 5.4).epsilon(0.02));
}

TEST_CASE("From cold to production under a ceiling that heats two modules at a time, and off again") {
  OutpostRig rig;
  for (auto& m : rig.plant.module) m.temperature = 250.0, m.mode = CTL_OFF, m.warming = 1.0;
  rig.plant.header = rig.plant.exhaust = rig.plant.product = 700.0;
  rig.plant.co = rig.plant.speed = rig.plant.flow = 0.0;
  rig.ceiling = 9000.0;
  int heating = 0;
  const double hot = rig.until(1500.0, [&] {
    int now = 0;
    for (const auto& m : rig.plant.module) now += m.mode == CTL_WARM_UP ? 1 : 0;
    heating = std::max(heating, now);
    return rig.out.mode == CTL_PLANT_PRODUCTION;
  });
  CHECK(hot > 600.0);
  CHECK(heating == 2);
  CHECK(rig.plant.reversals == 0);
  rig.ceiling = 40000.0;
  rig.run(4000.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
  rig.request = CTL_PLANT_OFF;
  CHECK(rig.until(3000.0, [&] { return rig.out.mode == CTL_PLANT_OFF; }) > 0.0);
  CHECK(rig.out.tripped == 0);
  CHECK(rig.plant.across < 5000.0);
  CHECK(rig.out.compressor_speed == 0.0F);
}
