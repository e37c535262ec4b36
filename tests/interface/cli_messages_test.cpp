// What the program says when the command line or an input is wrong: exact messages, exit code 2, nothing
// written.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <sstream>

#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

struct Wrong {
  std::vector<std::string> words;
  std::string says;
};

std::string line_of(const std::vector<std::string>& words) {
  std::string line = "duskline";
  for (const std::string& word : words) line += " " + word;
  return line;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream{text};
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

bool is_empty(const Folder& folder) {
  return fs::is_empty(folder.path());
}

}  // namespace

TEST_CASE("Every wrong word of the command line is located, with a suggestion where one is near") {
  // Columns count the bytes of the line, `duskline ` being nine.
  const std::vector<Wrong> all{
      {{},
       "command line:1:9: VERB: is missing; expected run | hil | verify | tune | linearize | falsify | "
       "campaign | schedule | train "
       "| compare | export | export-fmu | show | describe | completion | manual\n"},
      {{"runn"}, "command line:1:10: runn: unknown verb; did you mean 'run'?\n"},
      {{"xyzzy"},
       "command line:1:10: xyzzy: unknown verb; expected run | hil | verify | tune | linearize | falsify | "
       "campaign | "
       "schedule | train | compare | export | export-fmu | show | describe | completion | manual\n"},
      {{"--hlep"}, "command line:1:10: --hlep: unknown option; did you mean '--help'?\n"},
      {{"run"},
       "command line:1:13: SCENARIO: is missing (Scenario file, or the name of one of the library); "
       "'duskline run --help' shows an example\n"},
      {{"run", "a.yaml", "--otu", "x"}, "command line:1:21: --otu: unknown option; did you mean '--out'?\n"},
      {{"run", "a.yaml", "--zzz=3"}, "command line:1:21: --zzz: unknown option\n"},
      {{"run", "a.yaml", "b.yaml"},
       "command line:1:21: b.yaml: unexpected argument; words with blanks need quotes\n"},
      {{"run", "a.yaml", "--seed", "-3"},
       "command line:1:28: --seed: '-3' is not a whole number from 0 to 18446744073709551615\n"},
      {{"run", "a.yaml", "--seed=1e3"},
       "command line:1:28: --seed: '1e3' is not a whole number from 0 to 18446744073709551615\n"},
      {{"run", "a.yaml", "--seed", "18446744073709551616"},
       "command line:1:28: --seed: '18446744073709551616' is not a whole number from 0 to "
       "18446744073709551615\n"},
      {{"run", "a.yaml", "--compare", "fxied"},
       "command line:1:31: --compare: there is no law 'fxied'; did you mean 'fixed'?\n"},
      {{"run", "a.yaml", "--out"}, "command line:1:26: --out: needs a value (FOLDER)\n"},
      {{"run", "a.yaml", "--out", "--json"}, "command line:1:26: --out: needs a value (FOLDER)\n"},
      {{"run", "a.yaml", "--out", "a", "--out", "b"}, "command line:1:29: --out: is given twice\n"},
      {{"run", "a.yaml", "--json=1"}, "command line:1:21: --json: takes no value\n"},
      {{"describe", "signal"},
       "command line:1:19: TOPIC: there is no topic and no entry 'signal'; did you mean 'signals'?\n"},
      {{"describe", "coke_margn"},
       "command line:1:19: TOPIC: there is no topic and no entry 'coke_margn'; did you mean "
       "'coke_margin'?\n"},
      {{"describe", "xyzzy"},
       "command line:1:19: TOPIC: there is no topic and no entry 'xyzzy'; expected plant | controller | "
       "plant-controller | signals | faults | scenario | modes | alarms | instruments | sites | library | "
       "campaign | ends | command-line | exit-codes, or the name of an entry\n"},
      {{"describe", "plant", "--json", "--markdown"},
       "command line:1:42: --markdown: cannot be given together with --json\n"},
      {{"describe", "surge_margin"},
       "describe:1:1: TOPIC: plant bench has no entry 'surge_margin'; --plant names another (bench, "
       "outpost)\n"},
      {{"describe", "coke_margin", "flow"}, "describe:1:1: FILTER: an entry takes none\n"},
      {{"describe", "signals", "flow", "--markdown"},
       "describe:1:1: FILTER: a page in Markdown takes none\n"},
      {{"run", "a.yaml", "--resume", "--force"},
       "command line:1:37: --resume: cannot be given together with --force\n"},
      {{"verify", "a.yaml", "--check", "--junit", "x"},
       "command line:1:41: --check: cannot be given together with --junit\n"},
      {{"tune", "a.yaml", "--relay", "--seed", "1"},
       "command line:1:38: --relay: cannot be given together with --seed\n"},
      {{"run", "a.yaml", "--out", ""}, "command line:1:27: --out: is empty (FOLDER)\n"},
      {{"describe", "plant", "--plant", "bnech"},
       "--plant:1:1: there is no plant 'bnech'; did you mean 'bench'?\n"},
      {{"run", "a.yaml", "--sed", "3", "--foce", "--seed", "x"},
       "command line:1:21: --sed: unknown option; did you mean '--set'?\n"
       "command line:1:29: --foce: unknown option; did you mean '--force'?\n"
       "command line:1:43: --seed: 'x' is not a whole number from 0 to 18446744073709551615\n"},
  };
  for (const Wrong& wrong : all) {
    INFO(line_of(wrong.words));
    const Folder here{"cli-words"};
    const Child child = run_duskline(wrong.words, {.folder = here.path()});
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    CHECK(child.err == wrong.says);
    CHECK(is_empty(here));
  }
}

