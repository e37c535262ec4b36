// The fault table and what acts on it: shares by hand from the definition in fault_table.hpp.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <set>

#include "controller/include/controller.h"
#include "hil-harness/loop/faults.hpp"
#include "tests/support/plant.hpp"

using namespace duskline;
using plant::FaultEvent;
using plant::FaultShape;

namespace {

FaultEvent event(std::string name, FaultShape shape, double rise, double length) {
  FaultEvent e = plant::usual_fault(*plant::find_fault(name), 100.0);
  e.shape = shape;
  e.rise = rise;
  e.length = length;
  return e;
}

bool same_bits(const plant::PlantParameters& a, const plant::PlantParameters& b) {
  return std::memcmp(&a, &b, sizeof a) == 0;
}

std::set<std::string> diagnoses() {
#define WORD(identifier, bit, word, response, meaning) word,
  return {CTL_DIAGNOSIS_LIST(WORD)};
#undef WORD
}

std::set<std::string> commands() {
#define SCALAR(name, unit, lower, upper, ...) #name,
#define ARRAY(name, count, unit, lower, upper, ...) #name,
  return {CTL_OUTPUT_LIST(SCALAR, ARRAY)};
#undef SCALAR
#undef ARRAY
}

std::set<std::string> plant_commands() {
#define SCALAR(name, ...) #name,
  return {CTL_PLANT_OUTPUT_LIST(SCALAR)};
#undef SCALAR
}

}  // namespace

TEST_CASE("Every row of the fault table is whole and points at something") {
  std::set<std::string_view> names;
  for (const plant::FaultRow& r : plant::fault_table()) {
    INFO(r.name);
    CHECK(names.insert(r.name).second);
    CHECK(r.name.find_first_not_of("abcdefghijklmnopqrstuvwxyz-") == r.name.npos);
    CHECK_FALSE(r.component.empty());
    CHECK_FALSE(r.mode.empty());
    for (const auto text : {r.study.function, r.study.cause, r.study.local, r.study.end, r.study.seen,
                            r.study.provision, r.study.rationale})
      CHECK_FALSE(text.empty());
    CHECK(r.study.severity >= 1);
    CHECK(r.study.severity <= 4);
    if (r.has_size()) {
      CHECK(r.size >= r.lower);
      CHECK(r.size <= r.upper);
    }
    if (r.item >= 0) CHECK(static_cast<std::size_t>(r.item) < scenarios::fault_items(r));
    if (!r.diagnosis.empty()) CHECK(diagnoses().contains(std::string(r.diagnosis)));
    std::size_t found = 0;
    switch (r.effect) {
      case plant::FaultEffect::scale:
      case plant::FaultEffect::set:
      case plant::FaultEffect::add:
        for (const auto& info : plant::parameter_table()) found += info.path == r.target ? 1 : 0;
        CHECK(found == 1);
        break;
      case plant::FaultEffect::sensor:
      case plant::FaultEffect::swap:
        if (r.scope == plant::FaultScope::headers) {
          CHECK(scenarios::shared_reading(r.target) < scenarios::kSharedInstruments.size());
          break;
        }
        for (const auto& row : scenarios::kInstrumentTable) found += row.spec.name == r.target ? 1 : 0;
        CHECK(found == 1);
        break;
      case plant::FaultEffect::actuator:
        CHECK((r.scope == plant::FaultScope::headers ? plant_commands() : commands())
                  .contains(std::string(r.target)));
        break;
      default:
        CHECK(r.target.empty());
    }
  }
  CHECK(names.size() > 60);
}

