// One instrument fault, then one plant fault: cases of the matrix (duskline_fault_pairs), each with what became of
// it before the four rules (supervision.md), where that was run; the others are cases of the outside review. Bounds: a margin of 0 is the onset of carbon, a ratio of 1 the limit of NiO
// beside Ni (JANAF, see the cell's page); 10 s to act as the page has it.
#include <catch2/catch.hpp>

#include "tests/matrix/pairs.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

enum class Order { instrument_first, plant_first };

Outcome pair_at(std::size_t place, const char* instrument, double size, const char* fault, double fault_size,
                Order order = Order::instrument_first) {
  const Variant a = variant(*plant::find_fault(instrument), size);
  const Variant b = variant(*plant::find_fault(fault), fault_size);
  return run_pair(case_of(kPairSituations[place], 7), pair_events(&a, &b, order == Order::plant_first));
}

constexpr std::size_t kNoon = 0, kDusk = 2, kNoonLimit = 3, kDawnLimit = 4, kDuskLimit = 5;

}  // namespace

// Before: -770 mV for 463 s, 36 umol of carbon, the tap alone reported.
TEST_CASE("a cell that nobody sees is given more gas as time goes by") {
  const Outcome r = pair_at(kNoon, "cell-tap-open", 0.0, "cell-starved", 0.6);
  CHECK(r.margin > 0.01);
  CHECK(r.carbon == 0.0);
  CHECK_FALSE(r.tripped);
}

// Before: -743 mV for 578 s, then standby; now the other taps and the meter of the stack give its voltage.
TEST_CASE("a starved cell whose tap is lost is watched by what the others lack of the stack") {
  const Outcome r = pair_at(kNoon, "cell-tap-open", 0.0, "cell-starved", 0.6, Order::plant_first);
  CHECK(r.margin > 0.005);
  CHECK(r.response == CTL_RESPOND_WIDEN);
}

// Before: -1 to -5 mV for 20 s to half an hour at 20 mV, down to -99 mV for an hour at 60 mV: the weak cell seemed to recover,
// and the estimator followed its tap.
TEST_CASE("a tap that reads low hides no starved cell") {
  for (const std::size_t place : {kNoon, kNoonLimit, kDawnLimit})
    for (const double size : {-0.02, -0.06})
      for (const double share : {0.6, 0.75}) {
        plant::FaultEvent starved = event_of(variant(*plant::find_fault("cell-starved"), share), kFirstAt);
        plant::FaultEvent tap = event_of(variant(*plant::find_fault("cell-tap-bias"), size), kSecondAt);
        starved.item = tap.item;
        const Outcome r = run_pair(case_of(kPairSituations[place], 7), {starved, tap});
        INFO(kPairSituations[place].word << ", tap " << size << " V, " << share << " of the gas: margin "
                                         << r.margin);
        CHECK(r.margin > 0.0);
        CHECK_FALSE(r.tripped);
      }
}

// Before: the answer to the weak cell lowered the current, its voltage came down to the others faster than the current,
// its tap was taken to read low, standby followed, after five minutes of it the cell counted as in order, and
// production went on by the voltage of the others: -5.2 mV, 33 s below the onset (cold situation of the fault matrix).
TEST_CASE("a starved cell stays known after a cold start, and its tap is believed") {
  const Situation cold = {"cold", "",
                          "start: {season: 180 deg, local_time: 20 h}\nduration: 4 h 40 min\n"
                          "initial: {state: cold, stack_temperature: 230 K, cathode_co: 30 %}\n"
                          "commands:\n  - {at: 0 s, mode: warm-up, demand: 0 g/h}\n"
                          "  - {at: 3 h 40 min, mode: production, demand: 10 g/h}\n",
                          1800.0};
  const Outcome r =
      run_pair(case_of(cold, 7), {plant::usual_fault(*plant::find_fault("cell-starved"), cold.at)});
  CHECK(r.margin > 0.02);
  CHECK(r.words == std::vector<std::string>{"cell resistive", "cell starved"});
  CHECK(r.response == CTL_RESPOND_WIDEN);
}

// By the outside review, of a version before: nickel at a ratio of 0.53 under a low alarm at full output.
TEST_CASE("lost recycle is answered without the gas analyser") {
  const Outcome r = pair_at(kNoon, "co-analyser-saturated", 1.0, "recycle-lost", 0.0);
  INFO("ratio " << r.nickel << ", bare " << r.bare << " s");
  CHECK(r.bare <= kTimeToAct);
  CHECK(r.response >= CTL_RESPOND_STANDBY);
}

