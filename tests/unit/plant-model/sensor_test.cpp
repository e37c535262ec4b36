#include "plant-model/instruments/sensor.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <string>

#include "controller/include/controller.h"
#include "scenarios/reader/instruments.hpp"
#include "tests/support/thermometry.hpp"

using namespace duskline::plant;
namespace scenarios = duskline::scenarios;

namespace {

constexpr std::uint64_t kSeed = 20;

/// Readings of ticks 0 .. count - 1 of a truth given as a function of time.
template <class Truth>
std::vector<double> readings(const SensorSpec& spec, Truth truth, std::int64_t count, double period = 1.0) {
  SensorState state = make_sensor(spec, kSeed);
  std::vector<double> y;
  for (std::int64_t t = 0; t < count; ++t)
    y.push_back(sample(spec, state, truth(static_cast<double>(t) * period), t, period));
  return y;
}

/// Like == , but not-a-number equals itself.
bool same_bits(double a, double b) {
  return std::memcmp(&a, &b, sizeof a) == 0;
}

double deviation(const std::vector<double>& y) {
  double mean = 0.0, square = 0.0;
  for (const double v : y) mean += v / static_cast<double>(y.size());
  for (const double v : y) square += (v - mean) * (v - mean) / static_cast<double>(y.size() - 1);
  return std::sqrt(square);
}

const auto kConstant = [](double) { return 300.0; };

}  // namespace

TEST_CASE("An ideal sensor reads the truth") {
  const SensorSpec spec{.name = "ideal", .unit = "K"};
  const auto truth = [](double t) { return 300.0 + std::sin(t); };
  const auto y = readings(spec, truth, 20);
  for (std::size_t i = 0; i < y.size(); ++i) CHECK(y[i] == truth(static_cast<double>(i)));
}

TEST_CASE("The lag is exact for a ramp, from the first tick on") {
  // Analytic: x = r t from rest gives y = r (t - tau (1 - exp(-t / tau))).
  const SensorSpec spec{.name = "lag", .unit = "K", .lag = 5.0};
  for (const double period : {0.1, 1.0, 7.0}) {
    const auto y = readings(
        spec, [](double t) { return 2.0 * t; }, 40, period);
    for (std::size_t i = 0; i < y.size(); ++i) {
      const double t = static_cast<double>(i) * period;
      CHECK(y[i] == Approx(2.0 * (t - 5.0 * (1.0 - std::exp(-t / 5.0)))).epsilon(1e-12).margin(1e-12));
    }
  }
}

TEST_CASE("The lag starts in balance and settles after a step with its time constant") {
  const SensorSpec spec{.name = "lag", .unit = "K", .lag = 10.0};
  SensorState state = make_sensor(spec, kSeed);
  CHECK(sample(spec, state, 100.0, 0, 1.0) == Approx(100.0));
  const double first = sample(spec, state, 200.0, 1, 1.0);
  const double second = sample(spec, state, 200.0, 2, 1.0);
  CHECK((200.0 - second) / (200.0 - first) == Approx(std::exp(-0.1)));  // analytic
}

TEST_CASE("A short lag and no lag agree") {
  const auto truth = [](double t) { return t * t; };
  const auto with = readings({.name = "a", .unit = "1", .lag = 1e-6}, truth, 20);
  const auto without = readings({.name = "a", .unit = "1"}, truth, 20);
  for (std::size_t i = 0; i < with.size(); ++i) CHECK(with[i] == Approx(without[i]).margin(1e-4));
}

TEST_CASE("Given errors add up as the error model says") {
  // By hand: 300 (1 + 0.01) + 2 + 0.5 t.
  const SensorSpec spec{.name = "e", .unit = "K", .bias = 2.0, .gain_error = 0.01, .drift_rate = 0.5};
  const auto y = readings(spec, kConstant, 11, 2.0);
  CHECK(y[0] == Approx(305.0));
  CHECK(y[10] == Approx(315.0));
}

