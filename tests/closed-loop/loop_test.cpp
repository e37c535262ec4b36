// The loop itself: order of the six steps, what is logged, what is recorded between rows, and how it stops.
#include <algorithm>
#include <atomic>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>

#include "hil-harness/loop/recorder.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

scenarios::Case minutes(const char* duration, std::vector<std::string> more = {}) {
  more.insert(more.begin(), {"duration=" + std::string(duration), "record=1 s", "start.local_time=9 h"});
  return read_shipped(library() / "dawn-dusk" / "equinox-sol.yaml", more);
}

/// The controller in this program; says when it is asked, and with what.
class Noting final : public harness::Link {
 public:
  Noting(const ctl_params& params, std::vector<std::string>& order) : inner_(params), order_(order) {}
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    order_.push_back("control " + std::to_string(in.tick));
    asked = in;
    const ctl_status status = inner_.step(in, out);
    answered = out;
    return status;
  }
  ctl_inputs asked{};
  ctl_outputs answered{};

 private:
  harness::InProcess inner_;
  std::vector<std::string>& order_;
};

std::vector<std::string> of_kind(const harness::RunRecord& run, harness::LogKind kind) {
  std::vector<std::string> texts;
  for (const auto& e : run.log_events)
    if (e.kind == kind) texts.push_back(e.text);
  return texts;
}

}  // namespace

TEST_CASE("a row holds what was true, read and commanded at its instant, and is the last of its tick") {
  const auto c = minutes("20 s", {"commands=[{at: 0 s, mode: production, demand: 10 g/h}, {at: 7 s, mode: "
                                  "production, demand: 8 g/h}]"});
  std::vector<std::string> order;
  Noting link(c.scenario.controller, order);
  plant::State watched{}, after{};
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) {
    order.push_back("actuate " + std::to_string(s.tick));
    if (s.tick > 0) CHECK(*s.state != after);  // the row before showed the state before the plant moved
    watched = *s.state;
  };
  options.record = [&](const harness::Snapshot& s) {
    order.push_back("record " + std::to_string(s.tick));
    CHECK(*s.state == watched);
    CHECK(std::memcmp(&s.measured, &link.asked, sizeof link.asked) == 0);
    CHECK(s.control.stack_current == link.answered.stack_current);
    CHECK(s.measured.oxygen_demand == Approx((s.tick < 7 ? 10.0 : 8.0) * kGramsPerHour));  // the scenario's
    after = *s.state;
    return true;
  };
  const auto run = harness::run_loop(c, link, options);
  REQUIRE(run.ticks == 20);
  std::vector<std::string> promised;
  for (int n = 0; n < 20; ++n)
    for (const char* step : {"control ", "actuate ", "record "}) promised.push_back(step + std::to_string(n));
  CHECK(order == promised);
  CHECK(run.final_state != after);  // the plant moved on after the last row was fixed
}

TEST_CASE("the least and the greatest of every tick stand beside the rows") {
  const Folder folder("extremes");
  const auto record = [&](const char* interval, const std::string& name) {
    const auto c = minutes("10 min", {"record=" + std::string(interval)});
    harness::InProcess link(c.scenario.controller);
    harness::Recorder recorder(folder.file(name), {}, c.scenario.record <= c.scenario.period);
    harness::LoopOptions options;
    options.watch = [&](const harness::Snapshot& s) { recorder.watch(s); };
    options.record = [&](const harness::Snapshot& s) { return recorder.row(s); };
    REQUIRE(harness::run_loop(c, link, options).ticks == 600);
    REQUIRE(recorder.close());
    std::string problem;
    auto trace = harness::TraceReader::open(folder.file(name), problem);
    REQUIRE(trace);
    return std::move(*trace);
  };
  const auto each = record("1 s", "each.nc"), tenth = record("10 s", "tenth.nc");
  CHECK(each.find("coke_margin_min") == nullptr);
  const harness::IntervalExtremes extremes;
  for (const auto& info : extremes.signals()) {
    INFO(info.name);
    const bool least = info.name.ends_with("_min");
    const auto all = each.column(info.name.substr(0, info.name.size() - 4)), found = tenth.column(info.name);
    REQUIRE(found.size() == 60 * info.width);
    REQUIRE(tenth.find(info.name)->cell_method == (least ? "minimum" : "maximum"));
    for (std::size_t row = 0; row < 60; ++row)
      for (std::size_t i = 0; i < info.width; ++i) {
        // a row at tick n covers the ticks n - 9 to n, the first one tick 0 alone
        double expected = all[10 * row * info.width + i];
        for (std::size_t tick = row == 0 ? 0 : 10 * row - 9; tick <= 10 * row; ++tick) {
          const double value = all[tick * info.width + i];
          expected = least ? std::min(expected, value) : std::max(expected, value);
        }
        REQUIRE(found[row * info.width + i] == expected);
      }
  }
}

TEST_CASE("what the operator does is logged, and what is ignored with its reason") {
  const auto c = minutes("3 min", {"operator=[{at: 1 min, action: shelve, alarm: product-impure, for: 1 h}, "
                                   "{at: 2 min, action: reset, alarm: product-impure}, "
                                   "{at: 2 min, action: acknowledge-all}]"});
  const auto run = run_case(c);
  CHECK(of_kind(run, harness::LogKind::operator_action) ==
        std::vector<std::string>{"shelve product-impure for 1 h"});
  CHECK(of_kind(run, harness::LogKind::refusal) ==
        std::vector<std::string>{"reset product-impure is ignored: the alarm is shelved"});
  CHECK(of_kind(run, harness::LogKind::acknowledgement) ==
        std::vector<std::string>{"acknowledge-all: 0 alarms"});
  CHECK(run.alarms.ignored == 1);
}

TEST_CASE("a request that is not permitted is answered in the log") {
  const auto run = run_shipped("start-stop/production-request-to-cold-plant.yaml", {"duration=2 min"});
  const auto refused = of_kind(run, harness::LogKind::refusal);
  REQUIRE_FALSE(refused.empty());
  CHECK(refused.front().starts_with("production is not permitted yet: "));
}

TEST_CASE("a stop is seen in the tick in which it comes") {
  const auto c = minutes("10 min");
  std::atomic<bool> stop = false;
  harness::LoopOptions options;
  options.interrupted = &stop;
  options.watch = [&](const harness::Snapshot& s) { stop = s.tick == 5; };
  std::int64_t last = -1;
  options.record = [&](const harness::Snapshot& s) {
    last = s.tick;
    return true;
  };
  const auto run = run_case(c, options);
  CHECK(run.end.reason == plant::RunEnd::interrupted);
  CHECK(run.ticks <= 6);
  CHECK(last == 5);
}
