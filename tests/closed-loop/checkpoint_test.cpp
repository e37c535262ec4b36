// A run that goes on from a checkpoint is the run that was not stopped: every signal of every tick, the figures, the
// events, the verdicts and the next checkpoint, whatever the mode and the faults at that tick.
#include <catch2/catch.hpp>
#include <cstring>
#include <random>

#include "hil-harness/loop/loop_run.hpp"
#include "hil-harness/loop/signals.hpp"
#include "hil-harness/loop/sols.hpp"
#include "hil-harness/verify/judge.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

/// A run with what watches it.
struct Watched {
  explicit Watched(const scenarios::Case& c) : link(c.scenario.controller), watcher(c.scenario) {
    options.watch = [this, period = c.scenario.period](const harness::Snapshot& s) {
      watcher.watch(s);
      if (!sols) sols.emplace(period);
      sols->tick(s);
    };
    run.emplace(c, link, options);
  }
  std::vector<double> signals() const {
    std::size_t width = 0;
    for (const harness::Signal& signal : harness::signal_table()) width += signal.info.width;
    std::vector<double> all(width);
    harness::read_signals(run->snapshot(), all);
    return all;
  }
  harness::InProcess link;
  harness::Watcher watcher;
  std::optional<harness::SolStatistics> sols;
  harness::LoopOptions options;
  std::optional<harness::LoopRun> run;
};

bool same(const std::vector<double>& a, const std::vector<double>& b) {
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0;
}

/// Goes on from a checkpoint at `tick` and beside it without one, for as many ticks again as `more` says.
void check_from(const scenarios::Case& c, std::int64_t tick, std::int64_t more) {
  INFO(c.scenario.title << ", checkpoint before tick " << tick);
  Watched whole(c);
  while (whole.run->next_tick() < tick) REQUIRE(whole.run->step());
  const auto bytes = whole.run->checkpoint();
  REQUIRE(bytes);
  scenarios::Keeper saved;
  saved(whole.watcher, whole.sols->memory());

  Watched resumed(c);
  resumed.sols.emplace(c.scenario.period);
  REQUIRE(resumed.run->go_on_from(*bytes));
  scenarios::Keeper loaded(saved.bytes());
  loaded(resumed.watcher, resumed.sols->memory());
  REQUIRE(loaded.complete());
  REQUIRE(resumed.run->next_tick() == tick);

  for (std::int64_t n = 0; n < more; ++n) {
    const bool goes_on = whole.run->step();
    REQUIRE(resumed.run->step() == goes_on);
    if (!same(whole.signals(), resumed.signals())) FAIL("differs at tick " << whole.run->snapshot().tick);
    if (!goes_on) break;
  }
  const harness::RunRecord a = whole.run->result(), b = resumed.run->result();
  CHECK(std::memcmp(&a.figures, &b.figures, sizeof a.figures) == 0);
  CHECK(a.final_state == b.final_state);
  CHECK(a.steps == b.steps);
  CHECK(a.energy_residual == b.energy_residual);
  CHECK(a.alarms.count == b.alarms.count);
  REQUIRE(a.log_events.size() == b.log_events.size());
  for (std::size_t i = 0; i < a.log_events.size(); ++i) {
    CHECK(a.log_events[i].text == b.log_events[i].text);
    CHECK(a.log_events[i].time == b.log_events[i].time);
  }
  const auto judged = whole.watcher.judge(), judged_again = resumed.watcher.judge();
  REQUIRE(judged.size() == judged_again.size());
  for (std::size_t i = 0; i < judged.size(); ++i) {
    CHECK(judged[i].verdict.outcome == judged_again[i].verdict.outcome);
    CHECK((judged[i].verdict.margin == judged_again[i].verdict.margin ||
           (std::isnan(judged[i].verdict.margin) && std::isnan(judged_again[i].verdict.margin))));
  }
  CHECK(std::memcmp(&whole.sols->memory(), &resumed.sols->memory(), sizeof(harness::SolStatistics::Memory)) ==
        0);
  // what was forgotten and has not shown yet
  CHECK(whole.run->checkpoint() == resumed.run->checkpoint());
}

}  // namespace

// A plug-in shows a copy of its memory; a checkpoint was made of a long run with one, and going on from it crashed.
TEST_CASE("A controller that keeps its memory to itself leaves no checkpoint") {
  class Apart final : public harness::Link {
   public:
    explicit Apart(const ctl_params& params) : inner_(params) {}
    ctl_status step(const ctl_inputs& in, ctl_outputs& out) override { return inner_.step(in, out); }
    const ctl_state* memory() const override { return inner_.memory(); }

   private:
    harness::InProcess inner_;
  };
  const scenarios::Case c = read_shipped(library() / "dawn-dusk/equinox-sol.yaml", {"duration=1 min"});
  Apart link(c.scenario.controller);
  harness::LoopRun run(c, link);
  REQUIRE(run.step());
  CHECK_FALSE(run.checkpoint());
  CHECK_FALSE(run.go_on_from(*harness::LoopRun(c).checkpoint()));
}

TEST_CASE("a run goes on from a checkpoint at random ticks, in all modes and with faults of all kinds") {
  // modes and starts; sensors and actuators; supply and resets of the controller; the wire to it; cells; weather
  const std::vector<std::string> scenarios{"start-stop/cool-down-cancelled.yaml",
                                           "faults/zone-thermocouple-drifts.yaml",
                                           "faults/current-stuck-at-reduced-demand.yaml",
                                           "faults/bus-failure-at-night.yaml",
                                           "faults/repeated-controller-resets.yaml",
                                           "faults/controller-wire-cut-at-dawn.yaml",
                                           "faults/cell-cracks-at-noon.yaml",
                                           "storms/fast-vortex.yaml",
                                           "training/operator-recovers-from-trip.yaml"};
  std::mt19937 random(20261128);  // any seed serves
  for (const std::string& name : scenarios) {
    const auto c = read_shipped(library() / name);
    const auto ticks =
        static_cast<std::int64_t>(std::min(c.scenario.duration, 6.0 * 3600.0) / c.scenario.period);
    check_from(c, std::uniform_int_distribution<std::int64_t>(1, ticks - 1)(random), 1200);
  }
}

TEST_CASE(
    "a run goes on from a checkpoint within each fault, while one waits for its condition, and on a bad "
    "wire") {
  const auto c = read_shipped(
      library() / "dawn-dusk" / "equinox-sol.yaml",
      {"duration=1 h",
       "faults=[{at: 100 s, fault: cathode-pressure-bias, size: 3 kPa, length: 400 s}, {at: 200 s, fault: "
       "filter-blocked, length: 500 s}, {at: 250 s, fault: wire-delay, size: 2 s, length: 100 s}, "
       "{at: 0 "
       "s, fault: gust, size: 12 m/s, length: 60 s, when: 'in the last 5 min always (oxygen_rate > 5 "
       "g/h)'}]"});
  for (const std::int64_t tick : {1, 101, 230, 260, 300, 340, 420, 600}) check_from(c, tick, 400);
}

TEST_CASE("bytes that are no checkpoint of the run are refused") {
  const auto c = read_shipped(library() / "dawn-dusk" / "equinox-sol.yaml", {"duration=1 min"});
  Watched whole(c);
  for (int n = 0; n < 20; ++n) REQUIRE(whole.run->step());
  const std::string bytes = whole.run->checkpoint().value();
  for (const std::string& wrong : {std::string{}, bytes.substr(0, bytes.size() / 2), bytes + "x"})
    CHECK_FALSE(Watched(c).run->go_on_from(wrong));
}
