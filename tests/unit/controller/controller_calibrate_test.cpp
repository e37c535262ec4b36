// Self-calibration: zero errors at rest are found, held within their bounds, taken back on request and kept
// over a restart. Bounds: CTL_CORRECTION_LIST.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/memory.hpp"
#include "controller/retain.hpp"

using namespace duskline::controller;

namespace {

/// A plant at rest in the cold; `edit` puts errors on its readings.
struct AtRest {
  ctl_params params{};
  ctl_state state{};
  ctl_inputs in{};
  ctl_outputs out{};

  AtRest() {
    ctl_default_params(&params);
    REQUIRE(ctl_init(&state, &params) == CTL_OK);
    in.ambient_pressure = 700.0f;
    in.ambient_temperature = 230.0f;
    in.plenum_pressure = in.cathode_pressure = in.anode_pressure = 700.0f;
    in.plenum_temperature = in.compressor_temperature = in.preheater_temperature = 230.0f;
    in.housing_temperature = 230.0f;
    in.product_oxygen_fraction = 0.0015f;
    in.bus_voltage = 28.0f;
    in.bus_power = 18.0f;
    for (float& t : in.zone_temperature) t = 230.0f;
    for (float& t : in.end_temperature) t = 230.0f;
    in.power_ceiling = in.local_time = in.command_age = NAN;
    in.requested_mode = CTL_OFF;
  }
  void run(int seconds) {
    for (int k = 0; k < seconds; ++k) {
      REQUIRE(ctl_step(&state, &params, &in, &out) == CTL_OK);
      ++in.tick;
    }
  }
};

}  // namespace

TEST_CASE("zero errors at rest are found") {
  AtRest rest;
  rest.in.plenum_pressure += 300.0f;
  rest.in.cathode_pressure -= 180.0f;
  rest.in.anode_pressure += 60.0f;
  rest.in.feed_flow = 9e-8f;
  rest.in.product_flow = -2e-8f;
  rest.in.stack_current = 0.006f;
  rest.in.filter_differential_pressure = 1.2f;
  rest.run(700);
  CHECK(rest.out.correction[CTL_ZERO_PLENUM] > 0.0f);  // on its way
  rest.run(1300);
  const float found[] = {300.0f, -180.0f, 60.0f, 1.2f, 9e-8f, -2e-8f, 0.006f};
  for (int n = 0; n < 7; ++n) {
    INFO("correction " << n);
    CHECK(rest.out.correction[n] == Approx(found[n]).epsilon(0.02));
    CHECK((rest.out.corrected & (1u << n)) != 0);
  }
}

TEST_CASE("a correction never leaves its bound and moves no faster than stated") {
  AtRest rest;
  rest.in.plenum_pressure += 2500.0f;  // 1000 Pa beyond the bound
  float before = 0.0f, fastest = 0.0f;
  for (int k = 0; k < 4000; ++k) {
    rest.run(1);
    fastest = std::max(fastest, std::abs(rest.out.correction[CTL_ZERO_PLENUM] - before));
    before = rest.out.correction[CTL_ZERO_PLENUM];
    REQUIRE(before <= 1500.0f);
  }
  CHECK(before == Approx(1500.0f));
  CHECK(fastest <= 1500.0f / kZeroTravel * 1.001f);
}

TEST_CASE("thermocouples are set against each other in the cold") {
  AtRest rest;
  const float error[7] = {2.0f, -1.0f, 0.5f, -2.5f, 1.0f, 3.0f, -3.0f};  // mean 0
  for (int k = 0; k < 5; ++k) rest.in.zone_temperature[k] += error[k];
  for (int e = 0; e < 2; ++e) rest.in.end_temperature[e] += error[5 + e];
  rest.run(2500);
  for (int k = 0; k < 7; ++k)
    CHECK(rest.out.correction[CTL_OFFSET_ZONE_1 + k] == Approx(error[k]).margin(0.05));
}

TEST_CASE("the operator takes a correction back and it stays off") {
  AtRest rest;
  rest.in.cathode_pressure += 200.0f;
  rest.run(2000);
  REQUIRE(rest.out.correction[CTL_ZERO_CATHODE] == Approx(200.0f).epsilon(0.02));
  rest.in.clear_corrections = 1u << CTL_ZERO_CATHODE;
  rest.run(1);
  CHECK(rest.out.correction[CTL_ZERO_CATHODE] == 0.0f);
  CHECK((rest.out.corrected & (1u << CTL_ZERO_CATHODE)) == 0);
  rest.run(1500);
  CHECK(rest.out.correction[CTL_ZERO_CATHODE] == 0.0f);
  rest.in.clear_corrections = 0;
  rest.run(2000);
  CHECK(rest.out.correction[CTL_ZERO_CATHODE] == Approx(200.0f).epsilon(0.02));
}

