// The parts of the plant controller, with numbers worked out by hand from the equations in their heads.
#include "tests/support/bare_plant_controller.hpp"

using namespace duskline::test;

TEST_CASE("The map gives the flow at surge for a pressure ratio, corrected for the suction") {
  // half of the way between the rows of 86.2 and 140.2
  CHECK(surge_flow_at(kParams, 113.2F) == Approx(0.5 * (3.82e-3 + 4.65e-3)));
  CHECK(surge_flow_at(kParams, 0.5F) == Approx(2.01e-3));  // the first row
  CHECK(surge_flow_at(kParams, 1e4F) == Approx(6.27e-3));  // the last
  // half the pressure halves the flow, four times the temperature halves it too: m = m_c p/p_0 sqrt(T_0/T)
  CHECK(flow_correction(kParams, {350.0F, 240.0F}) == Approx(2.0));
  CHECK(flow_correction(kParams, {700.0F, 960.0F}) == Approx(2.0));
  CHECK(speed_share(kParams, {700.0F, 960.0F}, 3764.0F) == Approx(0.5));
  // 1 - 7 0.1^2 beyond surge
  CHECK(ratio_at(kParams, 1.0F, 1.1F * 4.65e-3F) == Approx(140.2 * 0.93).epsilon(1e-4));
}

TEST_CASE("The feed-forward of the speed is the map turned round") {
  for (const float flow : {1e-3F, 3e-3F, 4.4e-3F})
    for (const float ratio : {20.0F, 93.0F, 105.0F}) {
      const float share = share_for(kParams, ratio, flow);
      const float through = std::max(flow, (1.0F + kParams.surge_line) * surge_flow_at(kParams, ratio));
      CHECK(ratio_at(kParams, share, through) == Approx(ratio).epsilon(1e-3));
    }
  // swept volume: n = 2 pi m R T/(M p V eta) = 2 pi 4.4e-3 8.314 240/(0.04335 700 2e-3 0.85)
  ctl_plant_params lobe = kParams;
  lobe.intake = CTL_INTAKE_LOBE;
  CHECK(speed_feed_forward(lobe, {700.0F, 240.0F}, 4.4e-3F, 65000.0F) == Approx(1069.4).epsilon(1e-3));
  lobe.intake = CTL_INTAKE_FREEZER;
  CHECK(speed_feed_forward(lobe, {700.0F, 240.0F}, 4.4e-3F, 65000.0F) == 0.0F);
}

TEST_CASE("What comes back warms the suction") {
  PlantSignals y{};
  y.value[rd_ambient_pressure] = y.value[rd_suction_pressure] = 650.0F;
  y.value[rd_ambient_temperature] = 200.0F, y.value[rd_compressor_flow] = 4e-3F;
  const Returned back{1e-3F, 1e-3F * 300.0F};
  CHECK(suction_of(y, back).temperature == Approx(225.0F));  // (3*200 + 1*300)/4
  CHECK(suction_of(y, {}).temperature == 200.0F);
  CHECK(suction_of(y, {5e-3F, 5e-3F * 300.0F}).temperature == Approx(300.0F));  // no air at all
  y.lost = 1U << rd_compressor_flow;
  CHECK(suction_of(y, back).temperature == 200.0F);
}

TEST_CASE("Opening and share of the open flow are the inverse of each other") {
  ctl_plant_params p = kParams;
  for (const float rangeability : {0.0F, 50.0F}) {
    p.valve_rangeability = rangeability;
    for (const float share : {0.03F, 0.3F, 1.0F}) CHECK(share_at(p, opening_for(p, share)) == Approx(share));
    CHECK(share_at(p, 0.0F) == 0.0F);
  }
}