// Before: the meter was believed and the current, which did not follow its command, starved the cells (-746 mV). A current
// that hangs where it is wanted is right, and the lost tap asks for no other one.
TEST_CASE("a current that hangs behind a lost tap starves no cell") {
  const Outcome r = pair_at(kNoon, "cell-tap-open", 0.0, "current-stuck", 0.0);
  CHECK(r.margin > 0.05);
  CHECK_FALSE(r.tripped);
}

// Before: the flow followed the command of the current down for 16 s and stayed there: -2 and -15 mV for a minute and more.
TEST_CASE("a current that hangs behind a suspect feed meter gets back the flow that it had") {
  for (const double size : {0.12, 0.25}) {
    const Outcome r = pair_at(kDawnLimit, "feed-flow-gain", size, "current-stuck", 0.0);
    INFO(size << ": margin " << r.margin);
    CHECK(r.margin > 0.01);
    CHECK(r.tripped);
  }
}

// Before: for a minute after the trip a current was thought to flow, because its meter was suspect; the compressor turned faster and
// CO2 alone rushed over the nickel: 0.93 for 60 s, 25 umol of oxide.
TEST_CASE("idle cells get no more feed for a current that has ended behind a suspect meter") {
  const Outcome r = pair_at(kDusk, "oxygen-analyser-drift", -0.08, "seal-leak", 40.0);
  INFO("ratio " << r.nickel << ", bare " << r.bare << " s");
  CHECK(r.nickel > 1.5);
  CHECK(r.oxide == 0.0);
}

TEST_CASE("a feed meter that reads a quarter high at dusk, and a machine that leaks") {
  const Outcome r = pair_at(kDusk, "feed-flow-gain", 0.25, "compressor-leaking", 4.0);
  CHECK(r.below <= kTimeToAct);
}

TEST_CASE("a step loss of feed at the limit is over before carbon forms") {
  const Outcome r = pair_at(kDawnLimit, "preheater-thermocouple-open", 0.0, "compressor-leaking", 4.0);
  CHECK(r.below <= kTimeToAct);
  CHECK(r.carbon == 0.0);
}

// Before: only "model suspect", a ratio far below one and up to 0.7 mmol of oxide; with the meter replaced 0.95 for a
// minute at noon, 0.7 mmol at 10 g/h at dawn and dusk.
TEST_CASE("a recycle that is lost is found while one of the witnesses is replaced") {
  for (const std::size_t place : {kNoon, kDusk})
    for (const auto& [name, size] :
         {std::pair{"cathode-pressure-bias", 5000.0}, std::pair{"feed-flow-gain", 0.12}}) {
      const Outcome r = pair_at(place, name, size, "recycle-lost", 0.0);
      INFO(kPairSituations[place].word << ", " << name << ": ratio " << r.nickel << ", bare " << r.bare
                                       << " s: " << fmt::format("{}", fmt::join(r.words, ", ")));
      CHECK(r.bare <= kTimeToAct);
      CHECK(r.response >= CTL_RESPOND_STANDBY);
    }
}

// Before: a ratio of 0 and 0.7 mmol, the feed meter suspect: the machine, 9 % strong by the wrong air, stayed above the
// aperture. At the limit 14 s to the diagnosis.
TEST_CASE("a recycle that is lost at the limit is found in ten seconds, also beside a wrong station") {
  const Outcome r = pair_at(kNoonLimit, "ambient-pressure-drift", 60.0, "recycle-lost", 0.0);
  INFO("ratio " << r.nickel << ", bare " << r.bare << " s: " << fmt::format("{}", fmt::join(r.words, ", ")));
  CHECK(r.nickel > 1.4);
  CHECK(r.response >= CTL_RESPOND_STANDBY);
  for (const std::size_t place : {kNoonLimit, kDawnLimit, kDuskLimit}) {
    const Outcome alone = run_pair(case_of(kPairSituations[place], 7),
                                   {event_of(variant(*plant::find_fault("recycle-lost"), 0.0), kFirstAt)});
    INFO(kPairSituations[place].word << ": reported in " << alone.reported << " s, ratio " << alone.nickel);
    CHECK(alone.reported <= kTimeToAct);
    CHECK(alone.oxide < 1e-7);  // mol; minutes later, at rest, air thins the few umol that the cathode holds
  }
}

