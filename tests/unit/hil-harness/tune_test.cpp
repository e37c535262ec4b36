// Parts of the search for gains: the front, paired differences, gains as points, the journal, plots.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <limits>

#include "hil-harness/report/svg.hpp"
#include "hil-harness/tune/tune.hpp"
#include "hil-harness/tune/tune_json.hpp"
#include "hil-harness/verify/judge.hpp"
#include "scenarios/reader/draw.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/shipped_case.hpp"

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

TEST_CASE("a journal keeps a candidate whose aim is endlessly far from being violated") {
  constexpr double kEndless = std::numeric_limits<double>::infinity();
  const tests::Folder folder{"journal-inf"};
  const std::string path = folder.file("journal.jsonl");
  std::string problem;
  const Candidate far{{0.5}, {{kEndless, 1.0}, -kEndless, 0.0, ""}};
  CHECK(Journal::open(path, 1, problem).add(far));
  const Journal again = Journal::open(path, 1, problem);
  REQUIRE(again.known() == 1);
  CHECK(again.find({0.5})->measured == std::vector<double>{kEndless, 1.0});
  CHECK(again.find({0.5})->cost == -kEndless);
  CHECK(content(path) == again.text({far}));
}

TEST_CASE("a journal is written again as the search knew it") {
  const tests::Folder folder{"journal-text"};
  const std::string path = folder.file("journal.jsonl");
  std::string problem;
  Candidate c{{0.5}, {{1.0}, 2.0, 0.0, ""}};
  Journal journal = Journal::open(path, 1, problem);
  CHECK(journal.add(c));
  c.worth.lack = 10.0, c.worth.margins = true;  // found out after the search
  CHECK(journal.text({c}) == content(path));
}

TEST_CASE("equal infinities of an aim are no change") {
  constexpr double kEndless = std::numeric_limits<double>::infinity();
  const Difference same =
      paired(std::vector<double>{kEndless, 1.0, 2.0}, std::vector<double>{kEndless, 1.0, 2.0});
  CHECK(same.mean == 0.0);
  CHECK(same.half_width == 0.0);
  CHECK(same.better == 0);
  CHECK(change_words(same) == "no change");
  const Difference less = paired(std::vector<double>{kEndless, 1.0}, std::vector<double>{1.0, 1.0});
  CHECK(less.mean == -kEndless);
  CHECK(less.better == 1);
}

TEST_CASE("no pair and a single pair have no interval") {
  CHECK(change_words(paired({}, {})) == "not compared");
  const std::vector<double> one{1.0}, two{2.0};
  CHECK(paired(one, two).mean == 1.0);
  CHECK(std::isnan(paired(one, two).half_width));
}

TEST_CASE("the verdict looks at requirements and margins before it looks at the stated objective") {
  TuneResult r;
  r.candidates.resize(2);
  r.best = 1;
  r.held_out.cost.mean = 0.4;  // dearer
  r.held_out.cost.half_width = 0.1;
  CHECK(verdict_of(r) == TuneVerdict::worse);
  CHECK(kept_candidate(r) == 0);
  r.held_out.lacking_before = 5;
  CHECK(verdict_of(r) == TuneVerdict::better);
  CHECK(kept_candidate(r) == 1);
  r.held_out.lacking_after = 6;
  r.held_out.cost.mean = -0.4;  // cheaper
  CHECK(verdict_of(r) == TuneVerdict::worse);
  r.held_out.lacking_after = 5;
  CHECK(verdict_of(r) == TuneVerdict::better);
  r.margins_lack_after = 0.3;
  CHECK(verdict_of(r) == TuneVerdict::worse);
  r.margins_lack_before = 10.0;
  r.held_out.cost.mean = 0.4;
  CHECK(verdict_of(r) == TuneVerdict::better);
}

TEST_CASE("the front holds no candidate whose margins were never worked out") {
  std::vector<Candidate> all{candidate({1, 5}), candidate({2, 2}), candidate({3, 3}), candidate({5, 1})};
  all[0].worth.margins = true;
  const std::vector<scenarios::Objective> aims(2);
  const auto look = [&](Candidate& c) {
    c.worth.margins = true;
    if (c.worth.measured[0] == 2.0) c.worth.lack = 0.5;
    return true;
  };
  // (2, 2) lacks: what it dominated comes up and is looked at too
  CHECK(front_with_margins(all, aims, look) == std::vector<std::size_t>{0, 2, 3});
  for (const Candidate& c : all) CHECK(c.worth.margins);
  all[3].worth.margins = false;
  CHECK(front_with_margins(all, aims, [](Candidate&) { return false; }).empty());
}

TEST_CASE("a plant that the scenario draws is dispersed from draw to draw") {
  scenarios::Case c = tests::read_shipped(tests::library() / "tuning" / "dawn-demand.yaml", {"plant_draw=7"});
  scenarios::Tuning tuning = c.scenario.tuning;
  tuning.resistance = 0.2, tuning.flow = 0.1;
  const auto built = [](const Trial& t) {
    const auto& s = t.drawn.scenario;
    return scenarios::drawn_plant(t.drawn.plant, s.plant_draw, s.structure_draw);  // as the loop does
  };
  const auto one = built(draw_trials({c}, tuning, 1)[0]), two = built(draw_trials({c}, tuning, 2)[0]);
  CHECK(one.stack.resistance_factor[0] != two.stack.resistance_factor[0]);
  CHECK(one.compressor.displacement != two.compressor.displacement);
  // around the plant that was drawn
  const auto drawn = scenarios::drawn_plant(c.plant, 7);
  CHECK(one.cell.cathode_exchange == drawn.cell.cathode_exchange);
  tuning.resistance = tuning.flow = 0.0;
  CHECK(built(draw_trials({c}, tuning, 1)[0]).stack.resistance_factor[0] == drawn.stack.resistance_factor[0]);
}

TEST_CASE("a held-out run without a value lacks on its side and its draw is left out of the means") {
  scenarios::Case c = tests::read_shipped(tests::library() / "tuning" / "dawn-demand.yaml",
                                          {"duration=30 s", "initial.state=producing"});
  c.scenario.requirements.clear();
  scenarios::Tuning tuning = c.scenario.tuning;
  tuning.held_out = 3;
  // an aim that has a value in none of the runs, and one that has it in all
  std::vector<scenarios::Objective> aims;
  for (const char* aim :
       {"least mean over time after 10 min of magnitude of rate of compressor_speed_command per 1 rad/s2",
        "least mean over time of stack_current per 1 A"})
    aims.push_back(scenarios::parse_objective(aim, requirement_signals()).objective);
  const std::vector<scenarios::Case> cases{c};
  const auto gains = values_of(tuning.vary, c);
  const std::span<const scenarios::Objective> all(aims);
  const auto none = compare_held_out({cases, tuning, all, 1, nullptr, {}}, gains, gains);
  REQUIRE(none.complete);
  CHECK(none.lacking_before == 3);
  CHECK(none.lacking_after == 3);
  CHECK(none.cost.pairs == 0);
  CHECK(none.violated.size() == 1);
  const auto whole = compare_held_out({cases, tuning, all.subspan(1), 1, nullptr, {}}, gains, gains);
  CHECK(whole.lacking_after == 0);
  CHECK(whole.cost.pairs == 3);
  CHECK(whole.cost.mean == 0.0);
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
