// What stops the plant and its modules, and what takes them out and back: numbers by hand from the parameters.
#include "tests/support/bare_plant_controller.hpp"

using namespace duskline::test;

TEST_CASE("An interlock of the plant stops the compressor and waits for another request") {
  Bare b(6);
  b.step(20);
  REQUIRE(b.out.mode == CTL_PLANT_PRODUCTION);
  b.in.product_header_pressure = 55000.0F + 10500.0F;  // trips at 10 kPa, after two ticks
  CHECK(b.step().mode == CTL_PLANT_PRODUCTION);
  CHECK(b.step().mode == CTL_PLANT_SAFE);
  CHECK(b.out.tripped == CTL_PLANT_ACROSS_HIGH);
  CHECK(b.out.compressor_speed == 0.0F);
  CHECK(b.out.anti_surge_opening == 1.0F);
  for (uint32_t k = 0; k < 6; ++k) CHECK(b.out.order[k].requested_mode == CTL_SAFE);
  CHECK(b.out.alarm_state[CTL_PLANT_ALARM_TRIP_ACROSS] == CTL_ALARM_UNACKNOWLEDGED);
  b.in.product_header_pressure = 55500.0F;
  for (uint32_t k = 0; k < 6; ++k) b.in.module[k].mode = CTL_SAFE;
  b.step(50);
  CHECK(b.out.mode == CTL_PLANT_SAFE);
  CHECK((b.out.unmet_permissives & CTL_PLANT_NOT_RESET) != 0);
  b.in.requested_mode = CTL_PLANT_STANDBY;
  b.step();
  CHECK(b.out.mode == CTL_PLANT_START_UP);
  CHECK(b.out.order[0].requested_mode == CTL_STANDBY);  // the request is the modules' reset too
}

TEST_CASE("A header pressure that is lost trips, a reading of less weight is an alarm") {
  Bare b(6);
  b.step(20);
  b.in.product_oxygen_fraction = NAN;
  b.step(60);
  CHECK(b.out.mode == CTL_PLANT_PRODUCTION);
  CHECK(b.out.lost == 1U << CTL_PLANT_INPUT_product_oxygen_fraction);
  CHECK(b.out.alarm_state[CTL_PLANT_ALARM_READING] == CTL_ALARM_UNACKNOWLEDGED);
  b.in.feed_header_pressure = NAN;
  b.step(6);
  CHECK(b.out.mode == CTL_PLANT_SAFE);
  CHECK(b.out.tripped == CTL_PLANT_SENSOR_LOST);
  // what is not fitted is not missed
  ctl_plant_params p = kParams;
  p.not_fitted = 1U << CTL_PLANT_INPUT_product_oxygen_fraction;
  Bare without(6, p);
  without.in.product_oxygen_fraction = NAN;
  without.step(60);
  CHECK(without.out.lost == 0);
  CHECK(without.out.alarms_active == 0);
}

TEST_CASE("Two surges trip, and so do two falls of the pressure where the flow is not measured") {
  for (const bool meter : {true, false}) {
    INFO(meter);
    Bare b(6);
    b.step(20);
    for (int n = 0; n < 2; ++n) {
      CHECK(b.out.mode == CTL_PLANT_PRODUCTION);
      b.in.compressor_flow = meter ? -1e-3F : NAN;
      if (!meter) b.step(10);
      b.in.discharge_pressure = 60000.0F;
      b.step(2);
      b.in.discharge_pressure = 65500.0F;
      b.in.compressor_flow = meter ? 4.4e-3F : NAN;
      b.step(2);
    }
    b.step();
    CHECK(b.out.mode == CTL_PLANT_SAFE);
    CHECK(b.out.tripped == CTL_PLANT_SURGED);
  }
}

TEST_CASE("A module that is taken out cools with its flow, is isolated when off and released when cold") {
  Bare b(6);
  b.step(400);
  b.in.service[1] = CTL_SERVICE_OUT;
  b.step();
  CHECK(b.out.order[1].requested_mode == CTL_OFF);
  CHECK(b.out.order[1].feed_opening_max == 1.0F);
  b.in.module[1].mode = CTL_COOL_DOWN, b.in.module[1].oxygen_rate = 1e-5F;
  b.step(200);
  CHECK(b.out.producing == 0b111101);
  CHECK(share_sum(b.out) == Approx(8e-4).epsilon(1e-3));  // the others took over
  CHECK(b.out.isolated == 0);
  b.in.module[1].mode = CTL_OFF, b.in.module[1].temperature = b.in.module[1].hottest = 400.0F;
  b.step();
  CHECK(b.out.isolated == 0b10);
  CHECK(b.out.order[1].feed_opening_max == 0.0F);
  CHECK(b.out.released == 0);
  b.in.module[1].temperature = b.in.module[1].hottest = 300.0F;
  CHECK(b.step().released == 0b10);
  b.in.service[1] = CTL_SERVICE_IN;
  b.step();
  CHECK(b.out.isolated == 0);
  CHECK(b.out.order[1].requested_mode == CTL_STANDBY);
}

