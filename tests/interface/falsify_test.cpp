// `duskline falsify`: what it finds, keeps, and says; the worst case run again gives the same robustness.
// Sources: the definitions of docs/how-to/find-the-worst-weather.md; XML 1.0 as xmllint reads it.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "hil-harness/batch/identity.hpp"
#include "hil-harness/falsify/falsify.hpp"
#include "hil-harness/verify/judge.hpp"
#include "tests/support/child.hpp"

using namespace duskline;
using namespace duskline::tests;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

const fs::path kPlants = DUSKLINE_SOURCE_DIR "/plant-model/plants";

/// Four minutes at currents set in advance, of which the search chooses the second.
constexpr const char* kScenario =
    "format: duskline-scenario/1\ntitle: Four minutes\nplant: bench\nseed: 5\nduration: 4 min\nrecord: 10 s\n"
    "initial: {state: producing, stack_temperature: 800 degC, cathode_co: 65 %}\n"
    "commands:\n  - {at: 0 s, mode: production, demand: 10 g/h}\n"
    "controller:\n  law: fixed\n  table:\n    - {at: 0 s, speed: 259 rad/s, current: 4 A}\n"
    "    - {at: 1 min, speed: 259 rad/s, current: 4 A}\n"
    "requirements:\n  - {name: no coke, must: \"always (coke_margin > 10 mV)\"}\n"
    "  - {name: gentle heat, must: \"always (stack_gradient < 40 K)\"}\n"
    "falsify:\n  requirement: no coke\n  runs: 70\n  vary:\n"
    "    - {set: controller.table.2.current, from: 2 A, to: 4.4 A}\n"
    "    - {set: controller.table.2.at, from: 30 s, to: 3 min}\n"
    "    - {set: start.local_time, from: 0 h, to: 24 h}\n";

struct Bench {
  Folder folder{"falsify"};
  std::string scenario = folder.file("four.yaml");
  Bench() { std::ofstream{scenario} << kScenario; }

  Child falsify(const std::string& out, std::vector<std::string> more,
                const ChildOptions& options = {}) const {
    std::vector<std::string> words{"falsify", scenario, "--out", folder.file(out)};
    words.insert(words.end(), more.begin(), more.end());
    return run_duskline(words, options);
  }
  Json found(const std::string& out) const {
    return Json::parse(bytes_of(folder.file(out + "/falsify.json")));
  }
};

/// Reads and runs a scenario as `verify` does; the verdict on one requirement.
scenarios::Verdict verdict_of(const std::string& path, const std::string& name) {
  const auto read = scenarios::read_case(path, kPlants, {}, harness::requirement_signals());
  REQUIRE(read);
  harness::Watcher watcher(read.value->scenario);
  harness::InProcess link(read.value->scenario.controller);
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) { watcher.watch(s); };
  harness::run_loop(*read.value, link, options);
  for (const auto& judged : watcher.judge())
    if (judged.name == name) return judged.verdict;
  FAIL("there is no requirement " << name);
  return {};
}

}  // namespace

TEST_CASE("a violation ends the search, the worst case stands alone and is violated by exactly as much") {
  const Bench bench;
  const Child child = bench.falsify("out", {});
  INFO(child.err);
  CHECK(child.exit_code == 1);
  CHECK(has(child.out, "violated         no coke, -"));
  const Json found = bench.found("out");
  CHECK(found["first_violation"].get<int>() <= 70);
  CHECK(found["runs"].get<int>() < 70);
  CHECK(found["interrupted"] == false);
  // it stopped while it was still drawing: no sample of a size that was set in advance
  CHECK(found["at_random"]["share_that_violates_at_most"].is_null());
  CHECK_FALSE(has(child.out, "confidence"));

  const auto verdict = verdict_of(bench.folder.file("out/worst.yaml"), "no coke");
  CHECK(verdict.outcome == scenarios::Outcome::violated);
  CHECK(verdict.margin == found["closest"]["margin"].get<double>());  // every bit
  CHECK(verdict.time == found["closest"]["time"].get<double>());
  CHECK(run_duskline({"verify", bench.folder.file("out/worst.yaml"), "--out", bench.folder.file("kept")})
            .exit_code == 1);
  const Json summary = Json::parse(bytes_of(bench.folder.file("out/worst/summary.json")));
  CHECK(summary["requirements"][0]["verdict"] == "violated");
  CHECK(fs::exists(bench.folder.file("out/worst/report.html")));

  const std::string page = bytes_of(bench.folder.file("out/falsify.html"));
  CHECK(has(page, "Violated: no coke, -"));
  CHECK(has(page, "href=\"worst/report.html\""));
  CHECK(has(page, "prefers-color-scheme:dark"));
}