TEST_CASE("What a kind of intake does not have is neither held nor tripped") {
  for (const uint32_t kind : {CTL_INTAKE_CENTRIFUGAL, CTL_INTAKE_LOBE, CTL_INTAKE_FREEZER}) {
    ctl_plant_params p = kParams;
    p.intake = kind;
    Bare b(6, p);
    b.step(20);
    b.in.compressor_flow = 1e-3F;  // far left of the surge line
    b.step(3);
    CHECK((b.out.anti_surge_opening == 1.0F) == (kind == CTL_INTAKE_CENTRIFUGAL));
    CHECK((b.out.compressor_speed > 0.0F) == (kind != CTL_INTAKE_FREEZER));
    b.in.compressor_vibration = 100.0F;
    b.step(3);
    CHECK((b.out.mode == CTL_PLANT_SAFE) == (kind != CTL_INTAKE_FREEZER));
  }
}

TEST_CASE("Weights follow margin and age") {
  // no margin 0.4, half of it 0.7, all of it 1; 6e-5 ohm m2 halves
  CHECK(wanted_weight(kParams, producing(1e-4F, 0.0F)) == Approx(0.4));
  CHECK(wanted_weight(kParams, producing(1e-4F, 0.03F)) == Approx(0.7));
  CHECK(wanted_weight(kParams, producing(1e-4F, 0.2F)) == Approx(1.0));
  CHECK(wanted_weight(kParams, producing(1e-4F, 0.2F, 6e-5F)) == Approx(0.5));
}

TEST_CASE("The demand is poured in proportion to the weights until a bound is met") {
  Bounds b{};
  b.in = 0b111;
  b.weight[0] = 1.0F, b.weight[1] = 1.0F, b.weight[2] = 2.0F;
  for (uint32_t k = 0; k < 3; ++k) b.lower[k] = 1.0F, b.upper[k] = 10.0F;
  const Shares free = pour(b, 12.0F);  // 3, 3, 6
  CHECK(free.of[0] == Approx(3.0));
  CHECK(free.of[2] == Approx(6.0));
  const Shares full = pour(b, 24.0F);  // the third stands at 10, 7 for each of the others
  CHECK(full.of[2] == Approx(10.0));
  CHECK(full.of[0] == Approx(7.0));
  const Shares low = pour(b, 3.5F);  // 1, 1 at the lower bound, 1.5
  CHECK(low.of[0] == Approx(1.0));
  CHECK(low.of[2] == Approx(1.5));
  CHECK(sum_of(pour(b, 100.0F)) == Approx(30.0));
  CHECK(sum_of(pour(b, 0.0F)) == Approx(3.0));
}

TEST_CASE("Below what all modules need at least, the one with the least weight stays at standby") {
  Bare b(6);
  b.in.module[4].coke_margin = 0.01F;
  b.in.oxygen_demand = 6.0F * 0.3F * 1.6e-4F;  // just enough for six at their turndown
  b.step(2000);
  CHECK(b.out.producing == 0b111111);
  b.in.oxygen_demand *= 0.9F;
  b.step(1000);
  CHECK(b.out.producing == 0b101111);
  CHECK(b.out.order[4].requested_mode == CTL_STANDBY);
  CHECK(b.out.order[4].oxygen_demand == 0.0F);
  CHECK(share_sum(b.out) == Approx(b.in.oxygen_demand).epsilon(1e-4));
}

TEST_CASE("A module that is at its limit is trusted with what it makes, and slowly with more again") {
  Bare b(6);
  b.in.oxygen_demand = 9e-4F;
  b.step(300);
  CHECK(b.out.order[2].oxygen_demand == Approx(1.5e-4).epsilon(1e-3));
  b.in.module[2].limiter = CTL_BY_COKE_MARGIN;  // it makes 1e-4
  b.step(300);
  CHECK(b.out.capacity[2] == Approx(1.02e-4).epsilon(1e-2));
  // the others, at most 1.6e-4 each, take over: 0.9e-3 - 1.02e-4 for five
  CHECK(b.out.order[0].oxygen_demand == Approx((9e-4 - 1.02e-4) / 5.0).epsilon(1e-2));
  b.in.module[2].limiter = CTL_BY_DEMAND;
  b.step(900);  // half of capacity_recovery: half of all
  CHECK(b.out.capacity[2] == Approx(1.6e-4));
}

