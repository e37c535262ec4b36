// The mode machine and the stages after it, enumerated: every mode, every set of conditions, every request. What must
// hold follows from the tables of supervise/modes.hpp and docs/models/supervision.md; nothing here is drawn at random.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "controller/tick/limit.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::test;
using namespace duskline::controller;

namespace {

constexpr uint32_t kSets = 1u << kConditions;
constexpr uint32_t kRequests = CTL_MODES + 1;  // the last is none of the list

/// A plant for the mode machine: what it looks at beside the set of conditions.
struct Plant {
  ctl_params p = default_params();
  Signals y{};
  Thermal t{};
  Gas gas{3.6e-4f, 0.0425f, 0.05f, 0.901f, 0.45f, 0.3f, 0.1f, 0.5f};
  Coke coke{0.12f, 1.16f, 4, 1.04f, 0.0f};
  float feed = 1.5e-5f, applied_current = 4.0f;
  uint32_t response = CTL_RESPOND_NONE;

  Plant() { heat_to(1073.15f); }
  void heat_to(float temperature) {
    t.mean = t.coldest = t.hottest = t.hottest_part = temperature;
    for (float& zone : t.zone) zone = temperature;
    for (uint32_t k = 0; k < CTL_ZONES; ++k) y.value[in_zone_temperature + k] = temperature;
  }
  Facts facts() const {
    return {.params = p,
            .signals = y,
            .thermal = t,
            .gas = gas,
            .coke = coke,
            .feed_flow = feed,
            .applied_current = applied_current,
            .response = response};
  }
};

/// Plants that differ in all that the mode machine looks at.
std::vector<Plant> plants() {
  std::vector<Plant> all;
  for (const uint64_t lost : {uint64_t{0}, bit_of(in_end_temperature), bit_of(in_stack_current)})
    for (const float temperature :
         {1073.15f, 1030.0f, 900.0f})  // warm, below standby_band, below current_temperature
      for (const uint32_t response : {CTL_RESPOND_NONE, CTL_RESPOND_STANDBY, CTL_RESPOND_TRIP}) {
        Plant plant;
        plant.y.lost = lost;
        plant.heat_to(temperature);
        plant.response = response;
        all.push_back(plant);
      }
  return all;
}

ModeMemory memory_in(uint32_t mode, uint32_t flags) {
  ModeMemory m{};
  m.mode = mode;
  m.request_at_trip = CTL_PRODUCTION;
  m.last_request = CTL_PRODUCTION;
  m.reset = flags & 1u;
  m.latched = flags >> 1 & 1u;
  m.wait = (flags & 4u) != 0 ? 30.0f : 0.0f;
  return m;
}

/// What one step may do; empty when it did nothing wrong.
std::string wrong(const ModeMemory& before, const ModeMemory& after, const Facts& f, uint32_t observed,
                  uint32_t request) {
  const uint32_t from = before.mode, to = after.mode;
  const uint32_t standing =
      observed | (reasons_for(f, observed, static_cast<ctl_mode>(from)) & ~CTL_FAULT_FOUND);
  if (to >= CTL_MODES) return "no mode of the list";
  if ((standing & kModes[from].trips) != 0)
    return to == CTL_SAFE && after.tripped == (standing & kModes[from].trips) && after.reset == 0
               ? ""
               : "a condition that trips does not move to safe, or is not reported";
  if (request == CTL_SAFE && from != CTL_OFF &&
      (kModes[from].retreat == 0 || f.response < CTL_RESPOND_STANDBY) &&
      f.thermal.coldest >= f.params.current_temperature && to != CTL_SAFE)
    return "safe is asked for and not reached";
  if (to == from) return "";
  if (from == CTL_SAFE && before.reset == 0 && request == before.request_at_trip)
    return "safe is left without a reset";
  if (from == CTL_SAFE && request >= CTL_MODES) return "safe is left without a request";
  if (from == CTL_PRODUCTION && to == CTL_STANDBY) return "";
  if (to == CTL_SAFE) return request == CTL_SAFE ? "" : "safe without a condition or a request";
  for (const Transition& t : kTransitions) {
    if (t.from != from || t.to != to) continue;
    uint32_t against = reasons_for(f, observed, t.to);
    if (before.latched != 0 && request == before.request_at_trip) against |= CTL_NOT_RESET;
    if (before.wait > f.params.period) against |= CTL_WAIT;
    return (against & t.refused_by) == 0 ? "" : "a transition that its permissives refuse";
  }
  return "a transition that is not in the table";
}

struct Seen {
  std::set<std::pair<uint32_t, uint32_t>> ways;  // from, to
  std::string wrong;
  uint64_t steps = 0;
};

void step(Seen& seen, const Plant& plant, uint32_t mode, uint32_t flags, uint32_t observed,
          uint32_t request) {
  const Facts f = plant.facts();
  const ModeMemory before = memory_in(mode, flags);
  ModeMemory after = before;
  run_modes(after, f, observed, request);
  ++seen.steps;
  std::string found = wrong(before, after, f, observed, request);
  if (after.mode != mode) seen.ways.insert({mode, after.mode});
  if (found.empty() || !seen.wrong.empty()) return;
  seen.wrong = found + ": from " + std::to_string(mode) + " to " + std::to_string(after.mode) +
               ", conditions " + std::to_string(observed) + ", request " + std::to_string(request) +
               ", flags " + std::to_string(flags);
}

}  // namespace