TEST_CASE("nothing that a search writes is overwritten without --force") {
  for (const char* name : {"falsify.html", "weather.csv", "worst.yaml", "worst/report.html"}) {
    const Bench bench;
    const std::string mine = bench.folder.file(std::string("out/") + name);
    fs::create_directories(fs::path(mine).parent_path());
    std::ofstream(mine) << "mine";
    const Child child = bench.falsify("out", {});
    CHECK(child.exit_code == 2);
    CHECK(has(child.err, "--force overwrites it"));
    CHECK(bytes_of(mine) == "mine");
    CHECK_FALSE(fs::exists(bench.folder.file("out/falsify.json")));
  }
}

TEST_CASE("a damaged record of a search is refused in plain words") {
  const Bench bench;
  REQUIRE(bench.falsify("out", {}).exit_code == 1);
  const std::string file = bench.folder.file("out/falsify.json");
  const Json whole = bench.found("out");
  const auto refused = [&](const Json& j) {
    std::ofstream(file) << j.dump();
    const Child child = bench.falsify("out", {"--resume"});
    CHECK(child.exit_code == 2);
    return child.err;
  };
  Json j = whole;
  j["attempts"][0]["shares"] = "none";
  CHECK(has(refused(j), "attempt 1 cannot be read"));
  j = whole;
  j["attempts"][1]["shares"][0] = 1e308;
  CHECK(has(refused(j), "attempt 2 cannot be read"));
  j = whole;
  j["format"] = 3;
  CHECK(has(refused(j), "is not a search that can be resumed"));
  j = whole;
  j["attempts"] = "all";
  CHECK(has(refused(j), "is not a search that can be resumed"));
}

TEST_CASE("with --go-on all runs are done, and what the draws say is said") {
  const Bench bench;
  const Child child = bench.falsify("out", {"--go-on"});
  CHECK(child.exit_code == 1);
  const Json found = bench.found("out");
  CHECK(found["runs"] == 70);
  CHECK(found["attempts"].size() == 70);
  CHECK(found["at_random"]["runs"] == 60);
  CHECK(found["at_random"]["share_that_violates_at_most"].get<double>() > 0.0);
  CHECK(has(child.out, "of the ranges do (95 % confidence)"));
  double least = 1e9;
  for (const Json& attempt : found["attempts"]) least = std::min(least, attempt["relative"].get<double>());
  CHECK(found["closest"]["relative"].get<double>() == least);
  // a row of values lies in its ranges
  for (const Json& attempt : found["attempts"]) {
    const double current = attempt["values"]["controller.table.2.current"].get<double>();
    CHECK((current >= 2.0 && current <= 4.4));
  }
}

TEST_CASE("the result depends on the seed of the search, not on the number of threads") {
  const Bench bench;
  CHECK(bench.falsify("one", {"--jobs", "1"}).exit_code == 1);
  CHECK(bench.falsify("five", {"--jobs", "5"}).exit_code == 1);
  for (const char* file : {"/falsify.json", "/worst.yaml", "/falsify.html", "/worst/summary.json"})
    CHECK(bytes_of(bench.folder.file(std::string("one") + file)) ==
          bytes_of(bench.folder.file(std::string("five") + file)));
  CHECK(bench.falsify("other", {"--seed", "6"}).exit_code == 1);
  CHECK(bench.found("other")["attempts"][0]["shares"] != bench.found("one")["attempts"][0]["shares"]);
}

TEST_CASE("where nothing breaks the closest approach is reported") {
  const Bench bench;
  const Child child = bench.falsify(
      "out", {"--set", "falsify.vary.1.to=2.5 A", "--set", "controller.table.1.current=2 A", "--json"});
  INFO(child.err);
  CHECK(child.exit_code == 0);
  const Json found = Json::parse(child.out);
  CHECK_FALSE(found.contains("attempts"));
  CHECK(found["first_violation"].is_null());
  CHECK(found["closest"]["margin"].get<double>() > 0.0);
  // none of 60: 1 - 0.05^(1/60) = 0.04870 (Clopper and Pearson)
  CHECK(found["at_random"]["share_that_violates_at_most"].get<double>() == Approx(0.04870).margin(5e-6));
  const auto verdict = verdict_of(bench.folder.file("out/worst.yaml"), "no coke");
  CHECK(verdict.margin == found["closest"]["margin"].get<double>());
  // all requirements, weighed by their scales, and another one by name
  CHECK(bench
            .falsify("all", {"--set", "controller.table.1.current=2 A", "--set", "falsify.vary.1.to=2.5 A",
                             "--requirement", "gentle heat", "--quiet"})
            .out == "");
  CHECK(bench.found("all")["closest"]["requirement"] == "gentle heat");
}

