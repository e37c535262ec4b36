// What people do in a run: the same acts make the same run, whether they are known before or come while it goes on.
#include <catch2/catch.hpp>

#include "hil-harness/loop/loop_run.hpp"
#include "hil-harness/loop/signal_rows.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
namespace fs = std::filesystem;

namespace {

constexpr const char* kActs = R"(format: duskline-acts/1
commands:
  - {at: 5 min, demand: 8 g/h}
  - {at: 12 min, mode: standby}
  - {at: 16 min, mode: production, power_ceiling: 260 W}
operator:
  - {at: 9 min, action: acknowledge-all}
faults:
  - {at: 6 min, fault: recycle-lost}
  - {at: 7 min, fault: gust, size: 12 m/s}
cleared:
  - {at: 11 min, fault: recycle-lost}
causes:
  - {at: 8 min, cause: recycle lost}
notes:
  - {at: 8 min, by: observer, text: "less CO comes back"}
)";

scenarios::Acts acts() {
  auto read = scenarios::parse_acts(kActs, "acts.yaml");
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return *read.value;
}

/// Moves what is due by `time` from one list to the end of another.
template <class Act>
void move_due(std::vector<Act>& from, std::vector<Act>& to, double time) {
  while (!from.empty() && from.front().at <= time) {
    scenarios::insert_act(to, from.front());
    from.erase(from.begin());
  }
}

std::size_t logged(const harness::RunRecord& run, harness::LogKind kind, const std::string& text) {
  std::size_t count = 0;
  for (const harness::LogEvent& e : run.log_events) count += e.kind == kind && e.text == text;
  return count;
}

}  // namespace

TEST_CASE("acts that come while a run goes on make the same run as those that are known before") {
  const auto c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=20 min"});
  const scenarios::Acts all = acts();
  harness::LoopOptions options;
  options.acts = &all;
  const harness::RunRecord before = tests::run_case(c, options);

  scenarios::Acts to_come = acts();
  harness::InProcess link(c.scenario.controller);
  harness::LoopRun run(c, link);
  while (!run.ended()) {
    scenarios::Acts& now = run.acts();
    move_due(to_come.requests, now.requests, run.next_time());
    move_due(to_come.operator_actions, now.operator_actions, run.next_time());
    move_due(to_come.faults, now.faults, run.next_time());
    move_due(to_come.cleared, now.cleared, run.next_time());
    move_due(to_come.causes, now.causes, run.next_time());
    move_due(to_come.notes, now.notes, run.next_time());
    run.step();
  }
  const harness::RunRecord live = run.result();
  CHECK(live.final_state == before.final_state);
  CHECK(live.ticks == 1200);  // 20 min of 1 s
  REQUIRE(live.log_events.size() == before.log_events.size());
  for (std::size_t i = 0; i < live.log_events.size(); ++i)
    CHECK(live.log_events[i].text == before.log_events[i].text);

  using harness::LogKind;
  CHECK(logged(live, LogKind::command, "asked for 8 g/h") == 1);
  CHECK(logged(live, LogKind::command, "asked for production, at most 260 W") == 1);
  CHECK(logged(live, LogKind::cause, "cause named: recycle lost") == 1);
  CHECK(logged(live, LogKind::note, "observer: less CO comes back") == 1);
  CHECK(tests::run_case(c).final_state != live.final_state);
}

namespace {

/// The sol with a fault that people bring in, which has to be that of a scenario with the fault and not that without.
harness::RunRecord brought_in(const char* fault, double at) {
  const auto without =
      tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=10 min"});
  auto with = without;
  with.scenario.faults.push_back(plant::usual_fault(*plant::find_fault(fault), at));
  scenarios::Acts people;
  people.faults = with.scenario.faults;
  harness::LoopOptions options;
  options.acts = &people;
  auto brought = tests::run_case(without, options);
  CHECK(brought.final_state == tests::run_case(with).final_state);
  CHECK(brought.final_state != tests::run_case(without).final_state);
  return brought;
}

}  // namespace