TEST_CASE("A fault of one module is no fault of the others, nor of what they share") {
  auto starved = plant::usual_fault(*plant::find_fault("cell-starved"), 0.0);
  starved.shape = FaultShape::step;
  starved.module = 2;
  auto cut = plant::usual_fault(*plant::find_fault("wire-cut"), 0.0);
  cut.module = 1;
  auto reset = plant::usual_fault(*plant::find_fault("controller-reset"), 0.0);
  reset.module = 4;
  auto bias = plant::usual_fault(*plant::find_fault("feed-header-pressure-bias"), 0.0);
  harness::Faults faults(std::vector{starved, cut, reset, bias});
  faults.move_to(0.0, {});
  const plant::PlantParameters healthy = tests::bench();
  for (harness::Part part = harness::kSharedPart; part < 6; ++part) {
    INFO(part);
    plant::PlantParameters p = healthy;
    faults.inject(p, part);
    CHECK(same_bits(p, healthy) == (part != 2));
    CHECK(faults.on_wire(part) == (part == 1));
    CHECK(faults.wire(1.0, part).cut == (part == 1));
    CHECK(faults.resets(part) == (part == 4));
  }
  CHECK(harness::fault_text(starved) == "cell-starved 6 of module 3, size 0.6");
  faults.move_to(1.0, {});
  CHECK_FALSE(faults.resets(4));  // it happens at an instant
  CHECK_FALSE(faults.clear({1.0, "cell-starved", -1, 3}, 1.0));
  CHECK(faults.clear({1.0, "cell-starved", -1, 2}, 1.0));
}

TEST_CASE("Steps, ramps and pulses take their course") {
  const double none = plant::kUntilTheEnd;
  const auto step = event("seal-leak", FaultShape::step, 10.0, none);
  CHECK(fault_share(step, 99.0) == 0.0);
  CHECK(fault_share(step, 100.0) == 1.0);
  CHECK(fault_share(step, 1e9) == 1.0);
  const auto ramp = event("seal-leak", FaultShape::ramp, 10.0, 30.0);
  CHECK(fault_share(ramp, 100.0) == 0.0);
  CHECK(fault_acts(ramp, 100.0));
  CHECK(fault_share(ramp, 104.0) == 0.4);
  CHECK(fault_share(ramp, 129.0) == 1.0);
  CHECK(fault_share(ramp, 130.0) == 0.0);
  CHECK_FALSE(fault_acts(ramp, 130.0));
  const auto pulse = event("seal-leak", FaultShape::pulse, 10.0, 30.0);
  CHECK(fault_share(pulse, 105.0) == 0.5);
  CHECK(fault_share(pulse, 115.0) == 1.0);
  CHECK(fault_share(pulse, 127.0) == Approx(0.3).epsilon(1e-14));
  CHECK(fault_share(pulse, 130.0) == 0.0);
  const auto short_pulse = event("seal-leak", FaultShape::pulse, 10.0, 10.0);
  CHECK(fault_share(short_pulse, 105.0) == 0.5);  // the peak, where it begins to fall
}

TEST_CASE("A parameter moves as its row says and returns exactly") {
  const plant::PlantParameters healthy = tests::bench();
  auto crack = plant::usual_fault(*plant::find_fault("cell-cracked"), 10.0);
  crack.item = 2;
  crack.length = 5.0;
  const std::vector<FaultEvent> events{event("seal-leak", FaultShape::ramp, 10.0, 30.0), crack};
  harness::Faults faults(events);
  const auto at = [&](double t) {
    faults.move_to(t, {});
    plant::PlantParameters p = healthy;
    faults.inject(p);
    return p;
  };
  CHECK(same_bits(at(0.0), healthy));
  CHECK(at(10.0).stack.crack_leak[2] == healthy.stack.crack_leak[2] + 1e-9);  // the size of the row
  CHECK(at(10.0).stack.crack_leak[1] == healthy.stack.crack_leak[1]);
  CHECK(same_bits(at(15.0), healthy));
  CHECK(at(105.0).flow.seal_leak == Approx(healthy.flow.seal_leak * 20.5).epsilon(1e-14));  // 1 + 39/2
  CHECK(at(120.0).flow.seal_leak == Approx(healthy.flow.seal_leak * 40.0).epsilon(1e-14));
  CHECK(same_bits(at(130.0), healthy));
}

TEST_CASE("A ramp asks for new parameters in 1 % steps, and what begins and ends is reported") {
  harness::Faults faults(std::vector{event("seal-leak", FaultShape::ramp, 1000.0, 2000.0)});
  int anew = 0;
  std::string announced;
  for (int t = 0; t < 3000; ++t)
    anew += faults.move_to(t, [&](const FaultEvent&, bool begins) {
      announced += std::to_string(t) + (begins ? " begins " : " ends ");
    });
  CHECK(anew == 101);  // a hundred steps up, one back
  CHECK(announced == "100 begins 2100 ends ");
}

