// What a run writes: the same bytes whenever and wherever it is run, a scenario that gives the same run
// again, no path of this machine, nothing overwritten, and the same figures whether or not the run is
// recorded.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

const std::set<std::string> kFiles{"trace.nc", "summary.json", "report.html", "scenario.resolved.yaml"};

std::set<std::string> names_in(const std::string& folder) {
  std::set<std::string> names;
  for (const auto& entry : fs::directory_iterator{folder}) names.insert(entry.path().filename().string());
  return names;
}

/// Runs `scenario` for a quarter of an hour and more; the run must reach its end.
Child run(const std::string& scenario, const std::string& out, std::vector<std::string> more = {},
          const ChildOptions& options = {}) {
  std::vector<std::string> words{"run", scenario, "--out", out, "--quiet"};
  words.insert(words.end(), more.begin(), more.end());
  Child child = run_duskline(words, options);
  INFO(child.err);
  CHECK(child.exit_code == 0);
  return child;
}

const std::vector<std::string> kShort{"--set", "duration=20 min"};

void check_same(const std::string& one, const std::string& two, const std::set<std::string>& files) {
  for (const std::string& file : files) {
    INFO(file);
    const std::string bytes = bytes_of(one + "/" + file);
    CHECK_FALSE(bytes.empty());
    CHECK((bytes == bytes_of(two + "/" + file)));
  }
}

/// A scenario with measured weather in a folder of its own: another season than the built-in climate's.
std::string weather_scenario(const Folder& folder) {
  fs::create_directories(folder.file("made/data"));
  fs::copy_file(kLibrary + "weather/equatorial-composite.csv", folder.file("made/data/measured here.csv"));
  std::ofstream{folder.file("made/windy.yaml")}
      << "format: duskline-scenario/1\ntitle: Measured weather\nplant: bench\nseed: 3\nduration: 20 min\n"
         "record: 10 s\nweather: data/measured here.csv\nstart: {season: 75 deg, local_time: 9 h}\n"
         "initial: {state: hot-standby}\ncommands:\n  - {at: 0 s, mode: production, demand: 9 g/h}\n";
  return folder.file("made/windy.yaml");
}

}  // namespace

TEST_CASE("The same run gives the same bytes, seconds later, elsewhere, in another time zone and language") {
  const Folder here{"run-same"};
  run(kSol, here.file("one"), kShort);
  std::this_thread::sleep_for(std::chrono::milliseconds(1100));  // the clock has moved by more than a second
  const std::string relative = fs::path(kSol).lexically_relative(here.path()).string();
  run(relative, "a folder/zw\xC3\xB6lf", kShort,
      {.folder = here.path(), .environment = {{"TZ", "Asia/Tokyo"}, {"LC_ALL", "C.UTF-8"}, {"HOME", "/"}}});
  CHECK(names_in(here.file("one")) == kFiles);
  CHECK(names_in(here.file("a folder/zw\xC3\xB6lf")) == kFiles);
  check_same(here.file("one"), here.file("a folder/zw\xC3\xB6lf"), kFiles);
}

TEST_CASE("The resolved scenario gives the same run again") {
  const Folder here{"run-again"};
  run(kSol, here.file("one"),
      {"--set", "duration=20 min", "--seed", "99", "--set", "controller.parameters.margin_setpoint=45 mV",
       "--set", "plant.compressor.displacement=20.5 cm3"});
  run(here.file("one/scenario.resolved.yaml"), here.file("two"));
  check_same(here.file("one"), here.file("two"), kFiles);
}

TEST_CASE("A folder of a run with measured weather is whole: moved elsewhere it gives the same run again") {
  const Folder here{"run-weather"};
  const std::string scenario = weather_scenario(here);
  run(scenario, here.file("one"));
  std::set<std::string> files = kFiles;
  files.insert("weather.csv");
  CHECK(names_in(here.file("one")) == files);
  CHECK((bytes_of(here.file("one/weather.csv")) == bytes_of(kLibrary + "weather/equatorial-composite.csv")));
  fs::rename(here.file("one"), here.file("moved"));
  fs::remove_all(here.file("made"));
  run(here.file("moved/scenario.resolved.yaml"), here.file("two"));
  check_same(here.file("moved"), here.file("two"), files);
  // even onto itself, when that is asked for
  const std::string before = bytes_of(here.file("moved/trace.nc"));
  run(here.file("moved/scenario.resolved.yaml"), here.file("moved"), {"--force"});
  CHECK((bytes_of(here.file("moved/trace.nc")) == before));
  check_same(here.file("moved"), here.file("two"), files);
}

