// Supervision around the plant model: what a trip, a standby, a loss of power and a new ceiling do to the stack.
// Limits: no nickel oxide (ratio above 1, as equilibrium says), the ramp of 4 K/min of the controller with 1.5 K/min
// for gas and end plates, a thousandth of the 3 mmol of nickel within reach of the gas.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

/// The controller with its inputs injectt on their way, and with power that can go: then nothing is driven, and the
/// controller starts again from what it retained.
class Troubled final : public harness::Link {
 public:
  explicit Troubled(const ctl_params& p) : params_(p) { REQUIRE(ctl_init(&state_, &params_) == CTL_OK); }
  std::function<void(ctl_inputs&)> inject = [](ctl_inputs&) {};
  std::function<bool(std::uint32_t)> powered = [](std::uint32_t) { return true; };

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const bool power = powered(in.tick);
    if (!power && had_power_) ctl_retain(&state_, &kept_);
    if (power && !had_power_) REQUIRE(ctl_restart(&state_, &params_, &kept_) == CTL_OK);
    had_power_ = power;
    if (!power) {
      out = ctl_outputs{};
      return CTL_OK;
    }
    ctl_inputs seen = in;
    inject(seen);
    return ctl_step(&state_, &params_, &seen, &out);
  }

 private:
  ctl_params params_;
  ctl_state state_{};
  ctl_retained kept_{};
  bool had_power_ = true;
};

scenarios::Case noon(const char* duration, std::vector<std::string> more = {}) {
  more.insert(more.begin(), {"duration=" + std::string(duration), "record=1 s", "start.local_time=9 h"});
  return read_shipped(library() / "dawn-dusk" / "equinox-sol.yaml", more);
}

/// What is watched from a tick on.
struct Watch {
  double ratio = 1e9, ramp = 0.0, oxide = 0.0;
  std::uint32_t mode = CTL_OFF;
  std::array<double, plant::kZones> minute_ago{};

  void see(const harness::Snapshot& s, std::int64_t from) {
    mode = s.control.mode;
    const auto& zones = s.plant.zone_temperature;
    if (s.tick % 60 == 0) {
      if (s.tick >= from + 60)
        for (std::size_t k = 0; k < plant::kZones; ++k)
          ramp = std::max(ramp, std::abs(zones[k] - minute_ago[k]));
      std::copy(std::begin(zones), std::end(zones), minute_ago.begin());
    }
    if (s.tick < from) return;
    if (std::isfinite(s.nickel_ratio)) ratio = std::min(ratio, s.nickel_ratio);
    oxide = 0.0;
    for (const double held : s.plant.cells.oxide) oxide += held;
  }
};

Watch watched(const scenarios::Case& c, Troubled& link, std::int64_t from) {
  Watch w;
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    w.see(s, from);
    return true;
  };
  REQUIRE(harness::run_loop(c, link, options).end.reason == plant::RunEnd::reached_end);
  return w;
}

}  // namespace

TEST_CASE("after a trip the stack cools within the ramp and the nickel stays metallic") {
  constexpr std::uint32_t kAt = 1800;
  const std::pair<const char*, std::function<void(ctl_inputs&)>> trips[] = {
      {"over-voltage",
       [](ctl_inputs& in) {
         if (in.tick == kAt) in.cell_voltage[3] = 1.6F;
       }},
      {"compressor hot", [](ctl_inputs& in) {
         if (in.tick == kAt) in.compressor_temperature = 430.0F;
       }}};
  for (const auto& [name, inject] : trips) {
    INFO(name);
    const auto c = noon("2 h");
    Troubled link(c.scenario.controller);
    link.inject = inject;
    const Watch w = watched(c, link, kAt);
    CHECK(w.mode == CTL_SAFE);
    CHECK(w.ratio > 1.5);
    CHECK(w.oxide == 0.0);
    CHECK(w.ramp < 5.5);
  }
}

TEST_CASE("an hour of hot standby keeps the nickel protected") {
  const auto run = run_case(noon("75 min", {"initial.state=hot-standby", "initial.cathode_co=30 %",
                                            "commands[1].mode=standby", "commands[1].demand=0 g/h"}));
  REQUIRE(run.end.reason == plant::RunEnd::reached_end);
  CHECK(run.figures.time_in_mode[CTL_STANDBY] > 3600.0);
  CHECK(run.figures.time_in_mode[CTL_SAFE] == 0.0);
  CHECK(run.figures.nickel_ratio.value > 2.0);  // NiO forms below 1
  CHECK(run.figures.oxide_greatest == 0.0);
  CHECK(run.figures.coke_margin.value > 0.030);
}

