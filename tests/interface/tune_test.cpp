// `duskline tune`: what it writes, that it goes on where it was stopped, and what it refuses.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "tests/support/child.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

const std::string kTuning =
    "tuning:\n"
    "  vary:\n"
    "    - {set: controller.parameters.flow_gain, from: \"0.5\", to: \"4\", scale: log}\n"
    "    - {set: controller.parameters.flow_response, from: 5 s, to: 40 s}\n"
    "  objectives:\n"
    "    - {name: travel, aim: \"least mean over time of magnitude of rate of compressor_speed_command per 1 "
    "rad/s2\"}\n"
    "    - {name: margin, aim: \"most least over time of coke_margin per 50 mV\"}\n"
    "  draws: 1\n  held_out: 2\n  budget: 9\n  population: 5\n  seed: 4\n";

struct Task {
  Folder folder{"tune"};
  explicit Task(const std::string& tuning = kTuning) {
    std::ofstream{folder.file("steps.yaml")}
        << "format: duskline-scenario/1\ntitle: Steps of demand\nplant: bench\nduration: 6 min\nrecord: 10 "
           "s\n"
           "initial: {state: producing, cathode_co: 65 %}\n"
           "commands:\n  - {at: 0 s, mode: production, demand: 10 g/h}\n  - {at: 2 min, demand: 8 g/h}\n"
           "requirements:\n  - {name: no coke, must: \"always (coke_margin > 10 mV)\"}\n"
        << tuning;
  }
  Child tune(const std::string& out, std::vector<std::string> more = {}) const {
    std::vector<std::string> words{"tune", folder.file("steps.yaml"), "--out", folder.file(out)};
    words.insert(words.end(), more.begin(), more.end());
    return run_duskline(words);
  }
  std::string read(const std::string& name) const {
    std::ifstream file(folder.file(name), std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }
};

std::size_t lines_of(const std::string& file) {
  const std::string text = bytes_of(file);
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

}  // namespace

TEST_CASE("a search writes its result, which another number of threads gives byte by byte") {
  const Task task;
  const Child child = task.tune("one", {"--jobs", "1"});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  CHECK(has(child.out, "stated objective"));
  const auto j = nlohmann::json::parse(task.read("one/tune.json"));
  CHECK(j["format"] == "duskline-tuning/1");
  CHECK(j["candidates"] == 8);  // nine, but the start is the first of the population too
  CHECK(j["start"]["gains"][0]["value"].get<double>() ==
        Approx(1.7));  // the default of controller_parameters.h
  CHECK(j["best"]["cost"].get<double>() <= j["start"]["cost"].get<double>());
  CHECK(j["held_out"]["draws"] == 2);
  CHECK_FALSE(j["front"].empty());
  CHECK(has(task.read("one/report.html"), "On held-out draws"));
  CHECK(has(task.read("one/controller.yaml"), "format: duskline-controller/1"));
  REQUIRE(task.tune("two", {"--jobs", "3"}).exit_code == 0);
  for (const char* name : {"tune.json", "journal.jsonl", "report.html", "controller.yaml"})
    CHECK(task.read(std::string("one/") + name) == task.read(std::string("two/") + name));

  SECTION("half a journal is enough to go on, to the same bytes") {
    const std::string all = task.read("one/journal.jsonl");
    fs::create_directories(task.folder.file("half"));
    std::ofstream(task.folder.file("half/journal.jsonl"), std::ios::binary) << all.substr(0, all.size() / 2);
    const Child rest = task.tune("half");
    REQUIRE(rest.exit_code == 0);
    CHECK(has(rest.out, "goes on"));
    CHECK(task.read("half/journal.jsonl") == all);
    CHECK(task.read("half/tune.json") == task.read("one/tune.json"));
  }
  SECTION("a finished search is not overwritten, another seed is another search") {
    const Child again = task.tune("one");
    CHECK(again.exit_code == 2);
    CHECK(has(again.err, "holds a result already (tune.json)"));
    const Child forced = task.tune("one", {"--force", "--seed", "5", "--quiet"});
    CHECK(forced.exit_code == 0);
    CHECK(forced.out.empty());
    CHECK(task.read("one/tune.json") != task.read("two/tune.json"));
  }
  SECTION("a controller file of the user is not overwritten") {
    fs::create_directories(task.folder.file("mine"));
    std::ofstream(task.folder.file("mine/controller.yaml")) << "mine";
    for (const std::vector<std::string>& more : {std::vector<std::string>{}, {"--relay"}}) {
      const Child refused = task.tune("mine", more);
      CHECK(refused.exit_code == 2);
      CHECK(has(refused.err, "holds a result already (controller.yaml); --force overwrites it"));
    }
    CHECK(task.read("mine/controller.yaml") == "mine");
  }
  SECTION("a verdict is printed, and gains that are worse on the held-out draws are not written") {
    const std::string verdict = j["held_out"]["verdict"];
    CHECK(has(child.out, "verdict                  " + verdict));
    const double difference = j["held_out"]["cost"]["difference"];
    CHECK_FALSE((verdict == "worse" && difference <= 0.0));
    CHECK_FALSE((verdict == "better" && difference >= 0.0));
    const std::string page = task.read("one/report.html");
    CHECK(has(page, "The change is not significant") == (verdict == "not significant"));
    CHECK(has(page, "keeps the gains of before") == (verdict == "worse"));
    CHECK(has(page, "found no better gains") == (verdict == "unchanged"));
  }
  SECTION("the controller file runs") {
    std::ofstream(task.folder.file("with.yaml"))
        << "format: duskline-scenario/1\ntitle: With it\nplant: bench\nduration: 1 min\n"
           "controller: {file: one/controller.yaml}\ncommands:\n  - {at: 0 s, mode: standby}\n";
    const Child run =
        run_duskline({"run", task.folder.file("with.yaml"), "--no-record", "--out", task.folder.file("run")});
    INFO(run.err);
    CHECK(run.exit_code == 0);
  }
}

TEST_CASE("the page plots the best gains also where those of the start are kept") {
  std::string one = kTuning;  // one aim alone, and draws on which the search is led astray
  one.erase(one.find("    - {name: travel"),
            one.find("    - {name: margin") - one.find("    - {name: travel"));
  const Task task(one);
  const Child child = task.tune("out", {"--seed", "5"});
  INFO(child.err << child.out);
  REQUIRE(child.exit_code == 0);
  REQUIRE(has(child.out, "verdict                  worse: controller.yaml keeps the gains of the start"));
  const std::string page = task.read("out/report.html");
  const auto line_of = [&](const std::string& colour, std::size_t from) {
    const std::size_t end = page.find("\" fill=\"none\" stroke=\"" + colour, from);
    REQUIRE(end != page.npos);
    return page.substr(page.rfind('"', end - 1), end - page.rfind('"', end - 1));
  };
  const std::size_t traces = page.find("Before and after");
  REQUIRE(traces != page.npos);
  const std::size_t speed = page.find("Compressor speed", traces);
  CHECK(line_of("var(--line3)", speed) != line_of("var(--line1)", speed));
}

TEST_CASE("a journal of another search is not touched") {
  const Task task;
  fs::create_directories(task.folder.file("out"));
  std::ofstream(task.folder.file("out/journal.jsonl"))
      << "{\"format\":\"duskline-tuning-journal/2\",\"task\":\"0\"}\n";
  const Child child = task.tune("out");
  CHECK(child.exit_code == 2);
  CHECK(has(child.err, "journal.jsonl:1:1: is the journal of another search; --force starts over"));
}

TEST_CASE("what is wrong with a tuning is reported with its place") {
  const auto complaint = [](const std::string& tuning) {
    const Task task(tuning);
    const Child child = task.tune("out");
    CHECK(child.exit_code == 2);
    return child.err;
  };
  CHECK(has(complaint(""), "steps.yaml:1:1: tuning: is missing"));
  CHECK(has(
      complaint("tuning:\n  vary:\n    - {set: controller.parameters.flow_gian, from: \"1\", to: \"2\"}\n"
                "  objectives:\n    - {name: a, aim: \"most robustness of always (coke_margin > 0 V)\"}\n"),
      "did you mean 'controller.parameters.flow_gain'"));
  CHECK(
      has(complaint("tuning:\n  vary:\n    - {set: controller.parameters.flow_gain, from: \"1\", to: \"2\"}\n"
                    "  objectives:\n    - {name: a, aim: \"least coke_margin\"}\n"),
          "tuning.objectives[1].aim: expected 'least' or 'most', then"));
  CHECK(has(
      complaint("tuning:\n  vary:\n    - {set: controller.parameters.flow_gain, from: \"1\", to: \"2\"}\n"),
      "tuning.objectives: are missing"));
  CHECK(has(complaint(kTuning + "  scenarios:\n    - {file: nowhere.yaml}\n"), "nowhere.yaml"));
}

TEST_CASE("a relay experiment finds the lag of the plenum and proposes gains") {
  const Task task(kTuning + "  operating_points:\n    - {name: noon, local_time: 12 h}\n");
  fs::create_directories(task.folder.file("relay"));
  std::ofstream(task.folder.file("relay/journal.jsonl")) << "hours of a search\n";
  const Child child = task.tune("relay", {"--relay", "--json", "--force"});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  const auto j = nlohmann::json::parse(task.read("relay/relay.json"));
  const auto& flow = j["experiments"][0];
  REQUIRE(flow["loop"] == "feed flow");
  // plant: 0.85 is the filling that the controller assumes, the machine's own is near it; the plenum empties in 35 s,
  // the meter and its filter and the exhaust volume lengthen that (docs/explain/tuning.md)
  CHECK(flow["model"]["gain"].get<double>() == Approx(0.85).margin(0.1));
  CHECK(flow["model"]["lag_s"].get<double>() > 30.0);
  CHECK(flow["model"]["lag_s"].get<double>() < 80.0);
  CHECK(flow["spread_of_periods"].get<double>() <= 0.1);
  CHECK(fs::exists(task.folder.file("relay/controller.yaml")));
  CHECK(task.read("relay/journal.jsonl") == "hours of a search\n");  // it takes away only what is its own
  const Child search =
      task.tune("from-relay", {"--start", task.folder.file("relay/controller.yaml"), "--quiet"});
  INFO(search.err);
  CHECK(search.exit_code == 0);
}

TEST_CASE("a forced search that is interrupted keeps its candidates, and goes on without --force") {
  std::string more = kTuning;
  more.replace(more.find("budget: 9"), 9, "budget: 40");
  const Task task(more);
  REQUIRE(task.tune("whole", {"--quiet"}).exit_code == 0);
  fs::copy(task.folder.file("whole"), task.folder.file("out"), fs::copy_options::recursive);
  const std::string journal = task.folder.file("out/journal.jsonl"),
                    result = task.folder.file("out/tune.json");
  ChildOptions options;
  options.signal = SIGINT;
  // the result of before has gone, and a few candidates are known anew
  const auto whole = lines_of(task.folder.file("whole/journal.jsonl"));
  options.when = [&] { return !fs::exists(result) && lines_of(journal) > 3 && lines_of(journal) < whole; };
  const Child cut = run_duskline(
      {"tune", task.folder.file("steps.yaml"), "--out", task.folder.file("out"), "--force"}, options);
  CHECK(cut.exit_code == 3);
  CHECK(has(cut.err, "the same command without --force goes on"));
  CHECK_FALSE(fs::exists(result));
  CHECK(lines_of(journal) > 3);
  CHECK(lines_of(journal) < whole);
  const Child rest = task.tune("out");
  CHECK(rest.exit_code == 0);
  CHECK(has(rest.out, "candidates are known from"));
  CHECK(task.read("out/tune.json") == task.read("whole/tune.json"));
}

TEST_CASE("an interrupted relay experiment says so, and proposes nothing") {
  std::string points = "  operating_points:\n";
  for (int hour = 1; hour < 24; ++hour)
    points += "    - {name: at " + std::to_string(hour) + ", local_time: " + std::to_string(hour) + " h}\n";
  const Task task(kTuning + points);
  ChildOptions options;
  options.signal = SIGINT;
  options.when = [&] { return fs::is_directory(task.folder.file("relay")); };
  const Child cut = run_duskline(
      {"tune", task.folder.file("steps.yaml"), "--relay", "--out", task.folder.file("relay")}, options);
  CHECK(cut.exit_code == 3);
  CHECK(has(cut.err, "not completed: interrupted"));
  CHECK_FALSE(fs::exists(task.folder.file("relay/controller.yaml")));
  CHECK(task.tune("relay", {"--relay", "--quiet", "--force", "--set", "tuning.operating_points=[]"})
            .exit_code != 2);
}
