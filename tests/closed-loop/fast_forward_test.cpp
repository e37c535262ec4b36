// A run that steps over whole sols against the same run at every tick, and gone on with from a checkpoint.
#include <catch2/catch.hpp>
#include <cstring>

#include "hil-harness/loop/loop_run.hpp"
#include "hil-harness/loop/sols.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

scenarios::Case year(const std::vector<std::string>& more) {
  std::vector<std::string> settings{"duration=9 sol",
                                    "commands=[{at: 0 s, mode: production, demand: 10 g/h}]", "services=[]"};
  settings.insert(settings.end(), more.begin(), more.end());
  return read_shipped(library().parent_path() / "long" / "mars-year.yaml", settings);
}

struct Recorded {
  harness::RunRecord record;
  std::string checkpoint;  ///< where asked for
};

Recorded run(const scenarios::Case& c, const std::string& sols, double checkpoint_at = -1.0) {
  harness::InProcess link(c.scenario.controller);
  harness::SolRecorder rows(sols, {}, c.scenario.period, {1, 1}, {c.scenario.fast_forward_sols > 0, false});
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) { rows.watch(s); };
  harness::LoopRun loop(c, link, options);
  Recorded r;
  while (loop.step())
    if (checkpoint_at > 0.0 && r.checkpoint.empty() && loop.at_checkpoint() &&
        loop.next_time() > checkpoint_at)
      r.checkpoint = loop.checkpoint().value();
  rows.end();
  REQUIRE(rows.file().close());
  r.record = loop.result();
  return r;
}

double sum(const std::vector<double>& v) {
  double all = 0.0;
  for (const double x : v) all += x;
  return all;
}

}  // namespace

TEST_CASE("A fast-forward steps over whole sols, and its sums and wear are those of the run at every tick") {
  const Folder here{"fast-forward"};
  const scenarios::Case whole_case = year({}), fast_case = year({"fast_forward.sols=3"});
  const Recorded whole = run(whole_case, here.file("whole.nc"));
  const Recorded fast = run(fast_case, here.file("fast.nc"), 5.5 * plant::kSolSeconds);
  REQUIRE(whole.record.end.reason == plant::RunEnd::reached_end);
  REQUIRE(fast.record.end.reason == plant::RunEnd::reached_end);
  CHECK(fast.record.end.time == whole.record.end.time);
  // five of nine: three behind the first whole sol, and two so that the last one is simulated
  CHECK(static_cast<double>(fast.record.ticks) < 0.46 * static_cast<double>(whole.record.ticks));

  // docs/how-to/run-a-year.md states these differences, measured
  const harness::Figures &a = whole.record.figures, &b = fast.record.figures;
  CHECK(b.oxygen_made == Approx(a.oxygen_made).epsilon(2e-3));
  CHECK(b.oxygen_delivered == Approx(a.oxygen_delivered).epsilon(2e-3));
  CHECK(b.energy == Approx(a.energy).epsilon(1e-2));
  CHECK(b.oxygen_estimated / b.oxygen_made == Approx(5.0 / 9.0).margin(0.01));
  const plant::Layout layout = plant::Plant(whole_case.plant.parameters).layout();
  const std::size_t dust = layout.index("filter.dust"), ageing = layout.index("cell.ageing[1]");
  CHECK(fast.record.final_state[dust] == Approx(whole.record.final_state[dust]).epsilon(5e-2));
  CHECK(fast.record.final_state[ageing] == Approx(whole.record.final_state[ageing]).epsilon(1e-2));

  // a row for every sol, marked, and totals that hold
  std::string problem;
  const auto rows = harness::TraceReader::open(here.file("fast.nc"), problem);
  REQUIRE(rows);
  REQUIRE(rows->rows() == 10);
  CHECK(rows->column("simulated") == std::vector<double>{1, 1, 0, 0, 0, 1, 0, 0, 1, 1});
  for (std::size_t i = 0; i < 10; ++i) CHECK(rows->column("sol")[i] == static_cast<double>(i + 1));
  CHECK(sum(rows->column("oxygen_made")) == Approx(b.oxygen_made).epsilon(1e-5));
  CHECK(sum(rows->column("covered_time")) == Approx(fast.record.end.time).epsilon(1e-3));
  for (const char* name : {"filter_dust", "ageing", "bearing_wear", "areocentric_longitude"}) {
    INFO(name);
    const auto values = rows->column(name);
    CHECK(std::is_sorted(values.begin(), values.end()));
  }

  // gone on with from a checkpoint behind the first stretch that was stepped over
  harness::InProcess link(fast_case.scenario.controller);
  harness::LoopRun resumed(fast_case, link);
  REQUIRE(resumed.go_on_from(fast.checkpoint));
  while (resumed.step()) {
  }
  const harness::RunRecord again = resumed.result();
  CHECK(again.final_state == fast.record.final_state);
  CHECK(std::memcmp(&again.figures, &b, sizeof b) == 0);
  CHECK(again.ticks == fast.record.ticks);
}

TEST_CASE("A fast-forward simulates the sol of a service and its neighbours") {
  const Folder here{"fast-forward-service"};
  const Recorded fast = run(
      year({"fast_forward.sols=3", "duration=7 sol", "period=5 s", "services=[{at: 4 sol, part: filter}]"}),
      here.file("fast.nc"));
  std::string problem;
  const auto rows = harness::TraceReader::open(here.file("fast.nc"), problem);
  REQUIRE(rows);
  // the service is in the fifth row (the run begins at 6 h): rows 4 to 6 are simulated, and the last two
  const auto simulated = rows->column("simulated");
  REQUIRE(simulated.size() == 8);
  for (const std::size_t row : {3, 4, 5}) CHECK(simulated[row] == 1.0);
  CHECK(simulated[2] == 0.0);
}
