// Help whose examples work when pasted, descriptions in three forms, and pages of docs/reference that are
// current.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/topics.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "tests/support/child.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;
namespace harness = duskline::harness;

namespace {

/// What stands behind `Example: ` in a help text.
std::string example_of(const std::string& help) {
  const std::string mark = "Example: ";
  const std::size_t at = help.find(mark);
  REQUIRE(at != std::string::npos);
  return help.substr(at + mark.size(), help.find('\n', at) - at - mark.size());
}

/// The first line in which two texts differ, as each has it; empty when they are equal.
std::string first_difference(const std::string& one, const std::string& two) {
  if (one == two) return {};
  std::istringstream a{one}, b{two};
  std::string x, y;
  do {
    x = y = "(end)";
    std::getline(a, x);
    std::getline(b, y);
  } while (x == y && a && b);
  return "program: " + x + "\npage:    " + y;
}

}  // namespace

TEST_CASE("Every help shows an example that works when pasted at the root of the repository") {
  for (const std::vector<std::string>& words : {std::vector<std::string>{"--help"},
                                                {"-h"},
                                                {"run", "--help"},
                                                {"falsify", "--help"},
                                                {"describe", "--help"},
                                                {"linearize", "--help"},
                                                {"run", "-h"}}) {
    const Child help = run_duskline(words);
    CHECK(help.exit_code == 0);
    CHECK(help.err.empty());
    const std::string example = example_of(help.out);
    INFO(example);
    const Folder here{"cli-help"};
    fs::create_directory_symlink(DUSKLINE_SOURCE_DIR "/scenarios", here.file("scenarios"));
    const std::string path = DUSKLINE_BINARY_DIR ":" + std::string(std::getenv("PATH"));
    const Child pasted =
        run_child("bash", {"-c", example}, {.folder = here.path(), .environment = {{"PATH", path}}});
    CHECK(pasted.exit_code == 0);
    CHECK_FALSE(pasted.out.empty());
  }
  CHECK(run_duskline({"--version"}).out == "duskline " DUSKLINE_VERSION "\n");
}

TEST_CASE("Every topic is described as text, as JSON and as Markdown") {
  const Child list = run_duskline({"describe"});
  CHECK(list.exit_code == 0);
  for (const harness::Topic& topic : harness::topics()) {
    const std::string word{topic.word};
    INFO(word);
    CHECK(has(list.out, word));
    const Child text = run_duskline({"describe", word});
    CHECK(text.exit_code == 0);
    CHECK(text.err.empty());
    const Child json = run_duskline({"describe", word, "--json"});
    REQUIRE(json.exit_code == 0);
    const auto rows = nlohmann::ordered_json::parse(json.out);
    REQUIRE(rows.is_array());
    CHECK(rows.size() + 1 == static_cast<std::size_t>(std::count(text.out.begin(), text.out.end(), '\n')));
    for (const auto& row : rows) CHECK_FALSE(row.begin().value().get<std::string>().empty());
    const Child page = run_duskline({"describe", word, "--markdown"});
    CHECK(page.exit_code == 0);
    CHECK(page.out.starts_with("# "));
    // the page in the repository; docs/reference/generate writes it anew
    CHECK(first_difference(page.out,
                           bytes_of(DUSKLINE_SOURCE_DIR "/docs/reference/" + std::string(topic.page))) == "");
  }
}

TEST_CASE(
    "Parameters are described with limits as numbers, and with the values of the plant that was named") {
  const Folder here{"cli-plant"};
  const std::string shipped = bytes_of(DUSKLINE_SOURCE_DIR "/plant-model/plants/bench.yaml");
  const std::string was = "displacement: {value: 21 cm3, range: [18 cm3, 24 cm3]";
  std::string mine = shipped;
  REQUIRE(has(mine, was));
  mine.replace(mine.find(was), was.size(), "displacement: {value: 19 cm3, range: [18 cm3, 24 cm3]");
  std::ofstream{here.file("mine.yaml")} << mine;
  for (const auto& [plant, value] : {std::pair<std::string, std::string>{"bench", "21 cm3"},
                                     {"./mine.yaml", "19 cm3"},
                                     {here.file("mine.yaml"), "19 cm3"}}) {
    const Child child =
        run_duskline({"describe", "plant", "--json", "--plant", plant}, {.folder = here.path()});
    REQUIRE(child.exit_code == 0);
    bool found = false;
    for (const auto& row : nlohmann::ordered_json::parse(child.out)) {
      CHECK(row["lower"].get<double>() <= row["upper"].get<double>());
      CHECK_FALSE(row["source"].get<std::string>().empty());
      if (row["path"] != "compressor.displacement") continue;
      found = true;
      CHECK(row["value"] == value);
      CHECK(row["lower"].get<double>() == Approx(18e-6));  // the range in the file, in m3
    }
    CHECK(found);
  }
}

TEST_CASE("Every fault is described as a row of an FMEA") {
  const Child child = run_duskline({"describe", "faults", "--json"});
  REQUIRE(child.exit_code == 0);
  const auto rows = nlohmann::ordered_json::parse(child.out);
  const auto table = duskline::plant::fault_table();
  REQUIRE(rows.size() == table.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    INFO(table[i].name);
    CHECK(rows[i]["fault"] == table[i].name);
    CHECK(rows[i]["severity"] == std::to_string(table[i].study.severity));
    CHECK(rows[i]["items"].get<std::size_t>() == duskline::plant::fault_items(table[i]));
    for (const char* column :
         {"component", "mode", "acts on", "cause", "local effect", "end effect", "seen by"})
      CHECK_FALSE(rows[i][column].get<std::string>().empty());
  }
}

TEST_CASE("The time left reads as people say it") {
  CHECK(harness::duration_words(0.2) == "1 s");
  CHECK(harness::duration_words(59.0) == "59 s");
  CHECK(harness::duration_words(185.0) == "3 min 05 s");
  CHECK(harness::duration_words(7620.0) == "2 h 07 min");
}

TEST_CASE("Progress is a bar with the time left on a terminal, plain lines elsewhere, nothing when quiet") {
  const Folder here{"cli-progress"};
  const auto run = [&](bool terminal, std::vector<std::string> more, const char* term = "xterm") {
    std::vector<std::string> words{"run",    kSol, "--set", "duration=2 h", "--out", here.file("run"),
                                   "--force"};
    words.insert(words.end(), more.begin(), more.end());
    ChildOptions options{.environment = {{"TERM", term}}};
    options.terminal = terminal;
    return run_duskline(words, options);
  };
  const Child bar = run(true, {});
  CHECK(bar.exit_code == 0);
  CHECK(has(bar.err, "\rrun ["));
  CHECK(has(bar.err, " s left"));
  CHECK(bar.err.ends_with("\r\033[K"));  // wiped off at the end
  for (const Child& lines : {run(false, {}), run(true, {}, "dumb")}) {
    CHECK_FALSE(has(lines.err, "\033"));
    CHECK(std::count(lines.err.begin(), lines.err.end(), '\n') == 3);  // after each quarter but the last
  }
  CHECK(run(true, {"--quiet"}).err.empty());
  const Child quiet = run(false, {"--quiet"});
  CHECK(quiet.err.empty());
  CHECK(quiet.out.empty());
  const Child json = run(false, {"--quiet", "--json"});
  CHECK(json.out == bytes_of(here.file("run/summary.json")));
}