TEST_CASE("Power is taken from the liquefier, then from the module with the least margin, heaters last") {
  const ctl_plant_params& p = kParams;
  ModulesSeen seen{};
  Shares wanted{};
  ctl_plant_inputs in = inputs(3);
  in.module[1].coke_margin = 0.02F;
  seen = see_modules(in);
  PlantSignalMemory sm = initial_plant_signals();
  in.product_flow = 3e-4F;  // 1620 W of the liquefier
  for (uint32_t k = 0; k < 3; ++k) in.module[k].power = 100.0F + 1790.0F / 1.05F;
  seen = see_modules(in);
  in.bus_power = seen.power + 2000.0F;  // and 2000 W of others
  const PlantSignals y = read_plant(sm, p, in);
  for (uint32_t k = 0; k < 3; ++k) wanted.of[k] = 1e-4F;  // 1790 W each, and 100 W of heaters
  const auto run = [&](PowerMemory& m, float ceiling) { return share_power(m, p, y, seen, wanted, ceiling); };
  PowerMemory m{};
  const PowerView none = run(m, NAN);
  CHECK(std::isnan(none.ceiling.of[0]));
  CHECK(none.share.of[1] == 1e-4F);
  // needed 3 (1790 + 100) = 5670 W; available 7000 - 300 - 2000 = 4700 W: the liquefier's 1620 W are enough
  m = {};
  const PowerView mild = run(m, 7000.0F);
  CHECK(m.shed == CTL_SHED_LIQUEFIER);
  CHECK(mild.share.of[1] == 1e-4F);
  // a ceiling of 5500 W: deficit 5670 - 3200 - 1620 = 850 W, all of it from module 2
  m = {};
  const PowerView strong = run(m, 5500.0F);
  CHECK((m.shed & CTL_SHED_CURRENT) != 0);
  CHECK((m.shed & CTL_SHED_HEAT) == 0);
  CHECK(strong.share.of[1] == Approx(1e-4 - 850.0 / 1.79e7).epsilon(1e-3));
  CHECK(strong.share.of[0] == 1e-4F);
  CHECK(strong.ceiling.of[0] == Approx(1890.0));
  // its margin rises with less current: it is still the one that gives way
  in.module[1].coke_margin = 0.2F;
  seen = see_modules(in);
  CHECK(run(m, 5500.0F).share.of[1] < 0.6e-4F);
  // no more than what is left for heat: the protective current of each stays, heaters give way last
  m = {};
  const PowerView bare = run(m, 1000.0F);
  for (uint32_t k = 0; k < 3; ++k) CHECK(bare.share.of[k] == Approx(1e-5));
  CHECK((m.shed & CTL_SHED_HEAT) != 0);
}

TEST_CASE("A module that gave way to a power ceiling comes back slowly, and is counted with what it takes") {
  const ctl_plant_params& p = kParams;
  ctl_plant_inputs in = inputs(2);
  in.product_flow = 0.0F;
  PlantSignalMemory sm = initial_plant_signals();
  PowerMemory m{};
  const Shares wanted{{1e-4F, 1e-4F}};
  // two modules that take 1.2e7 J/kg and 100 W of heaters; the first one gives way
  const auto tick = [&](float ceiling, float share, float heating) {
    for (uint32_t k = 0; k < 2; ++k) {
      ctl_module_report& r = in.module[k];
      r.oxygen_rate = k == 0 ? share : 1e-4F;
      r.heating = heating;
      r.power = heating + 1.2e7F * r.oxygen_rate;
      r.coke_margin = k == 0 ? 0.02F : 0.06F;
    }
    const ModulesSeen seen = see_modules(in);
    in.bus_power = seen.power + 500.0F;
    return share_power(m, p, read_plant(sm, p, in), seen, wanted, ceiling);
  };
  for (int n = 0; n < 300; ++n) tick(NAN, 1e-4F, 100.0F);
  CHECK(m.energy[0] == Approx(1.05 * 1.2e7).epsilon(1e-3));
  // 2 (1260 + 100) = 2720 W are needed and 2400 - 300 - 500 = 1600 W left: 1120 W from the first, at once
  const PowerView cut = tick(2400.0F, 1e-4F, 100.0F);
  CHECK(cut.share.of[0] == Approx(1e-4 - 1120.0 / 1.26e7).epsilon(5e-3));
  CHECK(cut.share.of[1] == 1e-4F);
  // heaters that are cut by the ceiling of their module go on to be counted
  const PowerView still = tick(2400.0F, 1e-5F, 0.0F);
  CHECK(still.share.of[0] < 1.5e-5F);
  CHECK(still.ceiling.of[0] > 90.0F + 1e-5F * m.energy[0]);
  // room again: it comes back by share_rate a tick, the other is not moved
  const PowerView room = tick(6000.0F, 1e-5F, 100.0F);
  CHECK(room.share.of[0] == Approx(static_cast<double>(still.share.of[0] + p.share_rate * p.period)));
  CHECK(room.share.of[1] == 1e-4F);
}

