// A short run of the fuzzer, and proof that it sees what it looks for. The long run is `controller_fuzz`.
#include <catch2/catch.hpp>

#include "tests/support/controller_fuzzer.hpp"

using namespace duskline::test;

namespace {

ctl_status energised_in_off(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  const ctl_status status = ctl_step(s, p, in, out);
  if (status == CTL_OK && out->mode == CTL_OFF) out->end_power[1] = 1.0f;
  return status;
}
ctl_status no_number(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  const ctl_status status = ctl_step(s, p, in, out);
  if (in->feed_flow != in->feed_flow) out->recycle_opening = in->feed_flow;
  return status;
}
ctl_status with_a_secret(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  static float secret = 0.0f;
  const ctl_status status = ctl_step(s, p, in, out);
  secret = secret < 1.0f ? secret + 1e-3f : 0.0f;
  if (out->mode == CTL_PRODUCTION) out->recycle_opening = secret;
  return status;
}
ctl_status short_cut(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  const ctl_status status = ctl_step(s, p, in, out);
  if (out->mode == CTL_WARM_UP && in->requested_mode == CTL_PRODUCTION) out->mode = CTL_PRODUCTION;
  return status;
}
ctl_status accepts_all(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  const ctl_status status = ctl_step(s, p, in, out);
  return status == CTL_BAD_PARAMETER ? CTL_OK : status;
}

}  // namespace

TEST_CASE("nothing is found in two hundred thousand ticks that visit every mode and law") {
  ControllerFuzzer fuzzer(20260101);
  CHECK(fuzzer.run(200000) == "");
  CHECK(fuzzer.ticks() >= 200000);
  CHECK(fuzzer.modes_seen() == (1u << CTL_MODES) - 1);
  CHECK(fuzzer.corrupted_states() > 10);
  for (std::uint32_t mode = 0; mode < CTL_MODES; ++mode) CHECK(fuzzer.ticks_in(mode) > 2000);
}

TEST_CASE("no current flows in the tick in which safe begins, however short the rest may be") {
  // found by the fuzzer, with trip_dwell at its lower limit
  ctl_params p = default_params();
  p.trip_dwell = 0.0f;
  Rig rig = rig_in(CTL_PRODUCTION, p);
  REQUIRE(rig.out.stack_current > 0.0f);
  CHECK(rig.step(CTL_SAFE).mode == CTL_SAFE);
  CHECK(rig.out.stack_current == 0.0f);
}

TEST_CASE("a state with a word outside its list is refused, with safe outputs") {
  namespace ctl = duskline::controller;
  Rig rig = rig_in(CTL_PRODUCTION);
  const auto refused = [&rig](void (*inject)(ctl::Memory&)) {
    ctl::Memory m = ctl::load(rig.state);
    inject(m);
    ctl_state corrupted = rig.state;
    ctl::store(corrupted, m);
    ctl_outputs out;
    return ctl_step(&corrupted, &rig.params, &rig.in, &out) == CTL_BAD_VERSION && out.mode == CTL_SAFE &&
           out.stack_current == 0.0f;
  };
  CHECK_FALSE(refused([](ctl::Memory&) {}));
  CHECK(refused([](ctl::Memory& m) { m.mode.mode = CTL_MODES; }));
  CHECK(refused([](ctl::Memory& m) { m.response = CTL_RESPONSES; }));
  CHECK(refused([](ctl::Memory& m) { m.detection.suspect[1] = 1u << 31; }));
  CHECK(refused([](ctl::Memory& m) { m.alarms.state[CTL_ALARMS - 1] = CTL_ALARM_STATES; }));
}

TEST_CASE("a clock of the detection that is no number begins again") {
  // found by the fuzzer in a corrupted state: no number was made a whole one
  namespace ctl = duskline::controller;
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.params.detection = 2.0f;
  ctl::Memory m = ctl::load(rig.state);
  m.detection.started = std::numeric_limits<float>::quiet_NaN();
  ctl::store(rig.state, m);
  rig.step(CTL_PRODUCTION);
  CHECK(ctl::load(rig.state).detection.started == 0.0f);
  rig.step(CTL_PRODUCTION);
  CHECK(ctl::load(rig.state).detection.started == rig.params.period);

  CHECK(ctl::truncate(2.9f) == 2);
  CHECK(ctl::truncate(-3.0f) == 0);
  CHECK(ctl::truncate(std::numeric_limits<float>::quiet_NaN()) == 0);
  CHECK(ctl::truncate(std::numeric_limits<float>::infinity()) == 4294967040u);
}

TEST_CASE("an episode can be repeated by its number") {
  ControllerFuzzer one(5, energised_in_off), two(5, energised_in_off);
  const std::string found = one.run(100000);
  REQUIRE_FALSE(found.empty());
  CHECK(two.episode(one.number()) == found);
}

TEST_CASE("the fuzzer finds defects of each kind") {
  const auto found = [](decltype(&ctl_step) step) { return ControllerFuzzer(1, step).run(200000); };
  CHECK(found(energised_in_off).find("heat in a mode without") != std::string::npos);
  CHECK(found(no_number).find("recycle_opening outside the list") != std::string::npos);
  CHECK(found(with_a_secret).find("the same call gave other bytes") != std::string::npos);
  CHECK(found(short_cut).find("a way between modes") != std::string::npos);
  CHECK(found(accepts_all).find("a bad parameter was accepted") != std::string::npos);
}