TEST_CASE("weather that people bring in is that of a scenario with it") {
  brought_in("gust", 400.0);
}

TEST_CASE("weather of a scenario that people end before it begins is not in the air") {
  const auto calm = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=10 min"});
  auto gusty = calm;
  gusty.scenario.faults.push_back(plant::usual_fault(*plant::find_fault("gust"), 400.0));
  scenarios::Acts people;
  people.cleared.push_back({100.0, "gust", -1});
  harness::LoopOptions options;
  options.acts = &people;
  CHECK(tests::run_case(gusty, options).final_state == tests::run_case(calm).final_state);
}

TEST_CASE("a fault that begins at the instant at which another one is ended acts") {
  const auto c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=5 min"});
  const plant::FaultRow& row = *plant::find_fault("recycle-lost");
  scenarios::Acts people;
  people.faults = {plant::usual_fault(row, 100.0), plant::usual_fault(row, 200.0)};
  people.cleared.push_back({200.0, "recycle-lost", -1});
  harness::LoopOptions options;
  options.acts = &people;
  std::vector<std::pair<double, bool>> seen;
  for (const auto& e : tests::run_case(c, options).log_events)
    if (e.kind == harness::LogKind::fault) seen.emplace_back(e.time, e.begins);
  CHECK(seen == std::vector<std::pair<double, bool>>{{100.0, true}, {200.0, false}, {200.0, true}});
}

TEST_CASE("a wire that people cut is that of a scenario with it: commands are held, then outputs go off") {
  const auto brought = brought_in("wire-cut", 300.0);
  CHECK(logged(brought, harness::LogKind::wire, "outputs off: no valid answer for 5 ticks") == 1);
}

TEST_CASE("a fault sets in at the tick after its condition has come true, of a scenario or of people") {
  const auto path = tests::library() / "dawn-dusk/equinox-sol.yaml";
  const auto calm = tests::read_shipped(path, {"duration=15 min"});
  auto fault = plant::usual_fault(*plant::find_fault("recycle-lost"), 100.0);
  const auto begins = [](const harness::RunRecord& run) {
    for (const auto& e : run.log_events)
      if (e.kind == harness::LogKind::fault) return e.time;
    return -1.0;
  };
  harness::LoopOptions options;
  scenarios::Acts people;
  options.acts = &people;
  people.requests.push_back({200.0, -1, 8.0 * tests::kGramsPerHour, scenarios::kAsItWas});
  fault.when = "always for 2 min (oxygen_demand < 8.5 g/h)";
  people.faults = {fault};
  const auto brought = tests::run_case(calm, options);
  CHECK(begins(brought) == 321.0);  // 200 s and 2 min settle it at the tick at 320 s
  auto own = calm;
  own.scenario.faults.push_back(fault);
  people.faults.clear();
  CHECK(tests::run_case(own, options).final_state == brought.final_state);
  // the same fault at that time is the same run
  fault.when.clear();
  fault.at = 321.0;
  people.faults = {fault};
  CHECK(tests::run_case(calm, options).final_state == brought.final_state);
  // one that is ended before its condition has come true never sets in
  fault.when = "oxygen_demand < 8.5 g/h";
  fault.at = 0.0;
  people.faults = {fault};
  CHECK(begins(tests::run_case(calm, options)) == 201.0);
  people.cleared.push_back({150.0, "recycle-lost", -1});
  CHECK(begins(tests::run_case(calm, options)) == -1.0);

  const std::string text = scenarios::write_acts(people);
  CHECK(scenarios::write_acts(*scenarios::parse_acts(text, "acts.yaml").value) == text);
  CHECK(text.find("oxygen_demand < 8.5 g/h") != text.npos);
}

