// Alarms: all states and events, the sequences of ANSI/ISA-18.2-2016 and IEC 62682:2014 (transitions as listed
// there: A-B alarm, B-C acknowledge, B-D and C-A clear, D-A acknowledge, D-B and C-B alarm again, latching B-E and
// C-F clear, E-F acknowledge, F-A reset, E-B and F-B alarm again, any of A-F to G, H, I and back to A or B).
#include <catch2/catch.hpp>
#include <cmath>
#include <set>
#include <string>

#include "controller/supervise/alarms.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::controller;
using duskline::test::default_params;
using duskline::test::Rig;
using duskline::test::rig_in;

namespace {

constexpr char kLetters[] = "ABCDEFGHI";

/// The next state as a letter; '.' stands for an event that is ignored.
char next(char state, uint32_t event, bool active, bool latched) {
  const uint8_t to = alarm_next(static_cast<uint32_t>(state - 'A'), event, active, latched);
  return to == kNoTransition ? '.' : kLetters[to];
}

/// One alarm under test: facts that make nothing stand.
struct Bench {
  ctl_params p = default_params();
  AlarmMemory m{};
  AlarmFacts f{CTL_PRODUCTION, 0, 0, 0, 0, 0, {1.0f, 0.0f, 300.0f, 40000.0f, 28.0f, 0.99f, 1073.0f, 1.0f}};

  void tick(AlarmAction a = {}) { run_alarms(m, p, f, a); }
  void ticks(int n) {
    for (int k = 0; k < n; ++k) tick();
  }
  char state(uint32_t k) const { return kLetters[m.state[k]]; }
};

constexpr AlarmAction act(uint32_t action, uint32_t number, float time = 0.0f, uint32_t maintenance = 0) {
  return {action, number, maintenance, time};
}

}  // namespace

TEST_CASE("every state meets every event as the standards list it") {
  // rows: events in the order of AlarmEvent; columns: states A to I; first the condition gone, then standing
  const std::string plain_gone[] = {"B..B.....", ".DA......", ".C.A.....", "......",    "GGGGGG...",
                                    "......A..", "HHHHHH...", ".......A.", "IIIIII...", "........A"};
  REQUIRE(kAlarmEvents == std::size(plain_gone));
  for (uint32_t event = 0; event < kAlarmEvents; ++event)
    for (char state = 'A'; state <= 'I'; ++state)
      for (const bool active : {false, true})
        for (const bool latched : {false, true}) {
          std::string row = plain_gone[event];
          row.resize(9, '.');
          char expected = row[static_cast<std::size_t>(state - 'A')];
          // E and F exist for latched alarms; their transitions are the same whatever the row says
          if (event == alarm_begins && (state == 'E' || state == 'F')) expected = 'B';
          if (event == alarm_acknowledge && state == 'E') expected = 'F';
          if (event == alarm_reset && state == 'F') expected = 'A';
          if (latched && event == alarm_clears && state == 'B') expected = 'E';
          if (latched && event == alarm_clears && state == 'C') expected = 'F';
          const bool release = event == alarm_unshelve || event == alarm_release || event == alarm_return;
          if (release && expected == 'A' && active) expected = 'B';
          INFO("event " << event << " in " << state << (active ? " active" : "")
                        << (latched ? " latched" : ""));
          CHECK(next(state, event, active, latched) == expected);
        }
}

TEST_CASE("the rows of the table are sound") {
  std::set<std::string> words, identifiers;
#define ADD(identifier, number, word, severity, minutes, priority, latched, on, off, source, argument, \
            limit, dead_band, suppressed, consequence, cause, action)                                  \
  CHECK(words.insert(word).second);                                                                    \
  CHECK(std::string(consequence).size() > 10);                                                         \
  CHECK(std::string(cause).size() > 3);                                                                \
  CHECK(std::string(action).size() > 10);
  CTL_ALARM_LIST(ADD)
#undef ADD
  CHECK(words.size() == CTL_ALARMS);
  CHECK(CTL_ALARMS >= 20);
  CHECK(CTL_ALARMS <= CTL_ALARM_CAPACITY);
  int by_priority[CTL_PRIORITIES] = {};
  for (const AlarmRow& a : kAlarms) ++by_priority[a.priority];
  CHECK(by_priority[CTL_URGENT] == 0);  // what cannot wait three minutes is an interlock
  CHECK(by_priority[CTL_HIGH] * 5 <= static_cast<int>(CTL_ALARMS));  // high stays rare: a fifth at most
  // every diagnosis that asks for an action has an alarm; those that are events have none
  uint32_t covered = 0;
  for (const AlarmRow& a : kAlarms)
    if (a.source == CTL_FROM_DIAGNOSIS) covered |= a.argument;
  uint32_t all = 0;
