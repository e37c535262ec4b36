// Objectives in the words of requirements: what they measure, and what they say when they are wrong.
#include <catch2/catch.hpp>
#include <cmath>

#include "scenarios/requirements/objective.hpp"

using namespace duskline::scenarios;

namespace {

const std::vector<TraceSignal> kSignals = {
    {"coke_margin", "V", 1, {}, false},        {"oxygen_rate", "kg s-1", 1, {}, false},
    {"oxygen_demand", "kg s-1", 1, {}, false}, {"mode", "1", 1, {"off", "production"}, false},
    {"zone_temperature", "K", 1, {}, false},
};
const std::vector<double> kTimes{0, 1, 2, 3};
const std::vector<std::vector<double>> kColumns{{0.050, 0.020, std::nan(""), 0.080},
                                                {1e-6, 2e-6, 3e-6, 4e-6},
                                                {2e-6, 2e-6, 2e-6, 2e-6},
                                                {1, 1, 1, 1},
                                                {1, 1, 1, 1}};

TraceSamples samples() {
  return {kTimes, [](std::size_t i) { return std::span<const double>(kColumns[i]); }};
}
Objective good(const std::string& text) {
  const auto parsed = parse_objective(text, kSignals);
  for (const auto& p : parsed.problems) UNSCOPED_INFO(p.column << ": " << p.message);
  REQUIRE(parsed.problems.empty());
  return parsed.objective;
}
std::string problem(const std::string& text) {
  const auto parsed = parse_objective(text, kSignals);
  return parsed.problems.empty()
             ? "none"
             : std::to_string(parsed.problems[0].column) + ": " + parsed.problems[0].message;
}

}  // namespace

TEST_CASE("statistics over the samples that have a value, by hand") {
  // |1-2|, 0, 1, 2 mg/s: mean 1
  const Objective error =
      good("least mean over time of magnitude of (oxygen_rate - oxygen_demand) per 0.5 mg/s");
  CHECK(measure(error, samples()) == Approx(1e-6));
  CHECK(cost(error, measure(error, samples())) == Approx(2.0));
  // from 2 s on: 1 and 2 mg/s
  const Objective late =
      good("least mean over time after 2 s of magnitude of (oxygen_rate - oxygen_demand) per 1 mg/s");
  CHECK(measure(late, samples()) == Approx(1.5e-6));
  // 20 mV is the least, 80 mV the greatest, 50 mV the mean of three: the sample without a value does not count
  const Objective margin = good("most least over time of coke_margin per 10 mV");
  CHECK(measure(margin, samples()) == Approx(0.020));
  CHECK(cost(margin, measure(margin, samples())) == Approx(-2.0));
  CHECK(measure(good("most mean over time of coke_margin per 10 mV"), samples()) == Approx(0.050));
  CHECK(measure(good("least greatest over time of coke_margin per 10 mV"), samples()) == Approx(0.080));
  CHECK(std::isnan(measure(good("most mean over time after 9 s of coke_margin per 10 mV"), samples())));
}

TEST_CASE("robustness of a requirement is an aim, relative to its bound") {
  // least of (50, 20, 80 mV - 10 mV)/10 mV = 1
  const Objective o = good("most robustness of always (coke_margin > 10 mV)");
  CHECK(measure(o, samples()) == Approx(1.0));
  CHECK(cost(o, 1.0) == -1.0);
  CHECK(cost(o, 1e9) == -10.0);
}

TEST_CASE("what is wrong is reported with its column") {
  CHECK(problem("mean of coke_margin").starts_with("1: expected 'least' or 'most'"));
  CHECK(problem("least mean of coke_margin per 1 mV").starts_with("12: expected"));
  CHECK(problem("least mean over time of coke_margin").starts_with("36: expected 'per'"));
  CHECK(problem("least mean over time of coke_margim per 1 mV")
            .starts_with("25: there is no signal 'coke_margim'"));
  CHECK(problem("least mean over time of coke_margin per 1 K").starts_with("41: "));
  CHECK(problem("least mean over time of coke_margin per 0 mV") == "41: the quantity must be above zero");
  CHECK(problem("least mean over time of zone_temperature per 5 degC")
            .starts_with("46: a difference of temperatures is given in K"));
  CHECK(problem("least mean over time of zone_temperature per 5 K") == "none");
  CHECK(problem("least mean over time after soon of coke_margin per 1 mV").starts_with("28: "));
  CHECK(problem("most robustness of always (coke_margin > 10 kg)").starts_with("42: "));
}