TEST_CASE("what is wrong with the condition of a fault is located") {
  const auto root = fs::path(DUSKLINE_SOURCE_DIR);
  const auto said = [&](const std::string& when) {
    const std::vector<std::string> settings{"faults[1].when=" + when};
    return scenarios::to_text(scenarios::read_case(root / "scenarios/exercises/cracked-cell.yaml",
                                                   root / "plant-model" / "plants", settings,
                                                   harness::requirement_signals())
                                  .problems);
  };
  CHECK(said("always for 5 min (mode is production)").empty());
  CHECK(said("mode is prodction").find("faults[1].when: ") != std::string::npos);
  CHECK(said("mode is prodction").find("did you mean 'production'? (column 9 of the sentence)") !=
        std::string::npos);
  CHECK(said("always (mode is production)").find("has a window without an end") != std::string::npos);
}

TEST_CASE("an action on alarms waits for a link that is lost, as a request does") {
  auto c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=10 min"});
  auto lost = plant::usual_fault(*plant::find_fault("link-lost"), 100.0);
  lost.length = 200.0;
  c.scenario.faults.push_back(lost);
  scenarios::Acts people;
  people.requests.push_back({200.0, -1, 8.0 * tests::kGramsPerHour, scenarios::kAsItWas});
  people.operator_actions.push_back({200.0, CTL_ALARM_ACKNOWLEDGE_ALL, CTL_ALARMS, 0.0});
  harness::LoopOptions options;
  options.acts = &people;
  const auto run = tests::run_case(c, options);
  std::vector<double> when;
  for (const auto& e : run.log_events)
    if (e.kind == harness::LogKind::acknowledgement || e.text.find("8 g/h") != std::string::npos)
      when.push_back(e.time);
  CHECK(when == std::vector<double>{300.0, 300.0});  // the link is back at 100 s + 200 s
}

TEST_CASE("ending a fault that does not act is refused and logged") {
  const auto c = tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=1 min"});
  scenarios::Acts people;
  people.cleared.push_back({10.0, "recycle-lost", -1});
  harness::LoopOptions options;
  options.acts = &people;
  CHECK(logged(tests::run_case(c, options), harness::LogKind::fault,
               "recycle-lost cannot be ended: it does not act") == 1);
  people.cleared[0].withdrawn = 1;  // a training session has taken one out of its acts
  const auto read = scenarios::parse_acts(scenarios::write_acts(people), "acts.yaml");
  REQUIRE(read);
  options.acts = &*read.value;
  const auto run = tests::run_case(c, options);
  CHECK(logged(run, harness::LogKind::fault, "recycle-lost cannot be ended: it does not act") == 0);
  CHECK(logged(run, harness::LogKind::fault, "recycle-lost, withdrawn before it began") == 1);
}

TEST_CASE("a file of acts reads back to itself, and every problem of one is located") {
  const std::string text = scenarios::write_acts(acts());
  const auto again = scenarios::parse_acts(text, "acts.yaml");
  REQUIRE(again);
  CHECK(scenarios::write_acts(*again.value) == text);

  const auto bad = scenarios::parse_acts(
      "format: duskline-acts/1\n"
      "commands:\n"
      "  - {at: 5 min, demnd: 8 g/h}\n"
      "  - {at: 4 min, mode: prodution}\n"
      "causes:\n"
      "  - {at: 8 min, cause: recycle lst}\n",
      "acts.yaml");
  REQUIRE_FALSE(bad);
  const std::string said = scenarios::to_text(bad.problems);
  CHECK(said.find("acts.yaml:3:17: commands[1].demnd: ") != said.npos);
  CHECK(said.find("acts.yaml:4:10: commands[2].at: ") != said.npos);
  CHECK(said.find("acts.yaml:4:23: commands[2].mode: 'prodution' is not known; did you mean 'production'?") !=
        said.npos);
  CHECK(said.find("acts.yaml:6:24: causes[1].cause: ") != said.npos);
}