TEST_CASE("Every broken scenario is refused by the program with its exact message and nothing is written") {
  const fs::path broken = DUSKLINE_SOURCE_DIR "/tests/support/broken";
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator{broken})
    if (entry.path().extension() == ".yaml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  CHECK(files.size() >= 50);  // none was lost
  const Folder here{"cli-broken"};
  for (const fs::path& file : files) {
    INFO(file.filename().string());
    std::vector<std::string> words{"run", file.string()};
    for (const std::string& setting : lines_of(bytes_of(fs::path{file}.replace_extension(".set").string())))
      words.insert(words.end(), {"--set", setting});
    const Child child = run_duskline(words, {.folder = here.path()});
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    CHECK(without(without(child.err, broken.string() + "/"), DUSKLINE_SOURCE_DIR "/plant-model/plants/") ==
          bytes_of(fs::path{file}.replace_extension(".txt").string()));
  }
  CHECK(is_empty(here));
}

TEST_CASE("Problems of settings and of the law compared with point into the words that were given") {
  const Child setting = run_duskline({"run", kSol, "--set", "duration=1 h", "--set", "durration=2 h"});
  CHECK(setting.exit_code == 2);
  CHECK(setting.err == "--set:2:1: durration: unknown key; did you mean 'duration'?\n");
  const Folder here{"cli-compare"};
  std::ofstream{here.file("s.yaml")}
      << "format: duskline-scenario/1\ntitle: t\nplant: bench\nduration: 1 h\n";
  const Child law = run_duskline({"run", "s.yaml", "--compare", "fixed"}, {.folder = here.path()});
  CHECK(law.exit_code == 2);
  CHECK(law.err == "--compare:1:1: controller.law: the fixed law needs rows in controller.table\n");
  // a wrong word of the command line hides no wrong setting
  const Child both = run_duskline({"run", kSol, "--foce", "--set", "durration=2 h"});
  CHECK(both.exit_code == 2);
  CHECK(has(both.err, "--foce: unknown option; did you mean '--force'?\n"));
  CHECK(has(both.err, "--set:1:1: durration: unknown key; did you mean 'duration'?\n"));
  const Child nowhere = run_duskline({"run", kSol}, {.environment = {{"DUSKLINE_HOME", "/nowhere"}}});
  CHECK(nowhere.exit_code == 2);
  CHECK(nowhere.err ==
        "DUSKLINE_HOME:1:1: /nowhere: has no folder plant-model/plants; DUSKLINE_HOME names the folder that "
        "holds "
        "plant-model and scenarios\n");
  const Child missing = run_duskline({"run", "not-there.yaml"});
  CHECK(missing.exit_code == 2);
  CHECK(missing.err == "not-there.yaml:1:1: no such file, scenario or exercise\n");
  // a scenario of the library or an exercise is found by its name alone, by every verb that takes one
  using Words = std::vector<std::string>;
  for (const Words& words :
       {Words{"run", "equinox-so"}, Words{"train", "equinox-so"}, Words{"falsify", "equinox-so"},
        Words{"tune", "equinox-so"}, Words{"campaign", "equinox-so"}, Words{"schedule", "equinox-so"},
        Words{"hil", "equinox-so", "--link", "serial:/dev/null"},
        Words{"linearize", "equinox-so", "--at", "12:00"}}) {
    INFO(words[0]);
    const Child near = run_duskline(words);
    CHECK(near.exit_code == 2);
    CHECK(near.err == "equinox-so:1:1: no such file, scenario or exercise; did you mean 'equinox-sol'?\n");
  }
  for (const char* verb : {"run", "train"})
    for (const char* name : {"equinox-sol", "lost-link"}) {
      INFO(verb << ' ' << name);
      CHECK(run_duskline({verb, name, "--check"}).out == "nothing is wrong\n");
    }
}