TEST_CASE("an interrupted search keeps what it has, and goes on where it was") {
  const Bench bench;
  const std::vector<std::string> whole{"--go-on", "--jobs", "1"};
  REQUIRE(bench.falsify("whole", whole).exit_code == 1);
  ChildOptions stop;
  stop.signal = SIGINT;
  stop.when = [&] { return fs::exists(bench.folder.file("cut/falsify.json")); };
  const Child cut = bench.falsify("cut", whole, stop);
  CHECK(cut.exit_code == 3);
  CHECK(has(cut.err, "not completed: interrupted; --resume goes on"));
  Json kept = bench.found("cut");
  const std::size_t runs = kept["attempts"].size();
  CHECK(runs >= 16);
  REQUIRE(runs < 70);
  CHECK(kept["interrupted"] == true);

  std::vector<std::string> resumed = whole;
  resumed.emplace_back("--resume");
  CHECK(bench.falsify("cut", resumed).exit_code == 1);
  CHECK(bytes_of(bench.folder.file("cut/falsify.json")) == bytes_of(bench.folder.file("whole/falsify.json")));

  // it does not run again what is there: a mark put there stays
  kept["attempts"][0]["time"] = 12345.0;
  std::ofstream{bench.folder.file("cut/falsify.json")} << kept.dump();
  CHECK(bench.falsify("cut", resumed).exit_code == 1);
  CHECK(bench.found("cut")["attempts"][0]["time"] == 12345.0);
}

TEST_CASE("a search that went on past a violation is complete when it is resumed without going on") {
  const Bench bench;
  const std::vector<std::string> all{"--go-on", "--jobs", "1"};
  REQUIRE(bench.falsify("out", all).exit_code == 1);
  const std::string whole = bytes_of(bench.folder.file("out/falsify.json"));
  const Child again = bench.falsify("out", {"--resume"});
  CHECK(again.err.find("interrupted") == again.err.npos);
  CHECK(again.exit_code == 1);
  CHECK(bytes_of(bench.folder.file("out/falsify.json")) == whole);
}

TEST_CASE("a requirement that a run leaves undecided is found as a violation") {
  const Bench bench;
  const Child child =
      bench.falsify("out", {"--set", "falsify.vary.1.to=2.5 A", "--set", "controller.table.1.current=2 A",
                            "--set", "requirements.1.must=always for 10 min (coke_margin > 10 mV)"});
  INFO(child.err);
  CHECK(child.exit_code == 1);
  CHECK(has(child.out, "undecided        no coke"));
  CHECK(bench.found("out")["closest"]["outcome"] == "undecided");
  CHECK(has(bytes_of(bench.folder.file("out/falsify.html")), "Left undecided: no coke"));
}

TEST_CASE("what words alone decide is endlessly far, also after it was read back") {
  const Bench bench;
  const auto base = scenarios::read_case(bench.scenario, kPlants, {}, harness::requirement_signals());
  REQUIRE(base);
  harness::Falsified found;
  for (const double far : {0.5, -std::numeric_limits<double>::infinity(), 0.2}) {
    harness::Attempt a;
    a.at = {0.25, 0.5, 0.75};
    a.values = {2.6, 105.0, 18.0};
    a.requirement = "never trips";
    a.verdict.outcome = far < 0.0 ? scenarios::Outcome::violated : scenarios::Outcome::satisfied;
    a.verdict.relative = a.verdict.margin = far;
    found.attempts.push_back(a);
  }
  REQUIRE(found.closest() == 1U);
  const harness::FalsifyOptions options;
  const std::string text = harness::falsified_json(*base.value, found, options, true);
  auto read = harness::earlier_attempts(text, "falsify.json", *base.value, options);
  REQUIRE(read);
  const harness::Falsified again{*read.value, 0, false};
  CHECK(again.closest() == 1U);
  CHECK(harness::falsified_json(*base.value, again, options, true) == text);
  // on the edge of the plot, not left out of it: three marks for the search, three for each of three numbers
  const std::string page = harness::falsify_page(*base.value, found);
  std::size_t marks = 0;
  for (std::size_t at = page.find("<title>run "); at != std::string::npos;
       at = page.find("<title>run ", at + 1))
    ++marks;
  CHECK(marks == 3 * 4);
}

