// A schedule of set-points: the sol that stands for a season, the greatest set-point that holds, the scenario that is left.
// Sources: by hand from the scenario, beside each; requirements whose greatest set-point is known by their own words.
#include <catch2/catch.hpp>

#include "hil-harness/schedule/schedule.hpp"
#include "hil-harness/verify/judge.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;
using harness::Schedule;
using harness::ScheduleTask;
using plant::kSolSeconds;

namespace {

constexpr double kGramPerHour = 1.0 / 3.6e6;

scenarios::Case year(const std::vector<std::string>& settings = {}) {
  return read_shipped(library().parent_path() / "long" / "mars-year.yaml", settings);
}

/// Currents set in advance, few ticks: oxygen does not follow the demand, and a sol takes a tenth of a second.
ScheduleTask quick(const std::string& must) {
  ScheduleTask task;
  task.base = year({"duration=400 sol", "period=10 s", "controller.law=fixed", "turbulence=0"});
  const auto parsed = scenarios::parse_requirement(must, harness::requirement_signals());
  task.base.scenario.requirements = {
      {"asked", must, std::make_shared<const scenarios::Requirement>(parsed.requirement)}};
  task.seasons = 2;
  task.least = 5.0 * kGramPerHour;
  task.most = 15.0 * kGramPerHour;
  task.step = kGramPerHour;
  task.threads = 2;
  return task;
}

}  // namespace

TEST_CASE("a sol in the middle of a year has the season, the storms and the wear of its place") {
  const scenarios::Case base = year();
  const auto sol = harness::sol_of(base, 350, 12.0 * kGramPerHour).scenario;
  CHECK(sol.duration == std::floor(kSolSeconds));
  REQUIRE(sol.commands.size() == 1);
  CHECK(sol.commands[0].mode == CTL_PRODUCTION);
  CHECK(sol.commands[0].oxygen_demand == 12.0 * kGramPerHour);
  CHECK(sol.services.empty());
  CHECK(sol.storms[0].start == Approx((440 - 350) * kSolSeconds));
  // 350 sols after Ls 0 by the clock of the sun (its own tests hold it against the published algorithm)
  CHECK(sol.start.season == Approx(plant::longitude_after_sols(350.0)).margin(0.01));
  CHECK(sol.initial.operating_hours == Approx(350 * kSolSeconds));
  // bearing and seals were renewed at 300 sol 3 h
  CHECK(sol.initial.bearing_hours == Approx(50 * kSolSeconds - 3 * 3600.0));
  CHECK(sol.initial.seals_hours == Approx(50 * kSolSeconds - 3 * 3600.0));
  // so was the filter; the haze of these fifty sols differs from that of the last by less than half
  CHECK(sol.initial.filter_hours > 0.6 * sol.initial.bearing_hours);
  CHECK(sol.initial.filter_hours < 1.5 * sol.initial.bearing_hours);
  // before the first service all that ran counts
  CHECK(harness::sol_of(base, 100, kGramPerHour).scenario.initial.bearing_hours == Approx(100 * kSolSeconds));
}

TEST_CASE("the greatest set-point that holds is found in each season, whatever the number of threads") {
  // thin air: the site has 631 Pa at the least of the year (Ls 150), 716 Pa at sol 200
  ScheduleTask task = quick("always (ambient_pressure > 670 Pa or oxygen_demand < 8.5 g/h)");
  const Schedule schedule = harness::make_schedule(task);
  REQUIRE(schedule.seasons.size() == 2);
  CHECK(schedule.seasons[0].first_sol == 0);
  CHECK(schedule.seasons[0].end_sol == 200);
  CHECK(schedule.seasons[1].end_sol == 400);
  std::vector<double> best;
  for (const auto& season : schedule.seasons) best.push_back(season.best.value_or(0.0) / kGramPerHour);
  CHECK(best[0] == Approx(15.0));
  CHECK(best[1] == Approx(8.0));
  CHECK(*schedule.constant == Approx(8.0 * kGramPerHour));
  CHECK(schedule.total([&](const auto&) { return *schedule.constant; }).violated == 0);
  CHECK(schedule.total([&](const auto&) { return task.most; }).violated == 1);
  task.threads = 1;
  CHECK(harness::schedule_json(task, harness::make_schedule(task)) == harness::schedule_json(task, schedule));

  const auto s = harness::scheduled(task.base, schedule, task.least);
  // the commands of the year (0, 150 sol 2 h and 5 h, 300 sol 2 h and 5 h, ...) and the second season at 200 sols
  REQUIRE(s.commands.size() == task.base.scenario.commands.size() + 1);
  CHECK(s.commands[3].at == 200 * kSolSeconds);
  CHECK(s.commands[3].mode == CTL_PRODUCTION);
  CHECK(s.commands[2].oxygen_demand == Approx(15.0 * kGramPerHour));
  CHECK(s.commands[3].oxygen_demand == Approx(8.0 * kGramPerHour));
  CHECK(s.commands[5].oxygen_demand == Approx(8.0 * kGramPerHour));
}

