// Help whose examples work when pasted, descriptions in three forms, and pages of docs/reference that are
// current.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/topics.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;
namespace harness = duskline::harness;

namespace {

/// What stands behind `Example:` in a help text, as it would be pasted.
std::string example_of(const std::string& help) {
  const std::string mark = "Example:\n";
  const std::size_t at = help.find(mark);
  REQUIRE(at != std::string::npos);
  return help.substr(at + mark.size());
}

std::size_t widest_line(const std::string& text) {
  std::size_t widest = 0;
  std::istringstream lines{text};
  for (std::string line; std::getline(lines, line);) widest = std::max(widest, line.size());
  return widest;
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

TEST_CASE("Every help fits in 80 columns and shows an example that works when pasted anywhere") {
  const Folder here{"cli-help"};
  const std::string path = DUSKLINE_BINARY_DIR ":" + std::string(std::getenv("PATH"));
  std::vector<std::vector<std::string>> all{{"--help"}, {"-h"}, {"run", "-h"}};
  for (const harness::Verb& verb : harness::verb_table()) all.push_back({std::string{verb.name}, "--help"});
  for (const auto& words : all) {
    const Child help = run_child("duskline", words, {.environment = {{"PATH", path}}});
    CHECK(help.exit_code == 0);
    CHECK(help.err.empty());
    INFO(help.out);
    CHECK(widest_line(help.out) <= 80);
    CHECK_FALSE(has(help.out, "\033"));  // no terminal, no bold
    if (words[0] == "verify" || words[0] == "tune" || words[0] == "falsify")
      continue;  // docs/how-to runs those
    const Child pasted = run_child("bash", {"-c", example_of(help.out)},
                                   {.folder = here.path(), .environment = {{"PATH", path}}});
    INFO(pasted.err);
    CHECK(pasted.exit_code == 0);
  }
  // called by its place, the program shows an example with that place
  CHECK(has(run_duskline({"run", "--help"}).out, "  " + kProgram + " run dawn-dusk/equinox-sol"));
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
    CHECK(rows[i]["items"].get<std::size_t>() == duskline::scenarios::fault_items(table[i]));
    for (const char* column :
         {"component", "mode", "acts on", "cause", "local effect", "end effect", "seen by"})
      CHECK_FALSE(rows[i][column].get<std::string>().empty());
  }
}

TEST_CASE("An entry is described by its name, and a topic can be filtered") {
  const Child one = run_duskline({"describe", "coke_margin"});
  CHECK(one.exit_code == 0);
  CHECK(one.out.starts_with("coke_margin (signals)\n"));
  CHECK(has(one.out, "  unit     V\n"));
  const auto json = nlohmann::json::parse(run_duskline({"describe", "coke_margin", "--json"}).out);
  REQUIRE(json.size() == 1);
  CHECK(json[0]["topic"] == "signals");
  const Child some = run_duskline({"describe", "signals", "margin"});
  CHECK(has(some.out, "\ncoke_margin "));
  CHECK_FALSE(has(some.out, "\ncathode_pressure "));
  const Child none = run_duskline({"describe", "signals", "xyzzy"});
  CHECK(none.exit_code == 2);
  CHECK(has(none.err, "no entry of signals holds 'xyzzy'"));
}

TEST_CASE("bash completes verbs, options, words of a list and folders from the table of verbs") {
  const Folder here{"cli-completion"};
  fs::create_directory(here.file("my-folder"));
  const auto offered = [&](const std::string& line) {
    // what bash does: the words, the place of the cursor, the function, its answer
    const Child child = run_child(
        "bash",
        {"-c",
         "source <(\"$1\" completion bash); COMP_WORDS=($2 \"$3\"); COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); "
         "_duskline; printf '%s\\n' \"${COMPREPLY[@]}\"",
         "bash", kProgram, line.substr(0, line.rfind(' ')), line.substr(line.rfind(' ') + 1)},
        {.folder = here.path()});
    CHECK(child.err.empty());
    return child.out;
  };
  CHECK(offered("duskline lin") == "linearize\n");
  for (const harness::Verb& verb : harness::verb_table()) {
    CHECK(has("\n" + offered("duskline "), "\n" + std::string{verb.name} + "\n"));
    const std::string options = offered("duskline " + std::string{verb.name} + " --");
    for (const harness::Option& o : verb.declare().options)
      if (!o.by_place()) CHECK(has("\n" + options, "\n" + o.name + "\n"));
  }
  CHECK(offered("duskline run a.yaml --compare ada") == "adaptive\n");
  CHECK(offered("duskline describe sig") == "signals\n");
  CHECK(offered("duskline run a.yaml --out my") == "my-folder\n");
}

TEST_CASE("zsh completes a verb at the first press of the key, from the file that is installed") {
  const Folder here{"cli-zsh"};
  const Child script = run_duskline({"completion", "zsh"});
  CHECK(script.out.starts_with("#compdef duskline\n"));
  if (run_child("zsh", {"-c", "exit 0"}).exit_code != 0) {
    skip("zsh is not installed; its completion is not tried");
    return;
  }
  std::ofstream{here.file("_duskline")} << script.out;
  // a zsh on a terminal of its own, and one press of the tabulator key
  std::ofstream{here.file("press.zsh")}
      << "zmodload zsh/zpty\nzpty z zsh -f -i\n"
         "zpty -w z \"PS1=; fpath=($1 \\$fpath); autoload -Uz compinit; compinit -D -u; \"\\\n"
         "\"bindkey '^I' complete-word; print RE''ADY\"\n"
         "zpty -r -m z line '*READY*'\nzpty -w -n z \"duskline $2\"$'\\t'\n"
         "zpty -r -m z line \"*$3*\" && print -r -- completed\nzpty -d z\n";
  const auto completed = [&](const std::string& typed, const std::string& whole) {
    return run_child("timeout", {"30", "zsh", "-f", here.file("press.zsh"), here.path(), typed, whole}).out ==
           "completed\n";
  };
  CHECK(completed("lin", "linearize"));
  CHECK(completed("run --comp", "--compare"));
}

TEST_CASE("The manual page names every verb and option, and is set without a warning") {
  const Folder here{"cli-manual"};
  const Child page = run_duskline({"manual"});
  CHECK(page.exit_code == 0);
  CHECK(page.out.starts_with(".TH DUSKLINE 1 "));
  std::ofstream{here.file("duskline.1")} << page.out;
  const Child set =
      run_child("man", {"--warnings", "-E", "UTF-8", "-l", "-Tutf8", "-Z", here.file("duskline.1")});
  if (set.exit_code == 127 || has(set.err, "command exited with status") || has(set.err, "can't execute")) {
    skip("man cannot set a page here; the manual page is not tried");
  } else {
    CHECK(set.exit_code == 0);
    CHECK(set.err == "");
  }
  const auto escaped = [](std::string name) {
    for (std::size_t at = 0; (at = name.find('-', at)) != std::string::npos; at += 2) name.insert(at, "\\");
    return name;
  };
  for (const harness::Verb& verb : harness::verb_table()) {
    CHECK(has(page.out, ".SS duskline " + escaped(std::string{verb.name})));
    for (const harness::Option& o : verb.declare().options) CHECK(has(page.out, ".B " + escaped(o.name)));
  }
}

TEST_CASE("Plain lines come after each quarter of a job, and when none came for a while") {
  harness::PlainLines lines;
  CHECK_FALSE(lines.due(0.01, 1.0));
  CHECK(lines.due(0.02, 20.0));  // a slow job
  CHECK_FALSE(lines.due(0.03, 21.0));
  CHECK(lines.due(0.25, 22.0));
  CHECK_FALSE(lines.due(0.3, 23.0));
  CHECK(lines.due(0.9, 24.0));
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