TEST_CASE("calibrated instruments are commissioned anew, once") {
  AtRest rest;
  rest.in.cathode_pressure += 200.0f;
  rest.run(2000);
  Memory m = load(rest.state);
  m.detection.residuals.as_built[r_line] = 0.1f;
  m.detection.residuals.commissioned = 3600.0f;
  m.detection.diagnosed = CTL_HEATER_ON;
  put_in(m.detection.suspect, in_end_temperature, true);
  store(rest.state, m);
  rest.in.clear_corrections = CTL_CALIBRATED;
  rest.run(1);
  m = load(rest.state);
  for (const float c : rest.out.correction) CHECK(c == 0.0f);
  CHECK(m.detection.residuals.as_built[r_line] == 0.0f);
  CHECK(m.detection.residuals.commissioned == 0.0f);
  CHECK(suspect_mask(m.detection) == 0);
  CHECK(m.detection.diagnosed == CTL_HEATER_ON);  // ends by its own evidence
  rest.run(99);
  CHECK(load(rest.state).detection.started ==
        Approx(100.0f));  // not at each tick for as long as the bits stand
}

TEST_CASE("corrections survive a restart, and none is made when calibration is off") {
  AtRest rest;
  rest.in.anode_pressure += 150.0f;
  rest.run(2000);
  ctl_retained kept{};
  ctl_retain(&rest.state, &kept);
  REQUIRE(ctl_restart(&rest.state, &rest.params, &kept) == CTL_OK);
  rest.run(1);
  CHECK(rest.out.correction[CTL_ZERO_ANODE] == Approx(150.0f).epsilon(0.02));
  CHECK((rest.out.diagnosed & CTL_RESTARTED) != 0);
  rest.params.calibration = 0.0f;
  rest.run(2000);
  for (const float c : rest.out.correction) CHECK(c == 0.0f);
}

TEST_CASE("what is not a number, lost or moving teaches nothing") {
  AtRest rest;
  rest.in.plenum_pressure = NAN;
  rest.in.feed_flow = INFINITY;
  rest.in.compressor_speed = 30.0f;  // a shaft that turns
  rest.run(2000);
  for (const float c : rest.out.correction) CHECK(c == 0.0f);
  rest.in.compressor_speed = 0.0f;
  rest.run(2000);
  for (const float c : rest.out.correction) CHECK(std::isfinite(c));
  CHECK(rest.out.correction[CTL_ZERO_PLENUM] == 0.0f);
  CHECK(rest.out.correction[CTL_ZERO_FEED] == 0.0f);
}

TEST_CASE(
    "the efficiency of the current takes its share of what the product meter shows, slowly and within its "
    "bounds") {
  ctl_params p{};
  ctl_default_params(&p);
  // by hand: deviations 0.25 % (efficiency) and 0.5 % (half the class of the meter, 1 %): a share of 1/5
  const auto identified = [&](float shown, int ticks) {
    Calibration m{};
    m.time[CTL_GAIN_PRODUCT] = kGainFirst;
    for (int k = 0; k < ticks; ++k) {
      m.average[CTL_GAIN_PRODUCT] =
          (1.0f + shown) / (1.0f + m.efficiency) - 1.0f;  // what the meter shows stays
      identify_efficiency(m, p);
    }
    return m.efficiency;
  };
  CHECK(identified(-0.02f, 20000) == Approx(-0.004).epsilon(1e-3));
  CHECK(identified(-0.02f, 1) == Approx(-0.02 / (4.0 * 3600.0)).epsilon(1e-3));  // 2 % in four hours
  CHECK(identified(-0.5f, 40000) == Approx(-0.02).epsilon(1e-3));
  CHECK(identified(0.05f, 40000) ==
        Approx(1.0 / 0.999 - 1.0).epsilon(1e-3));  // no more than all of the current
  Calibration early{};
  early.average[CTL_GAIN_PRODUCT] = -0.02f;
  identify_efficiency(early, p);
  CHECK(early.efficiency == 0.0f);
}
