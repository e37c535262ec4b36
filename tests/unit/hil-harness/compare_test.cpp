// Two runs against each other. Expected values follow from the traces and summaries written here.
#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "hil-harness/compare/comparison.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "tests/support/folder.hpp"

using namespace duskline::harness;
using namespace duskline::tests;
using nlohmann::json;

namespace {

constexpr const char* kSummaryA = R"({"title": "t", "law": "cascade", "plant": "bench", "seed": 7,
  "end": {"reason": "reached end", "time": {"value": 30, "unit": "s"}},
  "figures": [{"text": "oxygen made", "value": 10, "unit": "g"}, {"text": "run ended", "value": "reached end", "unit": ""},
              {"text": "only here", "value": 1, "unit": "g"}],
  "requirements": [{"name": "r1", "verdict": "satisfied", "margin": 5, "unit": "mV"},
                   {"name": "r2", "verdict": "violated", "margin": -1, "unit": "K"},
                   {"name": "r3", "verdict": "satisfied", "margin": 1, "unit": "K"}],
  "events": [{"time": 1, "kind": "mode", "text": "on"}, {"time": 5, "kind": "alarm", "text": "low"},
             {"time": 9, "kind": "alarm", "text": "low"}]})";
constexpr const char* kSummaryB = R"({"title": "t", "law": "fixed", "plant": "bench", "seed": 7,
  "end": {"reason": "reached end", "time": {"value": 20, "unit": "s"}},
  "figures": [{"text": "oxygen made", "value": 7.5, "unit": "g"}, {"text": "run ended", "value": "reached end", "unit": ""}],
  "requirements": [{"name": "r1", "verdict": "violated", "margin": -3, "unit": "mV"},
                   {"name": "r2", "verdict": "satisfied", "margin": 2, "unit": "K"},
                   {"name": "r4", "verdict": "violated", "margin": -1, "unit": "K"}],
  "events": [{"time": 1.5, "kind": "mode", "text": "on"}, {"time": 8, "kind": "alarm", "text": "low"}]})";

ComparedRun run_of(const std::string& name, const std::string& trace, const std::string& summary) {
  std::string problem;
  auto run = read_compared(name, trace, summary, problem);
  REQUIRE(problem == "");
  return std::move(*run);
}

json data_of(const std::string& page) {
  const std::string mark = "id=\"data\">";
  const std::size_t begin = page.find(mark) + mark.size();
  return json::parse(page.substr(begin, page.find("</script>", begin) - begin));
}

}  // namespace

TEST_CASE("Figures, verdicts and events of two runs stand side by side, with what only one of them has") {
  const ComparedRun a = run_of("a", "", kSummaryA), b = run_of("b", "", kSummaryB);
  const Comparison c = compare(a, b);
  REQUIRE(c.figures.size() == 3);
  CHECK(*c.figures[0].a == 10.0);
  CHECK(*c.figures[0].b == 7.5);
  CHECK(c.figures[1].same());
  CHECK_FALSE(c.figures[2].b.has_value());
  REQUIRE(c.verdicts.size() == 4);
  CHECK(lost_requirements(c) == std::vector<std::string>{"r1"});  // r2 was regained, r4 is new
  CHECK(c.verdicts[1].changed());
  CHECK(c.verdicts[2].b.empty());
  CHECK(c.verdicts[3].a.empty());
  // "on" is less than a second apart; "low" is at 5 and 9 s in A and at 8 s in B
  CHECK(c.events_alike == 1);
  REQUIRE(c.events.size() == 2);
  CHECK(*c.events[0].a == 5.0);
  CHECK(*c.events[0].b == 8.0);
  CHECK(*c.events[1].a == 9.0);
  CHECK_FALSE(c.events[1].b.has_value());
  const json j = json::parse(comparison_json(a, b, c));
  CHECK(j["lost"] == json({"r1"}));
  CHECK(j["figures"][0]["difference"] == -2.5);
  CHECK(j["requirements"][0]["difference"] == -8.0);
  CHECK(j["requirements"][3]["a"].is_null());
  CHECK(j["a"]["law"] == "cascade");
}