TEST_CASE(
    "every mode, set of conditions and request: interlocks act, permissives hold, a trip waits for a reset") {
  const Plant plant;
  Seen seen;
  for (uint32_t mode = 0; mode < CTL_MODES; ++mode)
    for (uint32_t flags = 0; flags < 8; ++flags)
      for (uint32_t observed = 0; observed < kSets; ++observed)
        for (uint32_t request = 0; request < kRequests; ++request)
          step(seen, plant, mode, flags, observed, request);
  CHECK(seen.wrong == "");
  CHECK(seen.steps == uint64_t{CTL_MODES} * 8 * kSets * kRequests);
  // it has been seen to move: all ways of the table, into safe, and out of production
  for (const Transition& t : kTransitions) CHECK(seen.ways.count({t.from, t.to}) == 1);
  for (uint32_t mode = 1; mode < CTL_SAFE; ++mode) CHECK(seen.ways.count({mode, CTL_SAFE}) == 1);
}

TEST_CASE("the same over plants that are cold, lack sensors or have a diagnosis") {
  // what does not depend on the mode and is observed; the rest the machine works out for itself
  constexpr uint32_t kElsewhere =
      CTL_STACK_COLD | CTL_SENSOR_LOST | CTL_NOT_RESET | CTL_RESTARTS_MANY | CTL_WAIT;
  Seen seen;
  for (const Plant& plant : plants())
    for (uint32_t mode = 0; mode < CTL_MODES; ++mode)
      for (uint32_t flags = 0; flags < 8; ++flags)
        for (uint32_t observed = 0; observed < kSets; ++observed) {
          if ((observed & kElsewhere) != 0) continue;
          for (uint32_t request = 0; request < kRequests; ++request)
            step(seen, plant, mode, flags, observed, request);
        }
  CHECK(seen.wrong == "");
}

TEST_CASE("safe is reached from everywhere, and left again only by another request") {
  const Plant plant;
  for (uint32_t mode = 0; mode < CTL_MODES; ++mode) {
    ModeMemory m = memory_in(mode, 0);
    // off has nothing energised and does not follow a request for safe; all others do, at once
    for (int k = 0; k < 2 && m.mode == CTL_OFF; ++k) run_modes(m, plant.facts(), 0, CTL_WARM_UP);
    run_modes(m, plant.facts(), 0, CTL_SAFE);
    CHECK(m.mode == CTL_SAFE);
    m.request_at_trip = CTL_PRODUCTION;
    m.reset = 0;
    for (int k = 0; k < 1000; ++k) run_modes(m, plant.facts(), 0, CTL_PRODUCTION);
    CHECK(m.mode == CTL_SAFE);
    run_modes(m, plant.facts(), 0, CTL_STANDBY);
    CHECK(m.mode == CTL_STANDBY);
  }
}