TEST_CASE("What the reader of the weather left out is said at the end of the run, and once in the summary") {
  const Folder here{"run-notes"};
  std::ofstream{here.file("air.csv")}
      << "sol,local_time [h],pressure [Pa],dew\n0,1,700,3\n0,13,690,3\n1,1,705,3\n";
  const std::string scenario = here.file("s.yaml");
  std::ofstream{scenario}
      << "format: duskline-scenario/1\ntitle: t\nplant: bench\nduration: 2 min\nweather: air.csv\n";
  const Child child = run_duskline({"run", scenario, "--out", here.file("run")});
  INFO(child.err);
  CHECK(child.exit_code == 0);
  CHECK(has(child.out, "  note             column 'dew' is not used\n"));
  const auto notes = nlohmann::json::parse(bytes_of(here.file("run/summary.json")))["notes"];
  CHECK(std::count(notes.begin(), notes.end(), "column 'dew' is not used") == 1);
}

TEST_CASE("No output holds a path of this machine, its name or its user's") {
  const Folder here{"run-private"};
  run(weather_scenario(here), here.file("one"));
  char host[256] = {};
  REQUIRE(gethostname(host, sizeof host - 1) == 0);
  for (const std::string& name : names_in(here.file("one"))) {
    INFO(name);
    const std::string bytes = bytes_of(here.file("one/" + name));
    CHECK_FALSE(has(bytes, here.path()));
    CHECK_FALSE(has(bytes, DUSKLINE_SOURCE_DIR));
    CHECK_FALSE(has(bytes, DUSKLINE_BINARY_DIR));
    CHECK_FALSE(has(bytes, "measured here"));
    if (std::string(host).size() > 8) CHECK_FALSE(has(bytes, host));  // a short name may be a word
  }
}

TEST_CASE("Recording, watching and printing change no figure") {
  const Folder here{"run-record"};
  run(kSol, here.file("one"), kShort);
  run(kSol, here.file("two"), {"--set", "duration=20 min", "--no-record"});
  CHECK(names_in(here.file("two")) == std::set<std::string>{"summary.json", "scenario.resolved.yaml"});
  check_same(here.file("one"), here.file("two"), {"summary.json", "scenario.resolved.yaml"});
  run(kSol, here.file("three"), {"--set", "duration=20 min", "--set", "record=1 s"});
  check_same(here.file("one"), here.file("three"), {"summary.json"});
  const Child json =
      run_duskline({"run", kSol, "--set", "duration=20 min", "--out", here.file("four"), "--json"});
  CHECK((json.out == bytes_of(here.file("one/summary.json"))));
}

TEST_CASE("A setting and a seed act, and the seed of the command line prevails") {
  const Folder here{"run-set"};
  const auto summary = [&](const std::string& out, std::vector<std::string> more) {
    more.insert(more.end(), {"--set", "duration=10 min", "--no-record"});
    run(kSol, here.file(out), more);
    return nlohmann::json::parse(bytes_of(here.file(out + "/summary.json")));
  };
  const auto plain = summary("plain", {});
  CHECK(plain["seed"] == 7);  // as the scenario says
  CHECK(plain["end"]["time"]["value"] == 600.0);
  CHECK(plain["integration"]["ticks"] == 600);
  const auto seeded = summary("seeded", {"--seed", "18446744073709551615", "--set", "seed=3"});
  CHECK(seeded["seed"].get<std::uint64_t>() == 18446744073709551615U);
  CHECK(seeded["key_figures"] != plain["key_figures"]);
  const auto less = summary("less", {"--set", "commands[1].demand=6 g/h", "--set", "title=Less = more"});
  CHECK(less["title"] == "Less = more");
  CHECK(less["key_figures"]["oxygen_made"]["value"].get<double>() <
        0.9 * plain["key_figures"]["oxygen_made"]["value"].get<double>());
}