TEST_CASE("Signals of runs of other length and period are compared where both have values") {
  const Folder folder("compare");
  const std::vector<SignalInfo> signals{{"margin", "V", "", "", 1, "limits", {}, false},
                                        {"voltage", "V", "", "cell", 2, "limits", {}, false},
                                        {"mode", "1", "", "", 1, "control", {"off", "on"}, false},
                                        {"same", "K", "", "", 1, "heat", {}, false}};
  std::vector<SignalInfo> more = signals;
  more.push_back({"new", "K", "", "", 1, "heat", {}, false});
  TraceWriter one(folder.file("a.nc"), signals);
  for (int t = 0; t <= 30; t += 10)
    one.append(t, std::vector<double>{1.0, 0.0, 2.0, t < 20 ? 0.0 : 1.0, 5.0});
  REQUIRE(one.close());
  TraceWriter two(folder.file("b.nc"), more);
  // margin rises by 0.5 V in 20 s; the second cell is 1 V lower at 16 s, which counts by interpolation at no row of A
  for (int t = 0; t <= 20; t += 4)
    two.append(t,
               std::vector<double>{1.0 + t * 0.025, 0.0, t == 20 ? 1.5 : 2.0, t < 8 ? 0.0 : 1.0, 5.0, 0.0});
  REQUIRE(two.close());
  const ComparedRun a = run_of("a", folder.file("a.nc"), kSummaryA);
  const ComparedRun b = run_of("b", folder.file("b.nc"), kSummaryB);
  const Comparison c = compare(a, b);
  REQUIRE(c.signals.size() == 3);
  CHECK(c.signals[0].name == "margin");
  CHECK(c.signals[0].largest == Approx(0.5));
  CHECK(c.signals[0].time == 20.0);
  CHECK(c.signals[0].share == Approx(1.0));
  CHECK(c.signals[1].name == "voltage");
  CHECK(c.signals[1].place == 2);
  CHECK(c.signals[1].largest == Approx(0.5));
  CHECK(c.signals[1].share == Approx(0.25));       // of 0 to 2 V
  CHECK(c.signals[2].name == "mode");              // of the controller, so last
  CHECK(c.signals[2].share == Approx(1.0 / 3.0));  // at 10 s of the rows at 0, 10 and 20 s
  CHECK(c.only_b == std::vector<std::string>{"new"});
  CHECK(c.only_a.empty());
  CHECK(std::any_of(c.notes.begin(), c.notes.end(),
                    [](const std::string& n) { return n.starts_with("length: 30 s in A"); }));
  CHECK(std::any_of(c.notes.begin(), c.notes.end(),
                    [](const std::string& n) { return n.starts_with("period of the trace: 10 s in A, 4"); }));

  REQUIRE(write_comparison(a, b, c, folder.file("compare.html")).problem == "");
  const std::string page = bytes_of(folder.file("compare.html"));
  const json data = data_of(page);
  // instants of both runs: 0, 4, 8, 10, 12, 16, 20, 30
  CHECK(data["time"] == json({0, 4, 8, 10, 12, 16, 20, 30}));
  CHECK(data["signals"].size() == 5);
  CHECK(data["signals"][2]["b"][0] ==
        json({0, 0, 1, 1, 1, 1, 1, nullptr}));  // a flag holds, and ends with its run
  CHECK(data["signals"][3]["a"][0] == 5);       // never changes: one number
  CHECK(data["signals"][4]["a"].empty());
  CHECK(page.find(folder.path()) == std::string::npos);
  REQUIRE(write_comparison(a, b, c, folder.file("again.html")));
  CHECK((bytes_of(folder.file("again.html")) == page));
}

TEST_CASE("Flags of several modules are each drawn of their own module") {
  const Folder folder("compare-modules");
  SignalInfo mode{"mode", "1", "", "", 2, "control", {"off", "on"}, false};
  mode.modules = 2;
  TraceWriter writer(folder.file("a.nc"), {mode});
  writer.append(0.0, std::vector<double>{0.0, 1.0});
  writer.append(10.0, std::vector<double>{0.0, 0.0});
  REQUIRE(writer.close());
  const ComparedRun a = run_of("a", folder.file("a.nc"), kSummaryA);
  REQUIRE(write_comparison(a, a, compare(a, a), folder.file("compare.html")).problem == "");
  const json drawn = data_of(bytes_of(folder.file("compare.html")))["signals"][0]["a"];
  CHECK(drawn == json({0, json({1, 0})}));  // one number where it never changes
}

TEST_CASE("A run is equal to itself") {
  const ComparedRun a = run_of("a", "", kSummaryA), b = run_of("b", "", kSummaryA);
  const Comparison c = compare(a, b);
  CHECK(lost_requirements(c).empty());
  CHECK(c.events.empty());
  CHECK(std::all_of(c.figures.begin(), c.figures.end(), [](const FigurePair& p) { return p.same(); }));
}