TEST_CASE("the part of a sol in which a run ends is looked at and counts by its share") {
  ScheduleTask task = quick("always (oxygen_demand < 20 g/h)");
  task.seasons = 1;
  task.least = task.most = 10.0 * kGramPerHour;
  // the air thins towards the least of the year at Ls 150: the last afternoon has the thinnest
  task.base.scenario.start.season = 1.8;
  const auto planned = [&](double sols) {
    task.base.scenario.duration = sols * kSolSeconds;
    return harness::make_schedule(task);
  };
  const Schedule whole = planned(2.0), more = planned(2.9), less = planned(2.1), part = planned(0.5);
  CHECK(whole.seasons[0].sampled_sol == 1);
  CHECK(more.seasons[0].sampled_sol == 2);
  CHECK(less.seasons[0].sampled_sol == 1);  // ends before its afternoon
  const auto oxygen = [](const Schedule& s) {
    return s.total([](const auto& season) { return *season.best; }).oxygen / s.seasons[0].tried[0].oxygen;
  };
  CHECK(oxygen(whole) == Approx(2.0));
  CHECK(oxygen(more) == Approx(2.9));
  CHECK(oxygen(less) == Approx(2.1));
  CHECK(oxygen(part) == Approx(0.5));
}

TEST_CASE("a sol of the plant with modules has those out of service that are out by then") {
  // by hand: module 3 is out from sol 2 to sol 6, module 5 is a spare from sol 4 on; the bus allows less from sol 3 on
  const std::vector<std::string> settings{
      "duration=10 sol",
      "commands=[{at: 0 s, mode: production, demand: 3 kg/h}, {at: 2 sol, module: 3, service: out}, {at: 3 "
      "sol, power_ceiling: 30 kW}, {at: 4 sol, module: 5, service: spare}, {at: 6 sol, module: 3, service: "
      "in}]"};
  const auto read =
      scenarios::read_case(library() / "outpost" / "noon.yaml", DUSKLINE_SOURCE_DIR "/plant-model/plants",
                           settings, harness::requirement_lists());
  INFO(scenarios::to_text(read.problems));
  REQUIRE(read);
  const scenarios::Case& base = *read.value;
  const auto at = [&](std::size_t sol) {
    return harness::sol_of(base, sol, 2000.0 * kGramPerHour).scenario.commands;
  };
  REQUIRE(at(1).size() == 1);
  CHECK(at(1)[0].module == -1);
  const auto fifth = at(5);
  REQUIRE(fifth.size() == 3);
  for (const auto& command : fifth) {
    CHECK(command.at == 0.0);
    CHECK(command.oxygen_demand == 2000.0 * kGramPerHour);
    CHECK(command.power_ceiling == 30e3);
  }
  CHECK(fifth[0].module == -1);
  CHECK((fifth[1].module == 2 && fifth[1].service == CTL_SERVICE_OUT));
  CHECK((fifth[2].module == 4 && fifth[2].service == CTL_SERVICE_SPARE));
  const auto eighth = at(8);
  REQUIRE(eighth.size() == 2);
  CHECK(eighth[1].module == 4);
  // within a sol a command about a module is kept
  const auto third = at(2);
  CHECK(third.back().module == 2);

  Schedule schedule;
  schedule.seasons.resize(2);
  for (std::size_t k = 0; k < 2; ++k) {
    schedule.seasons[k].first_sol = 5 * k;
    schedule.seasons[k].end_sol = 5 * (k + 1);
    schedule.seasons[k].best = (2000.0 + 500.0 * static_cast<double>(k)) * kGramPerHour;
  }
  const auto commands = harness::scheduled(base, schedule, kGramPerHour).commands;
  REQUIRE(commands.size() == 6);
  CHECK(commands[4].at == 5 * kSolSeconds);
  CHECK(commands[4].module == -1);  // module 5 is not asked again
  CHECK(commands[4].power_ceiling == 30e3);
}

TEST_CASE("a season without any set-point that holds is said to have none") {
  const Schedule schedule = harness::make_schedule(quick("always (oxygen_demand < 4 g/h)"));
  CHECK_FALSE(schedule.holds());
  CHECK_FALSE(schedule.constant.has_value());
  CHECK(schedule.seasons[0].tried.front().violated == std::vector<std::string>{"asked"});
}

TEST_CASE("a sol of the scenario that a schedule leaves meets its demand") {
  ScheduleTask task;
  task.base = year({"duration=1 sol"});
  task.seasons = 1;
  task.least = 12.0 * kGramPerHour;
  task.most = 14.0 * kGramPerHour;
  task.step = 2.0 * kGramPerHour;
  const Schedule schedule = harness::make_schedule(task);
  REQUIRE(schedule.holds());
  scenarios::Case proof = task.base;
  proof.scenario = harness::scheduled(task.base, schedule, task.least);
  harness::InProcess link(proof.scenario.controller);
  harness::Watcher watcher(proof.scenario);
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) { watcher.watch(s); };
  const auto record = harness::run_loop(proof, link, options);
  CHECK(harness::all_hold(watcher.judge()));
  const auto predicted = schedule.total([](const auto& s) { return *s.best; });
  CHECK(record.figures.oxygen_delivered == Approx(predicted.oxygen).epsilon(0.01));
}