TEST_CASE("The CO that is wanted follows the nickel limit of the hottest module") {
  // exp(0.29288 - 5781.13/1073.15) = 6.13e-3; 1.5 times that is less than the least set-point of 0.02
  CHECK(co_wanted(kParams, 1073.15F) == Approx(0.02));
  ctl_plant_params p = kParams;
  p.protection_factor = 5.0F;  // 0.951 0.03066/1.03066
  CHECK(co_wanted(p, 1073.15F) == Approx(0.0283).epsilon(5e-3));
}

TEST_CASE("Set-points of the outlet headers keep the pressure across the cells within its band") {
  Bare b(6);
  b.in.product_header_pressure = 20000.0F;
  b.in.exhaust_header_pressure = 23000.0F;
  b.step();
  CHECK(b.out.exhaust_setpoint == Approx(24000.0));  // 4 kPa above the product, not 55 kPa
  CHECK(b.out.product_setpoint == Approx(23500.0));  // 0.5 kPa above the exhaust
  b.in.product_header_pressure = 80000.0F;
  b.step();
  CHECK(b.out.exhaust_setpoint == Approx(55000.0));
}

TEST_CASE("Cold modules start one after the other where the power is short, else together") {
  const auto started = [](float ceiling) {
    Bare b(4);
    b.in.compressor_speed = 0.0F, b.in.compressor_flow = 0.0F;
    b.in.feed_header_pressure = b.in.discharge_pressure = 700.0F;
    b.in.exhaust_header_pressure = b.in.product_header_pressure = 700.0F;
    for (uint32_t k = 0; k < 4; ++k) {
      b.in.module[k] = producing(0.0F);
      b.in.module[k].mode = CTL_OFF;
      b.in.module[k].temperature = b.in.module[k].hottest = 250.0F;
      b.in.module[k].power = b.in.module[k].heating = 0.0F;
    }
    b.in.bus_power = 500.0F;
    b.in.power_ceiling = ceiling;
    b.step(5);
    int n = 0;
    for (const auto& o : b.out.order) n += o.requested_mode == CTL_STANDBY ? 1 : 0;
    return n;
  };
  CHECK(started(NAN) == 4);
  CHECK(started(4500.0F) == 1);  // 4500 - 300 - 500 = 3700 W: one of 3000 W
  CHECK(started(7500.0F) == 2);
  CHECK(started(2000.0F) == 1);  // short for one, and nobody heats: it heats slowly
}