TEST_CASE("A folder that cannot be made or written is refused before anything runs") {
  const Folder here{"cli-out"};
  const std::string file = here.file("file");
  std::ofstream{file} << "mine";
  const auto to = [&](const std::string& out, const ChildOptions& options = {}) {
    return run_duskline({"run", kSol, "--set", "duration=1 min", "--out", out}, options);
  };
  const Child on_file = to(file);
  CHECK(on_file.exit_code == 2);
  CHECK(on_file.err == "--out:1:1: " + file + ": is a file; --out names a folder\n");
  const Child below_file = to(file + "/below");
  CHECK(below_file.exit_code == 2);
  CHECK(below_file.err == "--out:1:1: " + file + "/below: cannot be made: Not a directory\n");
  CHECK(bytes_of(file) == "mine");
  const Child in_proc = to("/proc/duskline");
  CHECK(in_proc.exit_code == 2);
  CHECK(in_proc.err == "--out:1:1: /proc/duskline: cannot be made: No such file or directory\n");

  // somebody without the right to write: as root that takes another user
  const std::string closed = here.file("closed");
  fs::create_directory(closed);
  fs::permissions(closed, fs::perms::owner_read | fs::perms::owner_exec | fs::perms::others_exec);
  ChildOptions nobody;
  if (geteuid() == 0) nobody.user = 65534;
  const Child refused = to(closed, nobody);
  if (refused.exit_code == 126 || refused.exit_code == 127) {
    skip("the program cannot be started as another user here");
  } else {
    CHECK(refused.exit_code == 2);
    CHECK(refused.err == "--out:1:1: " + closed + ": cannot be written: Permission denied\n");
  }
}

TEST_CASE("Two runs started together in one folder do not mix: one is refused") {
  const Folder here{"cli-together"};
  const std::string out = here.file("run");
  fs::create_directory(out);
  const Child kept =
      run_child("flock", {"-x", out, kProgram, "run", kSol, "--set", "duration=1 min", "--out", out});
  CHECK(kept.exit_code == 2);
  CHECK(kept.err == "--out:1:1: " + out + ": is being written by another duskline\n");
  CHECK(fs::is_empty(out));
  const Child pair =
      run_child("bash", {"-c",
                         "\"$1\" run \"$2\" --set duration='20 min' --out \"$3\" --quiet --force & a=$!\n"
                         "\"$1\" run \"$2\" --set duration='10 min' --out \"$3\" --quiet & b=$!\n"
                         "wait $a; one=$?; wait $b; echo $one $?",
                         "bash", kProgram, kSol, out});
  // whichever came first wrote the folder; only with --force may the other write it afterwards
  CHECK((pair.out == "0 2\n" || pair.out == "2 0\n" || pair.out == "0 0\n"));
  CHECK(fs::exists(out + "/summary.json"));
}

TEST_CASE("A folder that looks like an address is a folder") {
  const Folder here{"cli-address"};
  const Child child =
      run_duskline({"run", kSol, "--set", "duration=1 min", "--out", "http://127.0.0.1:9/run", "--quiet"},
                   {.folder = here.path()});
  INFO(child.err);
  CHECK(child.exit_code == 0);
  CHECK(fs::exists(here.file("http:/127.0.0.1:9/run/trace.nc")));
}

TEST_CASE("With --check inputs are read, nothing is run and nothing is written") {
  const Folder here{"cli-check"};
  const std::vector<std::vector<std::string>> all{{"run", kSol},
                                                  {"tune", kLibrary + "tuning/dawn-demand.yaml"},
                                                  {"falsify", kLibrary + "dawn-dusk/any-dawn-or-dusk.yaml"},
                                                  {"schedule", kSol},
                                                  {"linearize", kSol, "--at", "12:00"}};
  for (std::vector<std::string> words : all) {
    words.emplace_back("--check");
    INFO(line_of(words));
    const Child good = run_duskline(words, {.folder = here.path()});
    CHECK(good.exit_code == 0);
    CHECK(good.out == "nothing is wrong\n");
    words.insert(words.end(), {"--set", "durration=1 h"});
    const Child bad = run_duskline(words, {.folder = here.path()});
    CHECK(bad.exit_code == 2);
    CHECK(has(bad.err, "--set:1:1: durration: unknown key"));
    CHECK(is_empty(here));
  }
}

TEST_CASE("A closed pipe, a closed or a full standard output is no crash") {
  const auto shell = [](const std::string& line) {
    return run_child("bash", {"-c", line, "bash", kProgram});
  };
  const Child head = shell("\"$1\" describe signals | head -n 1; echo ${PIPESTATUS[0]}");
  CHECK(has(head.out, "name"));
  CHECK(head.out.ends_with("\n0\n"));
  CHECK(head.err.empty());
  // `true` reads nothing: every write fails
  const Child none = shell("(sleep 0.2; \"$1\" describe plant --json; echo $? >&2) | true");
  CHECK(none.err == "0\n");
  const Child closed = shell("\"$1\" describe signals >&- 2>&-");
  CHECK(closed.exit_code == 0);
  const Child full = shell("\"$1\" describe signals >/dev/full");
  CHECK(full.exit_code == 3);
  CHECK(full.err == "standard output: cannot be written: No space left on device\n");

  // with standard output closed, no file of the run takes its place
  const Folder here{"cli-closed"};
  const Child run =
      shell("\"$1\" run '" + kSol + "' --set duration='2 min' --out '" + here.file("run") + "' >&- 2>&-");
  CHECK(run.exit_code == 0);
  CHECK(bytes_of(here.file("run/trace.nc")).starts_with("\x89HDF"));
}