TEST_CASE("A module that leaks between cathode and anode is isolated until it has been taken out") {
  Bare b(6);
  b.step(20);
  b.in.module[3].diagnosed = CTL_CELL_LEAKING;
  b.in.module[3].response = CTL_RESPOND_STANDBY;
  b.step();
  CHECK(b.out.isolated == 0b1000);
  CHECK(b.out.order[3].feed_opening_max == 0.0F);
  CHECK(b.out.diagnosed == CTL_PLANT_MODULE_LEAKS);
  CHECK(b.out.mode == CTL_PLANT_PRODUCTION);
  CHECK(b.out.producing == 0b110111);
  b.in.module[3].diagnosed = b.in.module[3].response = 0;
  b.step(10);
  CHECK(b.out.isolated == 0b1000);
  CHECK(b.out.alarm_state[CTL_PLANT_ALARM_ISOLATED] == CTL_ALARM_UNACKNOWLEDGED);
  b.in.service[3] = CTL_SERVICE_OUT;
  b.step();
  b.in.service[3] = CTL_SERVICE_IN;
  CHECK(b.step().isolated == 0);
}

TEST_CASE("A spare comes in when the demand is not met, and a module in safe waits for the operator") {
  Bare b(6);
  b.in.service[5] = CTL_SERVICE_SPARE;
  b.in.oxygen_demand = 7.5e-4F;
  b.step(500);
  CHECK(b.out.producing == 0b011111);  // five make 8e-4 at most
  b.in.module[0].mode = CTL_SAFE;
  b.step(100);
  CHECK(b.out.order[0].requested_mode == CTL_SAFE);
  CHECK(b.out.diagnosed == CTL_PLANT_MODULE_TRIPPED);
  CHECK(b.out.producing == 0b011110);
  b.step(300);
  CHECK(b.out.producing == 0b111110);
  b.in.requested_mode = CTL_PLANT_STANDBY;  // another request is the reset
  b.in.module[0].mode = CTL_STANDBY;
  b.step();
  CHECK(b.out.order[0].requested_mode == CTL_STANDBY);
}

TEST_CASE("After a loss of power the plant is taken over as it runs, trips and leaks are kept") {
  Bare b(6);
  b.step(400);
  b.in.module[3].diagnosed = CTL_CELL_LEAKING, b.in.module[3].response = CTL_RESPOND_STANDBY;
  b.step();
  b.in.module[3].diagnosed = b.in.module[3].response = 0;
  ctl_plant_retained retained;
  ctl_plant_retain(&b.state, &retained);
  const float speed = b.in.compressor_speed;
  REQUIRE(ctl_plant_restart(&b.state, &b.params, &retained) == CTL_OK);
  b.step();
  CHECK(b.out.mode == CTL_PLANT_PRODUCTION);
  CHECK(b.out.isolated == 0b1000);
  CHECK(b.out.compressor_speed == Approx(speed).margin(1.0));  // no bump
  CHECK(b.out.order[0].oxygen_demand == Approx(1e-4).margin(2e-6));
  retained.state.words[7] ^= 1U;
  CHECK(ctl_plant_restart(&b.state, &b.params, &retained) == CTL_NOT_RETAINED);
}

TEST_CASE("A feed without CO trips a plant that produces after its time, and not one that starts") {
  const ctl_plant_params p = kParams;
  for (const uint32_t mode : {CTL_PLANT_PRODUCTION, CTL_PLANT_STANDBY, CTL_PLANT_START_UP}) {
    INFO(mode);
    Bare b(6);
    b.in.requested_mode = mode == CTL_PLANT_PRODUCTION ? CTL_PLANT_PRODUCTION : CTL_PLANT_STANDBY;
    PlantModeMemory m{};
    m.mode = mode;
    m.last_request = b.in.requested_mode;
    PlantSignalMemory sm = initial_plant_signals();
    const PlantSignals y = read_plant(sm, p, b.in);
    ModulesView modules{};
    modules.hot = 0b111111;
    const PlantFacts f{p, y, modules, 4000.0F, 0.5F, false, true};
    const auto tick = [&] {
      return run_plant_modes(m, p, plant_conditions(m, f) & CTL_PLANT_FEED_UNPROTECTED, m.last_request);
    };
    for (int n = 0; n < 119; ++n) tick();
    CHECK(m.mode != CTL_PLANT_SAFE);
    m.mode = mode;  // a start-up stays one here
    for (int n = 0; n < 3; ++n) tick();
    CHECK((m.mode == CTL_PLANT_SAFE) == (mode != CTL_PLANT_START_UP));
    if (m.mode == CTL_PLANT_SAFE) CHECK(m.tripped == CTL_PLANT_FEED_UNPROTECTED);
  }
}

TEST_CASE("The liquefier stands while the plant does not make, and once the product header does not empty") {
  Bare b(6);
  b.in.oxygen_demand = 8e-4F;
  b.step(20);
  CHECK(b.out.mode == CTL_PLANT_PRODUCTION);
  CHECK(b.out.liquefier_run == 1.0F);
  const float level = b.in.product_header_pressure;
  b.in.product_header_pressure = b.in.exhaust_header_pressure + kParams.vent_across + 100.0F;
  b.step(200);  // the valve opens by its integral
  CHECK(b.out.liquefier_run == 0.0F);
  CHECK((b.out.diagnosed & CTL_PLANT_PRODUCT_VENTED) != 0);
  b.in.product_header_pressure = level;
  b.step(30);
  CHECK(b.out.liquefier_run == 0.0F);  // until the operator asks anew
  b.in.requested_mode = CTL_PLANT_STANDBY;
  b.step(3);
  CHECK(b.out.liquefier_run == 1.0F);
  CHECK((b.out.diagnosed & CTL_PLANT_PRODUCT_VENTED) == 0);
}
