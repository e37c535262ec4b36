// A run held to the clock: when ticks begin, what counts as late, percentiles. The clock is one that we move.
#include "hil-harness/loop/pacer.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <vector>

using namespace duskline::harness;

namespace {

/// Wakes `late` ns after the instant that was asked for.
class HandClock final : public PaceClock {
 public:
  std::int64_t now() override { return at; }
  void sleep_until(std::int64_t instant) override { at = instant + late; }
  std::int64_t at = 7, late = 0;
};

constexpr std::int64_t kMilli = 1000000;  // ns

}  // namespace

TEST_CASE("Ticks begin at absolute instants: neither work nor a late awakening adds up") {
  HandClock clock;
  Pacer pacer(0.1, 2.0, clock);  // 0.1 s of plant at twice real time: 50 ms of the clock
  clock.late = kMilli;
  for (int n = 0; n < 100; ++n) {
    REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
    CHECK(clock.at == 7 + n * 50 * kMilli + (n == 0 ? 0 : kMilli));
    clock.at += (n % 7) * kMilli;  // work
  }
  const Timing& t = pacer.timing();
  CHECK(t.ticks == 100);
  CHECK(t.overruns == 0);
  CHECK(t.begin.count() == 99);
  CHECK(t.begin.greatest() == Approx(1e-3));
  CHECK(t.step.greatest() == Approx(1e-3));  // the first tick was not late, the second one was
  CHECK(t.step.percentile(0.5) < 1e-6);
  CHECK(t.work.greatest() == Approx(6e-3));
}

TEST_CASE("A tick that takes too long is an overrun, and the next ones catch up") {
  HandClock clock;
  Pacer pacer(0.1, 1.0, clock);
  REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
  clock.at += 250 * kMilli;
  for (int n = 1; n <= 2; ++n) {  // due at 100 and 200 ms
    REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
    CHECK(clock.at == 7 + 250 * kMilli);
  }
  REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
  CHECK(clock.at == 7 + 300 * kMilli);
  CHECK(pacer.timing().overruns == 2);
  CHECK(pacer.timing().behind == Approx(0.15));
}

TEST_CASE("Too far behind the clock ends the run, so does a stop while waiting") {
  HandClock clock;
  Pacer pacer(0.1, 1.0, clock);
  REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
  clock.at += 5099 * kMilli;
  REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
  clock.at += 102 * kMilli;
  CHECK(pacer.begin_tick() == Pacer::Begin::behind);
  CHECK(pacer.timing().ticks == 2);

  Pacer other(0.1, 1.0, clock);
  const std::atomic<bool> stop = true;
  CHECK(other.begin_tick(&stop) == Pacer::Begin::due);  // the first one is due at once
  CHECK(other.begin_tick(&stop) == Pacer::Begin::stopped);
}

TEST_CASE("An answer that takes longer than the period is late") {
  HandClock clock;
  Pacer pacer(0.1, 1.0, clock);
  for (const std::int64_t took : {kMilli, 99 * kMilli, 101 * kMilli, kMilli}) {
    pacer.asked();
    clock.at += took;
    pacer.answered();
  }
  CHECK(pacer.timing().answer.count() == 3);
  CHECK(pacer.timing().late == 1);
  CHECK(pacer.timing().answer.greatest() == Approx(0.101));
}

TEST_CASE("The clock of a run starts with the first answer: waiting for a connection is no overrun") {
  HandClock clock;
  Pacer pacer(0.1, 1.0, clock);
  std::int64_t start = 0;
  for (int n = 0; n < 5; ++n) {
    REQUIRE(pacer.begin_tick() == Pacer::Begin::due);
    CHECK(clock.at == (n == 0 ? 7 : start + n * 100 * kMilli));
    pacer.asked();
    clock.at += n == 0 ? 8000 * kMilli : kMilli;  // longer than what ends a run that falls behind
    pacer.answered();
    if (n == 0) start = clock.at;
    clock.at += 2 * kMilli;
  }
  const Timing& t = pacer.timing();
  CHECK(t.overruns == 0);
  CHECK(t.late == 0);
  CHECK(t.behind == 0.0);
  CHECK(t.answer.count() == 4);
  CHECK(t.answer.greatest() == Approx(1e-3));
  CHECK(t.step.greatest() == 0.0);
}

TEST_CASE("Percentiles of a spread are those of the lengths, at most 4.8 % above") {
  Durations spread;
  CHECK(spread.percentile(0.5) == 0.0);
  for (int k = 1; k <= 1000; ++k) spread.add(k * 1e-6);
  // of 1 to 1000 us the share p is p * 1000 us, by counting
  for (const double share : {0.5, 0.9, 0.99, 0.999}) {
    CHECK(spread.percentile(share) >= share * 1e-3 * (1 - 1e-9));
    CHECK(spread.percentile(share) <= share * 1e-3 * 1.048);
  }
  CHECK(spread.percentile(1.0) == Approx(1e-3));
  CHECK(spread.mean() == Approx(500.5e-6));
  std::uint64_t sum = 0;
  spread.each_bin(10, [&](double from, double to, std::uint64_t count) {
    CHECK(to / from == Approx(1.584893).epsilon(1e-6));  // a fifth of a decade
    sum += count;
  });
  CHECK(sum == 1000);
  spread.add(0.0);
  spread.add(1e9);  // both are counted
  CHECK(spread.count() == 1002);
  CHECK(spread.percentile(1.0) == 1e9);
}

TEST_CASE("The timing of a run is JSON with all percentiles") {
  Timing timing;
  timing.period = 0.1, timing.speed = 1.0, timing.ticks = 3, timing.late = 1;
  timing.answer.add(2e-3);
  const auto json = nlohmann::json::parse(timing_json(timing));
  CHECK(json["late_answers"] == 1);
  const auto& answer = json["spreads"][2];
  CHECK(answer["name"] == "answer");
  CHECK(answer["greatest"] == 2000);
  CHECK(answer["histogram"][0]["count"] == 1);
}