#define ALL(identifier, bit, word, response, meaning) all |= 1u << (bit);
  CTL_DIAGNOSIS_LIST(ALL)
#undef ALL
  const uint32_t others = CTL_CLOCK_JUMPED | CTL_RESTARTED | CTL_WEATHER_FAST |
                          CTL_CURRENT_DEVIATION |  // makes safe: trip-diagnosed-fault
                          CTL_BUS_WEAK;            // bus-voltage-low, from the voltage itself
  CHECK((covered | others) == all);
  CHECK((covered & others) == 0);
  // every measurement belongs to exactly one group
  uint64_t once = 0;
  for (uint32_t g = 0; g < CTL_ALARM_GROUPS; ++g) {
    CHECK((once & inputs_of(g)) == 0);
    once |= inputs_of(g);
  }
  CHECK(once == (uint64_t{1} << kInputs) - 1);
}

TEST_CASE("priority follows from severity and time to respond") {
  CHECK(priority_of(CTL_MINOR, 1.0f) == CTL_MEDIUM);
  CHECK(priority_of(CTL_MINOR, 10.0f) == CTL_LOW);
  CHECK(priority_of(CTL_MAJOR, 10.0f) == CTL_MEDIUM);
  CHECK(priority_of(CTL_MAJOR, 60.0f) == CTL_LOW);
  CHECK(priority_of(CTL_SEVERE, 2.0f) == CTL_URGENT);
  CHECK(priority_of(CTL_SEVERE, 10.0f) == CTL_HIGH);
  CHECK(priority_of(CTL_SEVERE, 30.0f) == CTL_MEDIUM);
}

TEST_CASE("published sequences: alarm, acknowledge, clear, clear before acknowledge, latched until reset") {
  Bench plain;  // CTL_ALARM_BUS: not latched, 5 s on, 15 s off, 24 V with 0.5 V
  plain.f.quantity[CTL_WATCH_BUS] = 23.0f;
  plain.ticks(6);
  CHECK(plain.state(CTL_ALARM_BUS) == 'B');
  plain.tick(act(CTL_ALARM_ACKNOWLEDGE, CTL_ALARM_BUS));
  CHECK(plain.state(CTL_ALARM_BUS) == 'C');
  plain.f.quantity[CTL_WATCH_BUS] = 28.0f;
  plain.ticks(16);
  CHECK(plain.state(CTL_ALARM_BUS) == 'A');
  plain.f.quantity[CTL_WATCH_BUS] = 23.0f;
  plain.ticks(6);
  plain.f.quantity[CTL_WATCH_BUS] = 28.0f;
  plain.ticks(16);
  CHECK(plain.state(CTL_ALARM_BUS) == 'D');
  plain.f.quantity[CTL_WATCH_BUS] = 23.0f;
  plain.ticks(6);
  CHECK(plain.state(CTL_ALARM_BUS) == 'B');  // alarm again
  plain.f.quantity[CTL_WATCH_BUS] = 28.0f;
  plain.ticks(16);
  plain.tick(act(CTL_ALARM_ACKNOWLEDGE_ALL, 0));
  CHECK(plain.state(CTL_ALARM_BUS) == 'A');
  CHECK(plain.m.ignored == 0);

  Bench latched;  // CTL_ALARM_TRIP_VOLTAGE
  const uint32_t k = CTL_ALARM_TRIP_VOLTAGE;
  latched.f.mode = CTL_SAFE;
  latched.f.tripped = CTL_OVER_VOLTAGE;
  latched.tick();
  CHECK(latched.state(k) == 'B');
  latched.f.tripped = 0;
  latched.tick();
  CHECK(latched.state(k) == 'E');
  latched.tick(act(CTL_ALARM_RESET, k));  // not seen yet: refused
  CHECK(latched.state(k) == 'E');
  CHECK(latched.m.ignored == 1);
  latched.tick(act(CTL_ALARM_ACKNOWLEDGE, k));
  CHECK(latched.state(k) == 'F');
  latched.f.tripped = CTL_OVER_VOLTAGE;
  latched.tick();
  CHECK(latched.state(k) == 'B');
  latched.tick(act(CTL_ALARM_ACKNOWLEDGE, k));
  latched.f.tripped = 0;
  latched.tick();
  CHECK(latched.state(k) == 'F');
  latched.tick(act(CTL_ALARM_RESET, k));
  CHECK(latched.state(k) == 'A');
}

