// A controller that wakes up beside a running plant takes over what it finds. Bounds: the rates that the
// controller may use (current_rate_down 0.5 A/s) would move far more; 5 % is the design's idea of no bump.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

/// Passes on to one controller and, from a tick on, to another that starts from nothing.
class Swap final : public harness::Link {
 public:
  Swap(const ctl_params& params, std::uint32_t at) : first_(params), second_(params), at_(at) {}
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    return in.tick < at_ ? first_.step(in, out) : second_.step(in, out);
  }
  ctl_status restart(bool) override { return CTL_OK; }

 private:
  harness::InProcess first_, second_;
  std::uint32_t at_;
};

}  // namespace

TEST_CASE("a controller restarted in production takes over without a bump") {
  const auto c = read_shipped(library() / "dawn-dusk" / "equinox-sol.yaml",
                              {"duration=3 h", "record=1 s", "start.local_time=7 h"});
  constexpr std::uint32_t kAt = 5400;
  Swap link(c.scenario.controller, kAt);
  double speed = 0.0, current = 0.0, speed_bump = 0.0, current_bump = 0.0, margin = 1.0, coldest = 2000.0;
  bool always_production = true;
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    if (s.tick == kAt - 1) speed = s.control.compressor_speed, current = s.control.stack_current;
    if (s.tick < kAt) return true;
    always_production = always_production && s.control.mode == CTL_PRODUCTION;
    margin = std::min(margin, s.coke_margin);
    coldest = std::min(coldest, s.coldest);
    if (s.tick > kAt + 60) return true;
    speed_bump = std::max(speed_bump, std::abs(s.control.compressor_speed - speed) / speed);
    current_bump = std::max(current_bump, std::abs(s.control.stack_current - current) / current);
    return true;
  };
  const auto run = harness::run_loop(c, link, options);
  REQUIRE(run.end.reason == plant::RunEnd::reached_end);
  CHECK(always_production);
  CHECK(speed_bump < 0.05);
  CHECK(current_bump < 0.05);
  CHECK(margin > 0.030);
  CHECK(coldest > 1050.0);
}

TEST_CASE("from rest, hot, flow and current begin together and the nickel stays protected") {
  const auto run = run_shipped("dawn-dusk/equinox-sol.yaml",
                               {"duration=1 h", "initial.state=hot-at-rest", "initial.cathode_co=30 %"});
  REQUIRE(run.end.reason == plant::RunEnd::reached_end);
  CHECK(run.figures.time_in_mode[CTL_SAFE] == 0.0);
  CHECK(run.figures.time_in_mode[CTL_PRODUCTION] > 3000.0);
  CHECK(run.figures.nickel_ratio.value > 1.2);  // 1.25; NiO forms below 1
  CHECK(run.figures.coke_margin.value > 0.030);
}