TEST_CASE(
    "Errors of class stay in their class, have half of it as deviation, and change with the seed only") {
  const SensorSpec spec{.name = "zone_temperature[0]", .unit = "K", .bias_class = 3.2, .gain_class = 0.01};
  std::vector<double> bias, gain;
  for (std::uint64_t seed = 0; seed < 20000; ++seed) {
    const SensorState state = make_sensor(spec, seed);
    REQUIRE(std::abs(state.bias) <= 3.2);
    REQUIRE(std::abs(state.gain - 1.0) <= 0.01);
    bias.push_back(state.bias);
    gain.push_back(state.gain);
  }
  // Standard normal cut off at 2: variance 1 - 4 phi(2) / (2 Phi(2) - 1) = 0.77374 (analytic), sd 0.8796.
  // Sampling error of the deviation is below 1 / sqrt(2 n) = 0.5 %; four times that allowed.
  CHECK(deviation(bias) == Approx(1.6 * 0.8796).epsilon(0.02));
  CHECK(deviation(gain) == Approx(0.005 * 0.8796).epsilon(0.02));
  CHECK(make_sensor(spec, 9).bias == make_sensor(spec, 9).bias);
}

TEST_CASE("The noise has the deviation asked for") {
  const auto y = readings({.name = "n", .unit = "K", .noise = 0.25}, kConstant, 20000);
  CHECK(deviation(y) == Approx(0.25).epsilon(0.02));  // four sampling deviations of 1 / sqrt(2 n)
}

TEST_CASE("The random walk spreads with the root of time") {
  // Analytic: sd after N ticks is random_walk sqrt(N dt), here 0.01 sqrt(400 x 3) = 0.3464; the step of a
  // block is taken at its start, so that 400 ticks hold 100 steps.
  const SensorSpec spec{.name = "w", .unit = "K", .random_walk = 0.01};
  std::vector<double> end;
  for (std::uint64_t seed = 0; seed < 2000; ++seed) {
    SensorState state = make_sensor(spec, seed);
    double y = 0.0;
    for (std::int64_t t = 0; t < 400; ++t) y = sample(spec, state, 0.0, t, 3.0);
    end.push_back(y);
  }
  CHECK(deviation(end) == Approx(0.3464).epsilon(0.065));  // four sampling deviations of 1 / sqrt(2 n)
}

TEST_CASE("Calibration takes the drift away, walked and steady, and leaves the errors of the unit") {
  // by the error model: truth (1 + g) + b right after it, and the steady drift begins again from there
  const SensorSpec spec{
      .name = "c", .unit = "K", .bias = 0.5, .gain_error = 0.01, .drift_rate = 0.002, .random_walk = 0.01};
  SensorState state = make_sensor(spec, 3);
  for (std::int64_t t = 0; t < 400; ++t) sample(spec, state, 100.0, t, 1.0);
  const double drifted = sample(spec, state, 100.0, 400, 1.0);
  CHECK(drifted - 101.5 - 0.8 == Approx(state.walked));
  REQUIRE(state.walked != 0.0);
  calibrate(state, 401);
  CHECK(sample(spec, state, 100.0, 401, 1.0) == Approx(101.5));
  CHECK(sample(spec, state, 100.0, 402, 1.0) == Approx(101.502));
}

TEST_CASE("Readings are whole steps of the converter and stay in the span") {
  const SensorSpec spec{
      .name = "q", .unit = "V", .noise = 0.3, .resolution = 0.04, .lower = 0.1, .upper = 0.95};
  int at_an_end = 0;
  for (const double y : readings(
           spec, [](double) { return 0.6; }, 2000)) {
    CHECK((y >= 0.1 && y <= 0.95));
    const bool end = y == 0.1 || y == 0.95;
    at_an_end += end ? 1 : 0;
    if (!end) CHECK(y / 0.04 == Approx(std::round(y / 0.04)).margin(1e-9));
  }
  CHECK(at_an_end > 100);  // 0.6 +- 0.3: about one in eight above and one in twenty below (normal table)
  const SensorSpec step{.name = "q", .unit = "V", .resolution = 0.5};
  for (const double x : {-1.3, -0.2, 0.0, 0.24, 0.26, 7.7}) {
    const auto y = readings(
        step, [x](double) { return x; }, 1);
    CHECK(std::abs(y[0] - x) <= 0.25);
  }
}

