// Parts of the search for gains: the front, paired differences, gains as points, the journal, plots.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "hil-harness/report/svg.hpp"
#include "hil-harness/tune/tune.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/folder.hpp"

using namespace duskline;
using namespace duskline::harness;

namespace {

std::string content(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

Candidate candidate(std::vector<double> measured, double lack = 0.0) {
  Candidate c;
  c.worth.measured = std::move(measured);
  c.worth.lack = lack;
  return c;
}

scenarios::Variation gain(const std::string& name, double from, double to, scenarios::Spacing scale) {
  scenarios::Variation v;
  v.set = "controller.parameters." + name;
  v.from = from, v.to = to, v.scale = scale;
  return v;
}

}  // namespace

TEST_CASE("the front holds what nothing dominates, and nothing that breaks a requirement") {
  const std::vector<Candidate> all{candidate({1, 5}), candidate({2, 2}),      candidate({3, 3}),
                                   candidate({5, 1}), candidate({0, 0}, 0.1), candidate({2, 2})};
  std::vector<scenarios::Objective> aims(2);
  CHECK(front_of(all, aims) == std::vector<std::size_t>{0, 1, 5, 3});
  aims[1].most = true;  // more is better: (1, 5) and nothing else
  CHECK(front_of(all, aims) == std::vector<std::size_t>{0});
}

TEST_CASE("paired differences: Student's sleep data") {
  // Student, Biometrika 6 (1908) 1, ten patients, hours of sleep gained by two drugs: mean difference 1.58,
  // t = 4.0621 with 9 degrees of freedom, 95 % interval 0.7001 to 2.4599
  const std::vector<double> one{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0},
      two{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4};
  const Difference d = paired(one, two);
  CHECK(d.mean == Approx(1.58));
  CHECK(d.mean - d.half_width == Approx(0.7001).margin(5e-5));
  CHECK(d.mean + d.half_width == Approx(2.4599).margin(5e-5));
  CHECK(d.better == 0);
}

TEST_CASE("gains as shares of their ranges and back") {
  const std::vector<scenarios::Variation> gains{
      gain("flow_gain", 0.1, 10.0, scenarios::Spacing::logarithmic),
      gain("flow_integral_time", 10.0, 60.0, scenarios::Spacing::linear)};
  CHECK(values_at(gains, {0.5, 0.5}) == std::vector<double>{1.0, 35.0});
  CHECK(values_at(gains, {0.0, 1.0}) == std::vector<double>{0.1, 60.0});
  scenarios::Case c;
  c.scenario = scenarios::default_scenario();
  put_values(gains, std::vector<double>{2.5, 20.0}, c.scenario);
  CHECK(c.scenario.controller.flow_gain == 2.5F);
  CHECK(c.scenario.controller.flow_integral_time == 20.0F);
  const Point point = point_of(gains, values_of(gains, c));
  CHECK(point[1] == Approx(0.2));
  CHECK(values_at(gains, point) == std::vector<double>{2.5, 20.0});
  CHECK(point_of(gains, std::vector<double>{2.5, 500.0})[1] == 1.0);  // beyond the range: at its end
}

TEST_CASE(
    "a journal gives back what was put in, drops a line that was cut off, refuses that of another search") {
  const tests::Folder folder{"journal"};
  const std::string path = folder.file("journal.jsonl");
  std::string problem;
  const Candidate first{{1.0 / 3.0, 2.0}, {{0.1}, 0.7, 0.0, ""}},
      second{{0.2, 3.0}, {{1e-300}, -4.0, 0.25, "no coke"}};
  {
    Journal journal = Journal::open(path, 42, problem);
    REQUIRE(problem.empty());
    CHECK(journal.add(first));
    CHECK(journal.add(second));
    CHECK(content(path) == journal.text({first, second}));
  }
  std::ofstream(path, std::ios::app | std::ios::binary) << "{\"values\":[0.5";
  Journal again = Journal::open(path, 42, problem);
  REQUIRE(problem.empty());
  CHECK(again.known() == 2);
  REQUIRE(again.find({1.0 / 3.0, 2.0}));
  CHECK(again.find({1.0 / 3.0, 2.0})->cost == 0.7);
  CHECK(again.find({0.2, 3.0})->violated == "no coke");
  CHECK_FALSE(again.find({0.2, 3.1}));
  CHECK(content(path) == again.text({first, second}));
  Journal::open(path, 43, problem);
  CHECK(problem == "is the journal of another search");
}

TEST_CASE("a run costs what its requirements lack more than any aim") {
  Ran good, bad;
  good.measured = {2.0}, bad.measured = {1.0};
  bad.lack = 0.51, bad.violated = "no coke";
  std::vector<Trial> trials(2);
  trials[1].scenario = "Dawn";
  const std::vector<scenarios::Objective> aims(1);
  const Worth w = worth_of(std::vector<Ran>{good, bad}, trials, aims);
  CHECK(w.measured[0] == Approx(1.5));
  CHECK(w.lack == Approx(0.255));
  CHECK(w.penalised() == Approx(256.5));
  CHECK(w.violated == "no coke (Dawn)");
}

TEST_CASE("ticks stand at round numbers") {
  CHECK(ticks(0.0, 10.0, 5) == std::vector<double>{0, 2, 4, 6, 8, 10});
  CHECK(ticks(0.13, 0.52, 4).front() == Approx(0.2));
  // values that differ in their last bit alone: before, the axis had no end
  Plot plot;
  plot.series.emplace_back();
  plot.series[0].x = {0.0, 1.0};
  plot.series[0].y = {100.0, std::nextafter(100.0, 200.0)};
  CHECK(svg_of(plot).size() < 10000);
  CHECK(svg_of({"a < b", "x", "y", {{"s", "red", Mark::dot, {1, 2}, {3, 4}, {}}}}).find("a &lt; b") !=
        std::string::npos);
}

TEST_CASE("starts that differ in the eighth digit make another search") {
  TuneTask one, two;
  one.starts = {{1e-7}};
  two.starts = {{2e-7}};
  CHECK(task_hash(one) != task_hash(two));
}

// Before, all ticks of a narrow axis read 1.668.
TEST_CASE("ticks of a narrow axis differ in their text") {
  Plot plot{"", "x", "y", {}};
  plot.series.push_back({"s", "black", Mark::line, {0.0, 1.0}, {1.66781, 1.66789}, {}});
  const std::string svg = svg_of(plot);
  for (const char* text : {">1.66782<", ">1.66784<", ">1.66788<"}) {
    INFO(text);
    CHECK(svg.find(text) != svg.npos);
  }
}

TEST_CASE("the tick at nought has no sign") {
  for (const auto& all : {ticks(-1.5, 40.0, 4), ticks(-0.3, 0.3, 5)})
    for (const double v : all) CHECK((v != 0.0 || !std::signbit(v)));
}

TEST_CASE("a plot bridges no gap and shows a value that stands alone") {
  const double none = std::nan("");
  const std::string svg = svg_of(
      {"", "x", "y", {{"s", "red", Mark::line, {1, 2, 3, 4, 5, 6, 7}, {none, 1, none, 2, 3, none, 4}, {}}}});
  const std::size_t at = svg.find("<path d=\"") + 9;
  const std::string path = svg.substr(at, svg.find('"', at) - at);
  CHECK(std::count(path.begin(), path.end(), 'M') == 3);  // stretches
  CHECK(std::count(path.begin(), path.end(), 'L') == 1);  // one of them has two values
  std::size_t dots = 0;
  for (std::size_t i = svg.find("<circle"); i != svg.npos; i = svg.find("<circle", i + 1)) ++dots;
  CHECK(dots == 2);
}
