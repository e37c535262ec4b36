// The verb compare: exit codes, text, JSON and page of two runs, and what it says when it cannot compare.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "tests/support/child.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

/// Twenty minutes of a half hour, with one requirement that a demand of 5 g/h cannot satisfy.
std::string scenario(const Folder& here) {
  std::ofstream{here.file("s.yaml")}
      << "format: duskline-scenario/1\ntitle: Compared\nplant: bench\nseed: 3\nduration: 20 min\nrecord: 10 "
         "s\n"
         "start: {season: 75 deg, local_time: 9 h}\ninitial: {state: hot-standby}\n"
         "commands:\n  - {at: 0 s, mode: production, demand: 9 g/h}\n"
         "requirements:\n  - {name: much, must: \"after 15 min: always (oxygen_rate > 7 g/h)\"}\n";
  return here.file("s.yaml");
}

}  // namespace

TEST_CASE("compare shows figures, verdicts, events and signals, and fails when B loses a requirement of A") {
  const Folder here{"compare"};
  const std::string file = scenario(here);
  REQUIRE(run_duskline({"run", file, "--quiet", "--out", here.file("a")}).exit_code == 0);
  REQUIRE(run_duskline({"run", file, "--quiet", "--out", here.file("b"), "--set", "commands[1].demand=5 g/h",
                        "--set", "record=4 s", "--set", "duration=18 min"})
              .exit_code == 1);

  const Child lost = run_duskline({"compare", "a", "b"}, {.folder = here.path()});
  INFO(lost.err);
  CHECK(lost.exit_code == 1);
  CHECK(has(lost.out, "Violated in B, satisfied in A: much\n"));
  CHECK(has(lost.out, "period of the trace: 10 s in A, 4 s in B\n"));
  CHECK(has(lost.out, "asked for production, 9 g/h"));
  CHECK(has(lost.out, "oxygen_demand"));
  const std::string page = bytes_of(here.file("runs/compare/a-and-b/compare.html"));
  CHECK(has(page, "\"finding\":{\"tone\":\"bad\",\"text\":\"Violated in B, satisfied in A: much\"}"));
  // the least and greatest of each interval are no signals of their own on the page: their signal is drawn with them
  CHECK(has(page, "\"name\":\"coke_margin_min\""));
  CHECK(has(page, "\"extreme\":true"));

  const Child again = run_duskline({"compare", "a", "b"}, {.folder = here.path()});
  CHECK(again.exit_code == 2);
  CHECK(again.err ==
        "--out:1:1: runs/compare/a-and-b: holds a comparison already (compare.html); --force overwrites it, "
        "another --out keeps it\n");

  const Child regained =
      run_duskline({"compare", "b", "a", "--json", "--out", "other"}, {.folder = here.path()});
  CHECK(regained.exit_code == 0);  // the other way round nothing is lost
  const auto j = nlohmann::json::parse(regained.out);
  CHECK(j["lost"].empty());
  CHECK(j["a"]["name"] == "b");
  CHECK(j["requirements"][0]["b"] == "satisfied");
  CHECK_FALSE(has(bytes_of(here.file("other/compare.html")), here.path()));
}

TEST_CASE("compare does without traces, and names every folder that holds no run") {
  const Folder here{"compare-bad"};
  const std::string file = scenario(here);
  REQUIRE(run_duskline({"run", file, "--quiet", "--no-record", "--out", here.file("a")}).exit_code == 0);
  const Child same = run_duskline({"compare", "a", "a", "--out", "c"}, {.folder = here.path()});
  CHECK(same.exit_code == 0);
  CHECK(has(same.out, "a has no trace: signals are not compared"));
  CHECK(has(same.out, "All key figures are the same."));

  fs::create_directories(here.file("empty"));
  fs::create_directories(here.file("corrupted"));
  std::ofstream{here.file("corrupted/summary.json")} << "no json";
  const Child none = run_duskline({"compare", "empty", "nothing", "--out", "d"}, {.folder = here.path()});
  CHECK(none.exit_code == 2);
  CHECK(none.err ==
        "empty/summary.json:1:1: is missing or cannot be read; the folder holds no finished run\n"
        "nothing:1:1: is no folder; compare takes two folders that `duskline run` wrote\n");
  CHECK_FALSE(fs::exists(here.file("d")));
  const Child corrupted = run_duskline({"compare", "a", "corrupted", "--out", "d"}, {.folder = here.path()});
  CHECK(corrupted.exit_code == 2);
  CHECK(corrupted.err == "corrupted/summary.json:1:1: the summary is not a JSON object\n");
  std::ofstream{here.file("a/trace.nc")} << "no trace";
  CHECK(run_duskline({"compare", "a", "a", "--out", "d"}, {.folder = here.path()}).exit_code == 2);
}