TEST_CASE("another weather file makes another search") {
  const Bench bench;
  auto read = scenarios::read_case(bench.scenario, kPlants, {}, harness::requirement_signals());
  REQUIRE(read);
  scenarios::Case& c = *read.value;
  const std::string without = harness::identity_of(c);
  c.weather_file = bench.folder.file("weather.csv");
  std::ofstream{c.weather_file} << "one";
  const std::string one = harness::identity_of(c);
  std::ofstream{c.weather_file} << "two";
  CHECK(one != without);
  CHECK(harness::identity_of(c) != one);
}

TEST_CASE("what is wrong is said, and nothing is overwritten") {
  const Bench bench;
  const Child none = run_duskline({"falsify", kLibrary + "storms/fast-vortex.yaml"});
  CHECK(none.exit_code == 2);
  CHECK(has(none.err, "fast-vortex.yaml:1:1: falsify: is missing"));
  const Child name = bench.falsify("out", {"--requirement", "no cook"});
  CHECK(name.exit_code == 2);
  CHECK(has(name.err, "no requirement is called 'no cook'; did you mean 'no coke'?"));
  CHECK(bench.falsify("out", {"--resume"}).exit_code == 2);
  CHECK_FALSE(fs::exists(bench.folder.file("out")));
  CHECK(bench.falsify("out", {"--quiet"}).exit_code == 1);
  const std::string before = bytes_of(bench.folder.file("out/falsify.json"));
  const Child again = bench.falsify("out", {"--seed", "9"});
  CHECK(again.exit_code == 2);
  CHECK(has(again.err, "holds a search already"));
  const Child other = bench.falsify("out", {"--seed", "9", "--resume"});
  CHECK(other.exit_code == 2);
  CHECK(has(other.err, "is another search"));
  CHECK(bytes_of(bench.folder.file("out/falsify.json")) == before);
  CHECK(bench.falsify("out", {"--seed", "9", "--force"}).exit_code == 1);
  CHECK(run_duskline({"falsify"}).exit_code == 2);
}

TEST_CASE("the search that ships breaks the fixed law in under 200 runs") {
  const Folder folder{"falsify-shipped"};
  const Child child = run_duskline({"falsify", kLibrary + "dawn-dusk/any-dawn-or-dusk.yaml", "--set",
                                    "controller.law=fixed", "--runs", "200", "--out", folder.file("out")});
  INFO(child.err);
  CHECK(child.exit_code == 1);
  const Json found = Json::parse(bytes_of(folder.file("out/falsify.json")));
  CHECK(found["closest"]["requirement"] == "no coke");
  CHECK(found["first_violation"].get<int>() < 200);
}

TEST_CASE("a plant drawn by its number is recorded, and the resolved scenario draws it again") {
  const Folder here{"plant-draw"};
  const auto run = [&](const std::string& what, const std::string& out,
                       const std::vector<std::string>& more) {
    std::vector<std::string> words{"run", what, "--quiet", "--out", here.file(out)};
    words.insert(words.end(), more.begin(), more.end());
    return run_duskline(words).exit_code;
  };
  REQUIRE(run(kSol, "meant", {"--set", "duration=2 min"}) == 0);
  REQUIRE(run(kSol, "drawn", {"--set", "duration=2 min", "--set", "plant_draw=7"}) < 2);
  REQUIRE(run(here.file("drawn/scenario.resolved.yaml"), "again", {}) < 2);
  CHECK((bytes_of(here.file("drawn/trace.nc")) == bytes_of(here.file("again/trace.nc"))));
  CHECK((bytes_of(here.file("drawn/trace.nc")) != bytes_of(here.file("meant/trace.nc"))));
  const auto drawn = nlohmann::json::parse(bytes_of(here.file("drawn/summary.json")))["plant_drawn"];
  CHECK(drawn["number"] == 7);
  CHECK(drawn["parameters"]["cell.diffusion_length"]["value"].get<double>() >
        30e-6);  // range of the plant file
  CHECK(drawn["parameters"]["stack.resistance_factor"]["value"].size() == 8);
  CHECK_FALSE(nlohmann::json::parse(bytes_of(here.file("meant/summary.json"))).contains("plant_drawn"));
}