TEST_CASE("Orders and reports pass between plant and module") {
  ctl_plant_inputs plant = inputs(2);
  ctl_plant_outputs orders{};
  orders.order[1] = {1.2e-4F, 1800.0F, 1.0F, CTL_PRODUCTION};
  plant.module[1].power = 1500.0F;
  ctl_inputs in{};
  in.bus_power = NAN;
  ctl_plant_orders_to_module(&plant, &orders, 1, &in);
  CHECK(in.requested_mode == CTL_PRODUCTION);
  CHECK(in.oxygen_demand == 1.2e-4F);
  CHECK(in.power_ceiling == 1800.0F);
  CHECK(in.plenum_pressure == 65000.0F);
  CHECK(in.ambient_pressure == 700.0F);
  CHECK(in.bus_power == 1500.0F);
  CHECK(in.inlet_co_fraction == plant.feed_header_co_fraction);

  ctl_params params;
  ctl_default_params(&params);
  ctl_outputs out{};
  out.preheater_power = 10.0F, out.end_power[0] = out.end_power[1] = 19.4F;  // 48.8 W over 0.98
  out.mode = CTL_STANDBY, out.coke_margin = 0.07F;
  for (float& v : in.cell_voltage) v = 1.0F;
  in.stack_current = 4.6F;  // 8 V 4.6 A over 0.92 = 40 W
  for (uint32_t k = 0; k < CTL_ZONES; ++k) in.zone_temperature[k] = 1050.0F + static_cast<float>(k);
  ctl_module_report report{};
  ctl_plant_report_of_module(&params, &in, &out, &report);
  CHECK(report.heating == Approx(48.8 / 0.98));
  CHECK(report.power == Approx(40.0 + 48.8 / 0.98));
  params.cells_per_tap = 6.0F;
  ctl_plant_report_of_module(&params, &in, &out, &report);
  CHECK(report.power == Approx(240.0 + 48.8 / 0.98));
  CHECK(report.temperature == 1050.0F);
  CHECK(report.hottest == 1054.0F);
  CHECK(report.mode == CTL_STANDBY);
  CHECK(report.coke_margin == 0.07F);
}

TEST_CASE("Bad parameters and a wrong version are refused with safe outputs") {
  ctl_plant_params p = kParams;
  ctl_plant_state state{};
  ctl_plant_outputs out{};
  const ctl_plant_inputs in = inputs(2);
  p.period = NAN;
  CHECK(ctl_plant_init(&state, &p) == CTL_BAD_PARAMETER);
  p = kParams;
  p.map_ratio[3] = p.map_ratio[2];
  CHECK(ctl_plant_init(&state, &p) == CTL_BAD_PARAMETER);
  p = kParams;
  p.intake = CTL_INTAKES;
  CHECK(ctl_plant_init(&state, &p) == CTL_BAD_PARAMETER);
  REQUIRE(ctl_plant_init(&state, &kParams) == CTL_OK);
  state.abi_version = 99;
  CHECK(ctl_plant_step(&state, &kParams, &in, &out) == CTL_BAD_VERSION);
  CHECK(out.mode == CTL_PLANT_SAFE);
  CHECK(out.exhaust_opening == 1.0F);
  CHECK(out.order[0].requested_mode == CTL_SAFE);
}

// A drive that gives 6 % less than asked for; its lag of 1 s is that of the parameter. Without the loop of the shaft the
// command stays where it is.
TEST_CASE("A drive that gives less than asked for is asked for more until the shaft turns as it should") {
  HeaderMemory m{};
  PlantSignals y{};
  m.applied_speed = m.expected = 3800.0F;
  y.value[rd_compressor_speed] = 3800.0F;
  CHECK(shaft_command(m, kParams, y) == Approx(3800.0F));  // all is well
  float shaft = 3800.0F, command = 3800.0F;
  for (int n = 0; n < 60; ++n) {
    shaft += (0.94F * command - shaft) * 0.5F;  // first order of 1 s over a tick of 1 s, backward Euler
    y.value[rd_compressor_speed] = shaft;
    command = shaft_command(m, kParams, y);
    CHECK(command >= 3800.0F);
    CHECK(command <= kParams.speed_max);
  }
  CHECK(shaft == Approx(3800.0F).epsilon(1e-3));
  y.lost = 1U << rd_compressor_speed;  // not measured: as asked for
  CHECK(shaft_command(m, kParams, y) == 3800.0F);
}
