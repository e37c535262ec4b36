// The feed device: a compressor of the module's own, or a valve behind a header.
#include <catch2/catch.hpp>
#include <limits>

#include "controller/tick/limit.hpp"
#include "controller/tick/supervise.hpp"

using namespace duskline::controller;

namespace {

struct Behind {
  ctl_params p{};
  Signals y{};
  Behind() {
    ctl_default_params(&p);
    p.feed_device = CTL_FEED_VALVE;
    y.value[in_plenum_pressure] = 66e3f;
    y.value[in_plenum_temperature] = 300.0f;
    y.value[in_cathode_pressure] = 58e3f;
  }
  FeedCurve curve() const { return feed_curve(p, y, 0.0433f, 0.015f); }
};

}  // namespace

TEST_CASE("the feed valve passes what it is sized for") {
  // plant-model/plants/outpost.yaml by IEC 60534: 19 mmol/s from 66 to 58 kPa at 0.7 of the travel
  const Behind module;
  CHECK(module.curve().flow(0.7f) ==
        Approx(19e-3 * 0.0433).epsilon(0.05));  // the capacity is rounded to two digits there
  CHECK(module.curve().flow(0.0f) == 0.0f);
}

TEST_CASE("command and flow of a feed device are inverse to each other") {
  const Behind module;
  for (const float opening : {0.2f, 0.5f, 0.9f})
    CHECK(module.curve().command(module.curve().flow(opening)) == Approx(opening).epsilon(1e-4));
  ctl_params bench;
  ctl_default_params(&bench);
  const FeedCurve speed = feed_curve(bench, module.y, 0.0433f, 0.015f);
  CHECK(speed.command(speed.flow(317.0f)) == Approx(317.0f).epsilon(1e-6));
}

TEST_CASE("the last guard lets through the command of the feed device that is fitted") {
  ctl_params p;
  ctl_default_params(&p);
  p.feed_device = CTL_FEED_DEVICES;
  ctl_state state;
  CHECK(ctl_init(&state, &p) == CTL_BAD_PARAMETER);
  p.feed_device = CTL_FEED_VALVE;
  CHECK(ctl_init(&state, &p) == CTL_OK);
  for (const uint32_t device : {CTL_FEED_COMPRESSOR, CTL_FEED_VALVE}) {
    p.feed_device = device;
    ctl_outputs out{};
    out.mode = CTL_PRODUCTION;
    out.compressor_speed = 300.0f;
    out.feed_opening = 0.5f;
    guard(out, p);
    CHECK(out.compressor_speed == (device == CTL_FEED_COMPRESSOR ? 300.0f : 0.0f));
    CHECK(out.feed_opening == (device == CTL_FEED_VALVE ? 0.5f : 0.0f));
  }
}

TEST_CASE("an instrument that is not fitted is absent, whatever stands in its place") {
  ctl_params p;
  ctl_default_params(&p);
  p.not_fitted = 1u << CTL_INPUT_compressor_speed;
  SignalMemory memory = initial_signals();
  ctl_inputs in{};
  in.compressor_speed = std::numeric_limits<float>::quiet_NaN();
  const Signals y = read_signals(memory, p, in);
  CHECK(!y.has(in_compressor_speed));
  CHECK(y.absent == bit_of(in_compressor_speed));
}

TEST_CASE(
    "behind a header the feed protects a hot cathode without current while it holds CO and flows inwards") {
  Behind module;
  Thermal thermal{};
  thermal.hottest = 1073.15f;
  Gas gas{};
  gas.inlet_co2 = 0.96f;
  const auto protects = [&](float times_the_limit) {
    gas.inlet_co = times_the_limit * nickel_limit(thermal.hottest) * gas.inlet_co2;
    const Coke coke{};
    return header_protects({.params = module.p,
                            .signals = module.y,
                            .thermal = thermal,
                            .gas = gas,
                            .coke = coke,
                            .feed_flow = 0.0f,
                            .applied_current = 0.0f});
  };
  CHECK(protects(2.4f));  // of the outpost at noon, measured there
  CHECK(protects(1.51f));
  CHECK_FALSE(protects(1.49f));
  CHECK_FALSE(protects(0.0f));
  module.y.value[in_plenum_pressure] = 58.9e3f;  // hardly more than in the cathode
  CHECK_FALSE(protects(2.4f));
  module.y.value[in_plenum_pressure] = 66e3f;
  module.y.lost |= bit_of(in_plenum_pressure);
  CHECK_FALSE(protects(2.4f));
  module.y.lost = {};
  module.p.feed_device = CTL_FEED_COMPRESSOR;  // what it takes in is CO2 alone
  CHECK_FALSE(protects(2.4f));
}