TEST_CASE("a sine smaller than half the dead-band activates once, a spike shorter than the delay never") {
  Bench b;
  const uint32_t k = CTL_ALARM_BUS;
  int activations = 0;
  bool was = false;
  for (int n = 0; n < 3600; ++n) {
    b.f.quantity[CTL_WATCH_BUS] =
        24.0f + 0.49f * 0.5f * std::sin(2.0f * 3.14159265f * static_cast<float>(n) / 40.0f);
    b.tick();
    const bool is = b.m.active[k] != 0;
    activations += is && !was ? 1 : 0;
    was = is;
  }
  CHECK(activations == 1);
  CHECK(was);

  Bench spike;
  for (int n = 0; n < 600; ++n) {
    spike.f.quantity[CTL_WATCH_BUS] = n % 20 < 5 ? 20.0f : 28.0f;  // 5 ticks span 4 s, the delay is 5 s
    spike.tick();
    REQUIRE(spike.state(k) == 'A');
  }
}

TEST_CASE("what needs a repair and shows at some hours of the sol is two alarms, not one a sol") {
  Bench b;
  const uint32_t k = CTL_ALARM_BEARING;
  constexpr int kSol = 88775, kHour = 3600;
  int began = 0;
  const auto run = [&](int ticks, uint32_t diagnosed) {
    b.f.diagnosed = diagnosed;
    for (int n = 0; n < ticks; ++n) {
      const bool was = b.m.active[k] != 0;
      b.tick();
      began += b.m.active[k] != 0 && !was ? 1 : 0;
    }
  };
  for (int sol = 0; sol < 5; ++sol) {
    run(2 * kHour, CTL_BEARING_WORN);
    run(kSol - 2 * kHour, 0);
  }
  CHECK(began == 2);
  CHECK(b.m.active[k] != 0);
  run(2 * kHour - 60, 0);  // 22.7 h of the last sol are behind: a sol has not passed
  CHECK(b.m.active[k] != 0);
  run(120, 0);
  CHECK(b.m.active[k] == 0);
  run(2 * kHour, CTL_BEARING_WORN);  // worn anew, and changed at once: gone after the off-delay of its row
  run(601, 0);
  CHECK(b.m.active[k] == 0);
  CHECK(began == 3);
}

TEST_CASE("an unknown quantity leaves the condition as it was") {
  Bench b;
  b.f.quantity[CTL_WATCH_SHELL] = 410.0f;
  b.ticks(70);
  REQUIRE(b.state(CTL_ALARM_SHELL) == 'B');
  b.f.quantity[CTL_WATCH_SHELL] = NAN;
  b.ticks(600);
  CHECK(b.state(CTL_ALARM_SHELL) == 'B');
  b.f.quantity[CTL_WATCH_SHELL] = 380.0f;
  b.ticks(70);
  CHECK(b.state(CTL_ALARM_SHELL) == 'D');
}

TEST_CASE("shelving ends by itself, by the operator, and never lasts longer than it may") {
  Bench b;
  const uint32_t k = CTL_ALARM_FILTER;
  b.f.diagnosed = CTL_FILTER_LOADED;
  b.ticks(70);
  REQUIRE(b.state(k) == 'B');
  b.tick(act(CTL_ALARM_SHELVE, k, 100.0f));
  CHECK(b.state(k) == 'G');
  b.ticks(99);
  CHECK(b.state(k) == 'G');
  b.ticks(1);
  CHECK(b.state(k) == 'B');  // the condition still stands
  b.tick(act(CTL_ALARM_SHELVE, k, 100.0f));
  b.tick(act(CTL_ALARM_UNSHELVE, k));
  CHECK(b.state(k) == 'B');
  uint32_t refused = b.m.ignored;
  CHECK(refused == 0);
  for (const float time : {0.0f, -5.0f, b.p.shelve_max * 1.01f, NAN, INFINITY}) {
    b.tick(act(CTL_ALARM_SHELVE, k, time));
    CHECK(b.state(k) == 'B');
    CHECK(b.m.ignored == ++refused);
  }
  b.tick(act(CTL_ALARM_SHELVE, k, b.p.shelve_max));
  CHECK(b.state(k) == 'G');
}