TEST_CASE("Lost samples are not numbers, as often as asked, and leave the others alone") {
  const SensorSpec sound{.name = "d", .unit = "K", .lag = 3.0, .noise = 0.1, .random_walk = 0.01};
  SensorSpec lossy = sound;
  lossy.dropout = 0.1;
  const auto truth = [](double t) { return 300.0 + t; };
  const auto a = readings(sound, truth, 10000), b = readings(lossy, truth, 10000);
  int lost = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    lost += std::isnan(b[i]) ? 1 : 0;
    if (!std::isnan(b[i])) REQUIRE(a[i] == b[i]);
  }
  CHECK(std::abs(lost - 1000) < 120);  // binomial: sd 30
}

TEST_CASE("Faults act after the error model, from their tick on, and can be taken off") {
  const SensorSpec spec{.name = "f", .unit = "K", .noise = 0.5, .lower = 200.0, .upper = 400.0};
  const auto truth = [](double t) { return 300.0 + t; };
  const auto sound = readings(spec, truth, 40);
  const auto with = [&](SensorFault fault) {
    SensorState state = make_sensor(spec, kSeed);
    std::vector<double> y;
    for (std::int64_t t = 0; t < 40; ++t) {
      if (t == 10) set_fault(state, fault, t);
      if (t == 30) set_fault(state, {}, t);
      y.push_back(sample(spec, state, truth(static_cast<double>(t)), t, 1.0));
    }
    for (std::size_t i = 0; i < 40; ++i)
      if (i < 10 || i >= 30) CHECK(y[i] == sound[i]);
    return y;
  };
  const auto frozen = with({SensorFaultMode::frozen});
  const auto bias = with({SensorFaultMode::bias, 7.0});
  const auto drift = with({SensorFaultMode::drift, 0.25});
  const auto open = with({SensorFaultMode::open});
  const auto noise = with({SensorFaultMode::noise, 10.0});
  const auto high = with({SensorFaultMode::saturated, 1.0});
  const auto low = with({SensorFaultMode::saturated, -1.0});
  const auto gain = with({SensorFaultMode::gain, -0.2});
  const auto too_far = with({SensorFaultMode::bias, 1000.0});
  for (std::size_t i = 10; i < 30; ++i) {
    const double t = static_cast<double>(i);
    CHECK(frozen[i] == sound[9]);
    CHECK(bias[i] == Approx(sound[i] + 7.0));
    CHECK(drift[i] == Approx(sound[i] + 0.25 * (t - 10.0)));
    CHECK(std::isnan(open[i]));
    CHECK(noise[i] - truth(t) == Approx(10.0 * (sound[i] - truth(t))));
    CHECK(high[i] == 400.0);
    CHECK(low[i] == 200.0);
    CHECK(gain[i] == Approx(0.8 * sound[i]));
    CHECK(too_far[i] == 400.0);  // the span holds for a faulty channel too
  }
}