TEST_CASE("Faults of channels act on their channel alone, and end") {
  const auto specs = scenarios::expand(scenarios::kInstrumentTable);
  plant::SensorBank with(specs, 1, 1.0), without(specs, 1, 1.0);
  auto bias = plant::usual_fault(*plant::find_fault("cathode-pressure-bias"), 3.0);
  bias.length = 4.0;
  auto open = plant::usual_fault(*plant::find_fault("zone-thermocouple-open"), 3.0);
  open.item = 1;
  open.length = 4.0;
  harness::Faults faults(std::vector{bias, open});
  harness::Channels truth{}, a{}, b{};
  truth.fill(1.0);
  truth[4] = 50e3;
  for (int t = 0; t < 12; ++t) {
    faults.move_to(t, {});
    faults.inject(with, t);
    with.sample(truth, t, a);
    without.sample(truth, t, b);
    for (std::size_t i = 0; i < a.size(); ++i) {
      INFO("tick " << t << ", " << specs[i].name);
      const bool acts = t >= 3 && t < 7;
      if (acts && specs[i].name == "cathode_pressure")
        CHECK(a[i] - b[i] == Approx(5000.0).margin(3.1));  // the size, within a step of the converter
      else if (acts && specs[i].name == "zone_temperature[1]")
        CHECK(std::isnan(a[i]));
      else
        CHECK(a[i] == b[i]);
    }
  }
}

TEST_CASE("Swapped channels exchange their readings") {
  auto swap = plant::usual_fault(*plant::find_fault("zone-thermocouples-swapped"), 0.0);
  swap.item = 4;  // the last one and the first
  harness::Faults faults(std::vector{swap});
  faults.move_to(0.0, {});
  harness::Channels readings{};
  for (std::size_t i = 0; i < readings.size(); ++i) readings[i] = static_cast<double>(i);
  harness::Channels before = readings;
  faults.inject(readings);
  std::swap(before[22], before[26]);  // 20 scalars and 2 ends before the five zones
  CHECK(readings == before);
}

TEST_CASE("Commands are corrupted on their way: fixed, stuck, more than asked") {
  plant::Commands start{};
  plant::PlantParameters p = tests::bench();
  p.power.current_slew = 1e9;
  harness::ActuatorBank bank(p, start);
  ctl_outputs out{};
  out.stack_current = 4.0f;
  out.end_power[0] = out.end_power[1] = 20.0f;
  auto runaway = plant::usual_fault(*plant::find_fault("current-runaway"), 1.0);
  runaway.length = 1.0;
  auto heater = plant::usual_fault(*plant::find_fault("end-heater-open"), 1.0);
  heater.item = 1;
  harness::Faults faults(std::vector{runaway, heater});
  plant::Commands u[3];
  for (int t = 0; t < 3; ++t) {
    faults.move_to(t, {});
    faults.inject(bank);
    u[t] = bank.actuate(out, 1.0);
  }
  CHECK(u[0].stack_current == 4.0);
  CHECK(u[1].stack_current == 5.0);  // a quarter more
  CHECK(u[2].stack_current == 4.0);
  CHECK(u[1].end_power[0] == 20.0);
  CHECK(u[1].end_power[1] == 0.0);
  CHECK(u[2].end_power[1] == 0.0);
  const auto dead = bank.actuate(out, 1.0, false);
  CHECK(dead.stack_current == 0.0);
  CHECK(dead.end_power[0] == 0.0);
}

TEST_CASE("Clocks jump by the size, the local time within its sol") {
  const auto clock = plant::usual_fault(*plant::find_fault("clock-jump"), 0.0);
  const auto tick = plant::usual_fault(*plant::find_fault("tick-jump"), 0.0);
  harness::Faults faults(std::vector{clock, tick});
  faults.move_to(0.0, {});
  ctl_inputs in{};
  in.local_time = 0.98f;
  in.tick = 7;
  faults.inject(in, 2.0);
  CHECK(in.local_time == Approx(0.98 + 3600.0 / 88775.244 - 1.0).margin(1e-6));
  CHECK(in.tick == 7 + 300);  // 600 s of 2 s
}