TEST_CASE("suppression by design follows the mode, and a trip leaves the alarm of its first reason alone") {
  Bench b;
  const uint32_t k = CTL_ALARM_FLOW;
  b.f.mode = CTL_OFF;
  b.f.standing = CTL_NO_FLOW;
  b.ticks(100);
  CHECK(b.state(k) == 'H');
  b.f.mode = CTL_STANDBY;
  b.tick();
  CHECK(b.state(k) == 'B');  // released by its condition
  b.f.mode = CTL_OFF;
  b.tick();
  CHECK(b.state(k) == 'H');

  // a plant that tripped: no flow, no protection, no margin, a wild product; one alarm
  Bench flood;
  flood.f.mode = CTL_SAFE;
  flood.f.tripped = CTL_OVER_PRESSURE;
  flood.f.standing = CTL_OVER_PRESSURE | CTL_NO_FLOW | CTL_NO_PROTECTION;
  flood.f.quantity[CTL_WATCH_MARGIN] = -1.0f;
  flood.f.quantity[CTL_WATCH_CATHODE] = 95000.0f;
  flood.f.quantity[CTL_WATCH_PURITY] = 0.2f;
  flood.ticks(2000);
  int standing = 0;
  for (uint32_t n = 0; n < CTL_ALARMS; ++n) standing += flood.state(n) == 'B' ? 1 : 0;
  CHECK(standing == 1);
  CHECK(flood.state(CTL_ALARM_TRIP_PRESSURE) == 'B');
}

TEST_CASE("maintenance alone takes an alarm out of service") {
  Bench b;
  const uint32_t k = CTL_ALARM_RECYCLE;
  b.tick(act(CTL_ALARM_REMOVE, k));
  CHECK(b.state(k) == 'A');
  CHECK(b.m.ignored == 1);
  b.tick(act(CTL_ALARM_REMOVE, k, 0.0f, 1));
  CHECK(b.state(k) == 'I');
  b.f.diagnosed = CTL_RECYCLE_LOST;
  b.ticks(100);
  CHECK(b.state(k) == 'I');
  b.tick(act(CTL_ALARM_SHELVE, k, 60.0f));
  CHECK(b.state(k) == 'I');
  b.tick(act(CTL_ALARM_RETURN, k));
  CHECK(b.state(k) == 'I');
  b.tick(act(CTL_ALARM_RETURN, k, 0.0f, 1));
  CHECK(b.state(k) == 'B');
  CHECK(b.m.ignored == 3);
  b.tick(act(CTL_ALARM_ACKNOWLEDGE, CTL_ALARMS));
  b.tick(act(CTL_ALARM_ACTIONS, 0));
  b.tick(act(0xffffffffu, 0xffffffffu));
  CHECK(b.m.ignored == 6);
}

TEST_CASE("in the controller: no alarm in steady production, one after a trip, and the operator clears it") {
  Rig rig = rig_in(CTL_PRODUCTION);
  rig.run(CTL_PRODUCTION, 300);
  CHECK(rig.out.alarms_active == 0);
  CHECK(rig.out.alarms_unacknowledged == 0);
  rig.step(CTL_PRODUCTION, [](ctl_inputs& in) { in.compressor_temperature = 430.0f; });
  CHECK(rig.out.mode == CTL_SAFE);
  CHECK(rig.out.alarm_state[CTL_ALARM_TRIP_TEMPERATURE] == CTL_ALARM_UNACKNOWLEDGED);
  rig.run(CTL_PRODUCTION, 300);
  CHECK(rig.out.alarms_active == 1);
  rig.run(CTL_STANDBY, 5);
  CHECK(rig.out.alarm_state[CTL_ALARM_TRIP_TEMPERATURE] == CTL_ALARM_LATCHED);
  rig.step(CTL_STANDBY, [](ctl_inputs& in) { in.alarm_action = CTL_ALARM_ACKNOWLEDGE_ALL; });
  CHECK(rig.out.alarms_unacknowledged == 0);
  rig.step(CTL_STANDBY, [](ctl_inputs& in) {
    in.alarm_action = CTL_ALARM_RESET;
    in.alarm_number = CTL_ALARM_TRIP_TEMPERATURE;
  });
  CHECK(rig.out.alarm_state[CTL_ALARM_TRIP_TEMPERATURE] == CTL_ALARM_NORMAL);
  CHECK(rig.out.alarms_ignored == 0);
}