TEST_CASE("A bank reads what its channels read one by one, and another channel changes nothing") {
  const auto specs = scenarios::expand(scenarios::kInstrumentTable);
  std::vector<SensorSpec> more{{.name = "spare", .unit = "K", .noise = 1.0, .random_walk = 0.1}};
  more.insert(more.end(), specs.begin(), specs.end());
  SensorBank bank(specs, kSeed, 1.0), larger(more, kSeed, 1.0);
  std::vector<SensorState> single;
  for (const SensorSpec& spec : specs) single.push_back(make_sensor(spec, kSeed));

  std::vector<double> truth(scenarios::kReadingChannels + 1), a(scenarios::kReadingChannels),
      b(scenarios::kReadingChannels + 1);
  for (std::int64_t t = 0; t < 50; ++t) {
    for (std::size_t i = 0; i < truth.size(); ++i) truth[i] = 0.3 + 0.01 * static_cast<double>(t);
    bank.sample(std::span(truth).first(scenarios::kReadingChannels), t, a);
    larger.sample(truth, t, b);
    for (std::size_t i = 0; i < scenarios::kReadingChannels; ++i) {
      REQUIRE(same_bits(a[i], b[i + 1]));
      REQUIRE(same_bits(a[i], sample(specs[i], single[i], truth[i], t, 1.0)));
    }
  }
}

TEST_CASE("A copy of a bank goes on as the bank does") {
  const auto specs = scenarios::expand(scenarios::kInstrumentTable);
  SensorBank bank(specs, kSeed, 1.0);
  const std::vector<double> truth(scenarios::kReadingChannels, 1.0);
  std::vector<double> a(scenarios::kReadingChannels), b(scenarios::kReadingChannels);
  for (std::int64_t t = 0; t < 7; ++t) bank.sample(truth, t, a);
  SensorBank copy = bank;
  for (std::int64_t t = 7; t < 20; ++t) {
    bank.sample(truth, t, a);
    copy.sample(truth, t, b);
    CHECK(a == b);
  }
}

TEST_CASE("Every row of the instrument table has a source and errors that make sense") {
  for (const scenarios::InstrumentRow& row : scenarios::kInstrumentTable) {
    INFO(row.spec.name);
    const SensorSpec& s = row.spec;
    CHECK(!row.source.empty());
    CHECK((s.lag >= 0.0 && s.lag <= 60.0));
    CHECK(s.noise > 0.0);
    CHECK(s.resolution > 0.0);
    CHECK(s.noise < 1e-3 * (s.upper - s.lower));       // 1 part in 1000 of the span
    CHECK(s.resolution < 1e-3 * (s.upper - s.lower));  // 10 bits or better
    CHECK(s.bias_class < 1e-2 * (s.upper - s.lower));
    CHECK(std::abs(s.gain_class) <= 0.02);
  }
}

TEST_CASE("The thermometers of the table follow from their standards") {
  for (const scenarios::InstrumentRow& row : scenarios::kInstrumentTable) {
    INFO(row.spec.name);
    if (row.source.find("60584") != std::string_view::npos) {
      // 800 degC = 1073.15 K; 16 bits over 78.125 mV.
      CHECK(row.spec.bias_class == Approx(thermocouple_class_1(1073.15)));
      CHECK(row.spec.resolution ==
            Approx(thermocouple_step(Thermocouple::k, 1073.15, 78.125e-3, 16)).epsilon(2e-3));
    }
    if (row.source.find("60751") != std::string_view::npos) {
      CHECK(row.spec.bias_class >= platinum_class_a(273.15));
      CHECK(row.spec.bias_class <= platinum_class_a(273.15 + 80.0) + 1e-12);
      CHECK(row.spec.resolution == Approx(platinum_step(273.15, 400.0, 16)).epsilon(2e-3));
    }
  }
  STATIC_REQUIRE(scenarios::kInstrumentTable[1].spec.name == "ambient_temperature");
  CHECK(scenarios::kInstrumentTable[1].spec.bias_class == Approx(platinum_class_a(273.15 - 60.0)));
  const auto specs = scenarios::expand(scenarios::kInstrumentTable);
  const double walk = specs[scenarios::reading_channel("preheater_temperature")].random_walk;
  CHECK(walk * std::sqrt(3.6e6) == Approx(3.0));  // 3 K in 1000 h
}