TEST_CASE("after a loss of power the plant comes back to production by itself") {
  constexpr std::uint32_t kAt = 1800, kFor = 300;
  const auto c = noon("100 min");
  Troubled link(c.scenario.controller);
  link.powered = [](std::uint32_t tick) { return tick < kAt || tick >= kAt + kFor; };
  const Watch w = watched(c, link, kAt + kFor + 300);
  CHECK(w.mode == CTL_PRODUCTION);
  CHECK(w.ratio > 1.0);
  CHECK(w.oxide == 0.0);
}

TEST_CASE("a ceiling is passed for five seconds at most, one that nobody announced for ten") {
  const auto c = read_shipped(library() / "seasons" / "aphelion-night.yaml",
                              {"duration=2 h", "record=1 s", "commands[2].at=1 h", "commands[3].at=1.9 h"});
  for (const bool announced : {true, false}) {
    Troubled link(c.scenario.controller);
    if (!announced) link.inject = [](ctl_inputs& in) { in.ceiling_in = 0.0F; };
    double coldest = 2000.0, above = 0.0, most = 0.0;
    harness::LoopOptions options;
    options.record = [&](const harness::Snapshot& s) {
      const double excess = s.plant.bus_power - static_cast<double>(s.measured.power_ceiling);
      if (excess > 0.0) above += 1.0;
      if (s.tick > 3603) most = std::max(most, excess);
      if (s.tick > 600) coldest = std::min(coldest, s.coldest);
      return true;
    };
    const auto run = harness::run_loop(c, link, options);
    REQUIRE(run.end.reason == plant::RunEnd::reached_end);
    INFO((announced ? "announced" : "not announced")
         << ", above for " << above << " s, later by " << most << " W");
    CHECK(above <= (announced ? 5.0 : 10.0));
    CHECK(most < 1.0);  // W, once the fall at an hour is over
    CHECK(coldest > 1055.0);
    CHECK(run.figures.nickel_ratio.value > 1.5);
  }
}

TEST_CASE("a thermometer that is lost for a minute is replaced, and production goes on") {
  constexpr std::uint32_t kAt = 1800;
  const auto c = noon("1 h");
  Troubled link(c.scenario.controller);
  link.inject = [](ctl_inputs& in) {
    if (in.tick >= kAt && in.tick < kAt + 60) in.end_temperature[0] = NAN;
  };
  const Watch w = watched(c, link, kAt);
  CHECK(w.mode == CTL_PRODUCTION);
  CHECK(w.ratio > 1.5);
  CHECK(w.oxide == 0.0);
}

TEST_CASE("a trip raises one alarm, which the operator acknowledges and resets") {
  constexpr std::uint32_t kAt = 600;
  const auto c =
      noon("30 min",
           {"controller.parameters.detection=0",  // the injectt reading would be suspect too
            "commands=[{at: 0 s, mode: production, demand: 10 g/h}, {at: 15 min, mode: standby}]",
            "operator=[{at: 12 min, action: acknowledge-all}, {at: 20 min, action: reset, "
            "alarm: trip-over-temperature}, {at: 20 min, action: reset, alarm: trip-over-temperature}]"});
  Troubled link(c.scenario.controller);
  link.inject = [](ctl_inputs& in) {
    if (in.tick == kAt) in.compressor_temperature = 430.0F;
  };
  const auto run = harness::run_loop(c, link, {});
  REQUIRE(run.end.reason == plant::RunEnd::reached_end);
  std::vector<std::string> alarms;
  for (const auto& h : run.log_events)
    if (h.kind == harness::LogKind::alarm) alarms.push_back(h.text.substr(0, h.text.find(' ')));
  CHECK(alarms == std::vector<std::string>{"trip-over-temperature"});
  CHECK(run.alarms.count == 1);
  CHECK(run.alarms.max_in_ten_minutes == 1);
  CHECK(run.alarms.standing.empty());
  CHECK(run.alarms.unacknowledged.empty());
  CHECK(run.alarms.ignored == 1);  // the second reset found nothing to reset
}