TEST_CASE("Nothing is overwritten without --force, and with it nothing old remains") {
  const Folder here{"run-force"};
  const std::string out = here.file("runs/equinox-sol");
  const std::vector<std::string> words{"run", kSol, "--set", "duration=2 min", "--quiet"};
  // the default folder is runs/<scenario>, below the folder that one stands in
  CHECK(run_duskline(words, {.folder = here.path()}).exit_code == 0);
  CHECK(names_in(out) == kFiles);
  std::ofstream{out + "/notes.txt"} << "mine";
  const std::string trace = bytes_of(out + "/trace.nc");

  for (const std::string kept : {"", "trace.nc", "report.html", "scenario.resolved.yaml", "summary.json"}) {
    if (!kept.empty())
      for (const std::string& file : kFiles)
        if (file != kept) fs::remove(out + "/" + file);
    const std::string first = kept.empty() ? "trace.nc" : kept;
    const Child again = run_duskline(words, {.folder = here.path()});
    CHECK(again.exit_code == 2);
    CHECK(again.err == "--out:1:1: runs/equinox-sol: holds a run already (" + first +
                           "); --force overwrites it, another --out keeps it\n");
    if (first == "trace.nc") CHECK((bytes_of(out + "/trace.nc") == trace));
    std::vector<std::string> forced = words;
    forced.push_back("--force");
    CHECK(run_duskline(forced, {.folder = here.path()}).exit_code == 0);
    CHECK((bytes_of(out + "/trace.nc") == trace));
  }
  CHECK(bytes_of(out + "/notes.txt") == "mine");

  run(kSol, out, {"--set", "duration=2 min", "--force", "--compare", "fixed"});
  CHECK(names_in(out) == std::set<std::string>{"trace.nc", "summary.json", "report.html",
                                               "scenario.resolved.yaml", "compared.nc", "compared.json",
                                               "compare.html", "notes.txt"});
  run(kSol, out, {"--set", "duration=2 min", "--force", "--no-record"});
  CHECK(names_in(out) == std::set<std::string>{"summary.json", "scenario.resolved.yaml", "notes.txt"});
}

TEST_CASE("The compared run is the same run under another law, with its own trace and summary") {
  const Folder here{"run-compared"};
  run(kSol, here.file("both"), {"--set", "duration=10 min", "--compare", "fixed"});
  run(kSol, here.file("one"), {"--set", "duration=10 min", "--set", "controller.law=fixed"});
  CHECK((bytes_of(here.file("both/compared.json")) == bytes_of(here.file("one/summary.json"))));
  CHECK((bytes_of(here.file("both/compared.nc")) == bytes_of(here.file("one/trace.nc"))));
  CHECK(nlohmann::json::parse(bytes_of(here.file("both/summary.json")))["law"] == "cascade");
  CHECK(has(bytes_of(here.file("both/report.html")), "fixed law"));
  CHECK(has(bytes_of(here.file("both/report.html")), "\"comparison\":\"compare.html\""));
  CHECK(has(bytes_of(here.file("both/compare.html")), "\"name\":\"fixed law\""));
}

TEST_CASE("A sol stays below 100 MiB of memory, and a longer run takes no more") {
#if defined(__SANITIZE_ADDRESS__)
  skip("a sanitizer takes memory of its own");
#else
  const Folder here{"run-memory"};
  const Child recorded = run(kSol, here.file("sol"), {"--set", "duration=1 sol", "--set", "record=1 s"});
  CHECK(recorded.largest_memory > 1000);    // KiB: it has been measured
  CHECK(recorded.largest_memory < 102400);  // our own bound: 100 MiB
  // three sols take what one takes: the samples that the requirements need were 12 MB a sol when all were kept
  const auto judged = [&](const std::string& duration) {
    return run(kSol, here.file("judged"), {"--force", "--no-record", "--set", "duration=" + duration})
        .largest_memory;
  };
  CHECK(judged("3 sol") < judged("1 sol") + 3000);  // KiB
#endif
}
