// Figures of the alarm log on synthetic logs, worked out by hand from the definitions in its head.
#include "hil-harness/loop/alarm_log.hpp"

#include <catch2/catch.hpp>

#include "controller/include/plant_controller.h"

using namespace duskline::harness;

namespace {

/// Ticks of 1 s; an alarm "begins" at each of the times given and is gone in the next tick.
AlarmFigures run(const std::vector<std::pair<int, std::size_t>>& begins, int seconds, AlarmLog& log) {
  for (int t = 0; t < seconds; ++t) {
    ctl_outputs out{};
    for (const auto& [time, alarm] : begins)
      if (time == t) out.alarm_state[alarm] = CTL_ALARM_UNACKNOWLEDGED;
    log.tick(std::span(out.alarm_state, CTL_ALARMS), 0, t, 1.0);
  }
  return log.figures();
}

}  // namespace

TEST_CASE("a flood begins with the tenth alarm in ten minutes and ends below five") {
  // twelve alarms at 0, 49, ..., 539 s, then four: at 650, 700, 1200 and 1250 s
  std::vector<std::pair<int, std::size_t>> begins;
  for (int k = 0; k < 12; ++k) begins.push_back({k * 49, static_cast<std::size_t>(k)});
  for (const int t : {650, 700, 1200, 1250}) begins.push_back({t, 20});
  AlarmLog log(module_alarm_names());
  const AlarmFigures f = run(begins, 3600, log);
  CHECK(f.count == 16);
  // on at 441 s, the tenth. At 993 s the window holds 441, 490, 539, 650, 700; at 1042 s 441 has left: four
  CHECK(f.time_in_flood == 1042.0 - 441.0);
  CHECK(f.share_in_flood == Approx(601.0 / 3600.0));
  CHECK(f.max_in_ten_minutes == 12);
  CHECK(f.share_over_ten == Approx(1.0 / 6.0));
  CHECK(f.per_ten_minutes == Approx(16.0 / 6.0));
  CHECK(f.top_ten_share == Approx((4.0 + 9.0) / 16.0));  // number 20 four times, nine of the others once
  CHECK(f.most_frequent.front() == alarm_info(20).word);
  CHECK(f.chattering.empty());
}

TEST_CASE("three activations within a minute are chattering, two are not") {
  AlarmLog two(module_alarm_names()), three(module_alarm_names());
  CHECK(run({{0, 3}, {30, 3}, {91, 3}}, 200, two).chattering.empty());
  CHECK(run({{0, 3}, {30, 3}, {60, 3}}, 200, three).chattering ==
        std::vector<std::string>{alarm_info(3).word});
}

TEST_CASE("an alarm that stands for more than a day is stale, and what stands at the end is reported") {
  AlarmLog log(module_alarm_names());
  ctl_outputs out{};
  out.alarm_state[5] = CTL_ALARM_ACKNOWLEDGED;
  const std::span states(out.alarm_state, CTL_ALARMS);
  for (double t = 0.0; t <= 86400.0; t += 600.0) log.tick(states, 0, t, 600.0);
  CHECK(log.figures().stale.empty());
  log.tick(states, 0, 87000.0, 600.0);
  CHECK(log.figures().stale == std::vector<std::string>{alarm_info(5).word});
  CHECK(log.figures().standing == std::vector<std::string>{alarm_info(5).word});
  CHECK(log.figures().unacknowledged.empty());
  CHECK(log.figures().count == 0);  // it never came to be unacknowledged here
}

TEST_CASE("a run without alarms has no figures but zeros") {
  AlarmLog log(module_alarm_names());
  const AlarmFigures f = run({}, 1200, log);
  CHECK(f.count == 0);
  CHECK(f.max_in_ten_minutes == 0);
  CHECK(f.top_ten_share == 0.0);
  CHECK(f.standing.empty());
}

TEST_CASE("the alarms of a plant are its own and those of each module") {
  constexpr std::size_t of_plant = CTL_PLANT_ALARMS, of_module = CTL_ALARMS;
  const std::vector<std::string> names = plant_alarm_names(2);
  REQUIRE(names.size() == of_plant + 2 * of_module);
  AlarmLog log(names);
  std::vector<std::uint8_t> states(names.size());
  states[0] = states[of_plant] = states[of_plant + of_module] = CTL_ALARM_UNACKNOWLEDGED;
  CHECK(log.tick(states, 2, 0.0, 1.0).size() == 3);
  const AlarmFigures f = log.figures();
  CHECK(f.count == 3);
  CHECK(f.ignored == 2);
  const std::string word = alarm_info(0).word;
  CHECK(f.standing == std::vector<std::string>{names[0], "module 1: " + word, "module 2: " + word});
}