namespace {

/// What the last stages make of the worst wishes: everything at full, or not a number.
struct Stages {
  Plant plant;
  Memory m = initial_memory();

  ctl_outputs apply(uint32_t mode, uint32_t observed, float asked) {
    const Facts f = plant.facts();
    const Permission allow = permit(m, f, observed, mode);
    LawOutput output{asked, asked, CTL_BY_DEMAND};
    ctl_outputs out{};
    out.mode = mode;
    out.compressor_speed = limited_feed(m, plant.p, plant.y, output.feed, allow);
    out.stack_current = limited_current(m, plant.p, plant.y, output, allow);
    const float power = allow.heat ? asked : 0.0f;  // run_heat energises nothing that is not enabled
    out.preheater_power = power;
    for (float& end : out.end_power) end = power;
    guard(out, plant.p);
    return out;
  }
};

}  // namespace

TEST_CASE("nothing is energised that the mode or a condition forbids, whatever the law wishes") {
  constexpr uint32_t kBars = kDanger | CTL_MARGIN_LOST | CTL_FAULT_FOUND;
  std::string wrong;
  uint64_t energised[CTL_MODES] = {};
  const auto check = [&](bool good, const char* what, uint32_t mode, uint32_t observed) {
    if (!good && wrong.empty()) wrong = fmt::format("{}: mode {}, conditions {}", what, mode, observed);
  };
  for (const float temperature : {1073.15f, 900.0f, 300.0f})
    for (const uint64_t lost : {uint64_t{0}, bit_of(in_cathode_pressure), ~uint64_t{0}})
      for (const float safe_time : {0.0f, 100.0f})
        for (const float asked : {1e30f, NAN})
          for (uint32_t mode = 0; mode < CTL_MODES; ++mode)
            for (uint32_t observed = 0; observed < kSets; ++observed) {
              Stages s;
              s.plant.heat_to(temperature);
              s.plant.y.lost = lost;
              s.m.mode.mode = mode;
              s.m.safe_time = safe_time;
              s.m.applied_feed = 300.0f;
              s.m.applied_current = safe_time > 0.0f ? 0.0f : 4.0f;
              const ctl_outputs out = s.apply(mode, observed, asked);
              const ModeRow& row = kModes[mode];
              const float heat = out.preheater_power + out.end_power[0] + out.end_power[1];
              const float speed = out.compressor_speed, current = out.stack_current;
              if (heat + speed + current > 0.0f) ++energised[mode];
              check(std::isfinite(heat) && std::isfinite(speed) && std::isfinite(current), "a number", mode,
                    observed);
              check(row.heaters || heat == 0.0f, "heat", mode, observed);
              check(row.flow || speed == 0.0f, "flow", mode, observed);
              check(row.current || current == 0.0f, "current", mode, observed);
              check(speed <= s.plant.p.speed_max && current <= s.plant.p.current_max, "ratings", mode,
                    observed);
              check((observed & CTL_BUS_LOW) == 0 || heat == 0.0f, "heat on a low bus", mode, observed);
              check(speed > 0.0f || current == 0.0f, "current without flow", mode, observed);
              check(lost == 0 || current == 0.0f, "current that nobody sees", mode, observed);
              // a machine that runs when the cold is seen comes down at its rate
              check(
                  temperature > 850.0f || (speed < s.plant.p.speed_max && speed < 300.0f && current == 0.0f),
                  "flow in the cold", mode, observed);
              if (mode != CTL_SAFE) continue;
              check(current <= s.plant.p.protective_current, "more than the protective current", mode,
                    observed);
              check(safe_time > 0.0f || current == 0.0f, "current in the tick of the trip", mode, observed);
              check((observed & kBars) == 0 || current == 0.0f, "current under a condition", mode, observed);
              check((observed & (CTL_OVER_PRESSURE | CTL_BUS_LOW)) == 0 || speed == 0.0f,
                    "flow under pressure", mode, observed);
            }
  CHECK(wrong == "");
  CHECK(energised[CTL_OFF] == 0);
  for (uint32_t mode = 1; mode < CTL_MODES; ++mode) CHECK(energised[mode] > 0);  // it could have been wrong
}