// Before: 6 s to the alarm and 20 s of its pattern, then the current fell: -6 mV for 11 to 13 s.
TEST_CASE("a feed meter that jumps away from the machine and the aperture is suspect within ten seconds") {
  const Outcome r = pair_at(kDawnLimit, "feed-flow-gain", 0.25, "product-eroded", 1.6);
  INFO("margin " << r.margin << ", below " << r.below
                 << " s: " << fmt::format("{}", fmt::join(r.words, ", ")));
  CHECK(r.reported <= 10.0);
  CHECK(r.margin > 0.0);
}

// Before: 0.81 of the nickel limit for 56 s, 70 umol of oxide, nothing said: the flow of a start is 0.4 mg/s, and the
// relations say nothing of the meter until it has settled.
TEST_CASE("a start from rest takes out what the feed meter shows of no flow") {
  const Outcome r = pair_at(kDawnLimit, "feed-flow-drift", -1.5e-6, "bus-loss", 0.0, Order::plant_first);
  INFO("ratio " << r.nickel << ", bare " << r.bare << " s");
  CHECK(r.nickel > 2.0);
  CHECK(r.margin > 0.02);
}

// By the outside review: purity 71 %, counted as oxygen.
TEST_CASE("a seal leak behind a suspect oxygen analyser stops production") {
  const Outcome r = pair_at(kNoon, "oxygen-analyser-drift", 0.08, "seal-leak", 40.0);
  INFO(fmt::format("{}", fmt::join(r.words, ", ")));
  CHECK(r.response >= CTL_RESPOND_STANDBY);
}

// By the outside review: a trip for a converter that gives 8 % more. Its meter is believed and it is asked for less.
TEST_CASE("a converter that gives a little more than asked is trimmed by the meter") {
  for (const std::size_t place : {kNoon, kDusk}) {
    const auto c = case_of(kPairSituations[place], 7);
    const Outcome sound = run_pair(c, {});
    const Outcome r =
        run_pair(c, {event_of(variant(*plant::find_fault("current-runaway"), -0.08), kFirstAt)});
    INFO(fmt::format("{}", fmt::join(r.words, ", ")));
    CHECK_FALSE(r.tripped);
    CHECK(r.words.empty());
    CHECK(r.oxygen > 0.98 * sound.oxygen);
    CHECK(r.oxygen < 1.02 * sound.oxygen);
    CHECK(r.margin > 0.02);
  }
}

// By the outside review, of a version before: the error was absorbed as density, -13.9 mV for three hours (cascade).
TEST_CASE("without the weather station a feed meter that reads high is not taken for thicker air") {
  const auto& meter = *plant::find_fault("feed-flow-gain");
  for (const char* law : {"cascade", "adaptive"}) {
    auto c = case_of(kPairSituations[kNoon], 7);
    c.scenario.controller.law = law == std::string("cascade") ? CTL_LAW_CASCADE : CTL_LAW_ADAPTIVE;
    const Outcome r =
        run_pair(c, {event_of(variant(*plant::find_fault("ambient-pressure-frozen"), 0.0), kFirstAt),
                     event_of(variant(meter, 0.3), kSecondAt)});
    INFO(law << ": margin " << r.margin << ", below " << r.below
             << " s: " << fmt::format("{}", fmt::join(r.words, ", ")));
    CHECK(r.below <= kTimeToAct);
  }
}

// Named by the outside review: some seconds below zero under the laws that adapt. One fault alone, every law.
TEST_CASE("single faults at dusk and at the limit stay within the time to act under every law") {
  struct Named {
    std::size_t place;
    const char* fault;
    double size;
    bool trips;
  };
  for (const Named& n :
       {Named{kDusk, "feed-flow-gain", 0.25, false}, Named{kDusk, "current-runaway", -0.25, true},
        Named{kDuskLimit, "compressor-leaking", 4.0, false},
        Named{kDawnLimit, "compressor-leaking", 4.0, false}, Named{kNoonLimit, "cell-resistive", 2.5, false}})
    for (const std::uint32_t law : {CTL_LAW_CASCADE, CTL_LAW_ADAPTIVE}) {
      auto c = case_of(kPairSituations[n.place], 7);
      c.scenario.controller.law = law;
      const Outcome r = run_pair(c, {event_of(variant(*plant::find_fault(n.fault), n.size), kFirstAt)});
      INFO(kPairSituations[n.place].word << ", " << n.fault << ", " << harness::law_word(law) << ": margin "
                                         << r.margin << ", below " << r.below
                                         << " s: " << fmt::format("{}", fmt::join(r.words, ", ")));
      CHECK(r.below <= 4.0);
      CHECK(r.carbon == 0.0);
      CHECK(r.tripped == n.trips);
    }
}
