// `duskline verify`: verdicts, exit codes, results for other programs, and what moved.
// Sources: JUnit in common use (tests/support/junit.xsd, read by xmllint and by Python's own XML parser), TAP 14 (read by
// Perl's prove); the definitions of docs/how-to/state-requirements.md.
#include <sys/inotify.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

std::string scenario(const std::string& requirements, const std::string& more = "") {
  return "format: duskline-scenario/1\ntitle: A few minutes\nplant: bench\nduration: 8 min\nrecord: 10 s\n"
         "initial: {state: producing, cathode_co: 65 %}\n"
         "commands:\n  - {at: 0 s, mode: production, demand: 10 g/h}\n" +
         more + "requirements:\n" + requirements;
}
const std::string kGood =
    "  - {name: margin, must: \"always (coke_margin > 10 mV)\"}\n"
    "  - {name: \"at <dusk> & \\\"late\\\"\", must: \"after sunset: coke_margin > 20 mV\"}\n";
const std::string kBad = "  - {name: too much, must: \"always (coke_margin > 500 mV)\"}\n";

struct Library {
  Folder folder{"verify"};
  explicit Library(bool with_failure) {
    fs::create_directories(folder.file("all/below"));
    put("all/good.yaml", scenario(kGood));
    if (with_failure) put("all/below/bad.yaml", scenario(kGood + kBad));
  }
  void put(const std::string& name, const std::string& text) const {
    std::ofstream{folder.file(name)} << text;
  }
  Child verify(std::vector<std::string> more) const {
    std::vector<std::string> words{folder.file("all"), "--out", folder.file("kept")};
    words.insert(words.end(), more.begin(), more.end());
    return verify_only(words);
  }
  /// With no other words, in the folder itself.
  Child verify_only(std::vector<std::string> words, ChildOptions options = {}) const {
    words.insert(words.begin(), "verify");
    if (options.folder.empty()) options.folder = folder.path();
    return run_duskline(words, options);
  }
  std::string accepted() const { return bytes_of(folder.file("accepted/accepted.json")); }
};

/// Tells when a file has been opened for the first time since.
struct Opened {
  explicit Opened(const std::string& path) : watch(inotify_init1(IN_NONBLOCK)) {
    REQUIRE(inotify_add_watch(watch, path.c_str(), IN_OPEN) >= 0);
  }
  Opened(const Opened&) = delete;
  Opened& operator=(const Opened&) = delete;
  ~Opened() { close(watch); }
  bool now() const {
    char event[4096];
    return read(watch, event, sizeof event) > 0;
  }
  int watch;
};

/// Options of a child that runs as somebody without rights, also when this is root.
ChildOptions nobody() {
  ChildOptions options;
  if (geteuid() == 0) options.user = 65534;
  return options;
}
/// Whether another user can start the program here.
bool cannot_start(const Child& child) {
  if (child.exit_code != 126 && child.exit_code != 127) return false;
  skip("the program cannot be started as another user here");
  return true;
}

}  // namespace

TEST_CASE("a folder that holds passes, and what never came about is told") {
  const Library library(false);
  const Child child = library.verify({});
  INFO(child.err);
  CHECK(child.exit_code == 0);
  CHECK(has(child.out, "holds     good.yaml  margin"));
  CHECK(has(child.out, "untested  good.yaml"));
  CHECK(has(child.out, "1 scenarios, 2 requirements, 0 not met"));
  CHECK_FALSE(fs::exists(library.folder.file("kept")));
}

TEST_CASE("a broken requirement is exit code 1, and its run is kept with the place marked") {
  const Library library(true);
  const std::string junit = library.folder.file("results.xml"), tap = library.folder.file("results.tap");
  const Child child = library.verify({"--junit", junit, "--tap", tap, "--jobs", "2"});
  INFO(child.err);
  CHECK(child.exit_code == 1);
  CHECK(has(child.out, "broken    below/bad.yaml  too much"));
  const std::string summary = bytes_of(library.folder.file("kept/below/bad/summary.json"));
  CHECK(has(summary, "requirement 'too much' violated"));
  std::vector<std::string> verdicts;  // the words that the report counts: hil-harness/report/report.hpp
  const auto document = nlohmann::json::parse(summary);
  for (const auto& entry : document["requirements"]) {
    verdicts.push_back(entry.value("verdict", ""));
    CHECK_FALSE(entry.value("text", "").empty());
    CHECK(entry.contains("margin"));
  }
  CHECK(verdicts == std::vector<std::string>{"held", "not tested", "violated"});
  CHECK(fs::exists(library.folder.file("kept/below/bad/report.html")));
  CHECK_FALSE(fs::exists(library.folder.file("kept/good")));

  const Child lint =
      run_child("xmllint", {"--noout", "--schema", DUSKLINE_SOURCE_DIR "/tests/support/junit.xsd", junit});
  INFO(lint.err);
  CHECK(lint.exit_code == 0);
  const Child python = run_child(
      "/usr/bin/python3", {"-c",
                           "import sys, xml.etree.ElementTree as x\n"
                           "r = x.parse(sys.argv[1]).getroot()\n"
                           "c = r.findall('./testsuite/testcase')\n"
                           "print(r.get('tests'), len(c), r.get('failures'), len(r.findall('.//failure')),"
                           " len(r.findall('.//skipped')), sorted({k.get('name') for k in c})[0])",
                           junit});
  INFO(python.err);
  CHECK(python.out == "5 5 1 1 2 at <dusk> & \"late\"\n");
  const Child prove = run_child("prove", {"-e", "cat", tap});
  INFO(prove.out << prove.err);
  CHECK(has(prove.out + prove.err, "Failed 1/5 subtests"));

  // the same files give the same bytes, on one thread too
  const std::string again = library.folder.file("again.xml"), tap_again = library.folder.file("again.tap");
  CHECK(library.verify({"--junit", again, "--tap", tap_again, "--jobs", "1"}).exit_code == 1);
  CHECK(bytes_of(junit) == bytes_of(again));
  CHECK(bytes_of(tap) == bytes_of(tap_again));
}

TEST_CASE("what moved is shown against what was accepted; nothing accepted is a failure") {
  const Library library(false);
  const std::string accepted = "accepted";
  const Child none = library.verify({"--baseline", accepted});
  CHECK(none.exit_code == 1);
  CHECK(has(none.err, "there is no accepted result"));
  CHECK(library.verify({"--baseline", accepted, "--accept"}).exit_code == 0);
  const Child same = library.verify({"--baseline", accepted});
  CHECK(same.exit_code == 0);
  CHECK(has(same.out, "moved            nothing"));
  const Child other = library.verify({"--baseline", accepted, "--set", "initial.cathode_co=60 %"});
  CHECK(other.exit_code == 0);
  CHECK(has(other.out, "good.yaml: oxygen made: "));
  CHECK(has(other.out, "good.yaml: margin: "));
  library.put("all/new.yaml", scenario(kGood));
  const Child grown = library.verify({"--baseline", accepted});
  CHECK(grown.exit_code == 1);
  CHECK(has(grown.err, "not accepted yet: new.yaml"));
  const Child quiet = library.verify({"--baseline", accepted, "--set", "initial.cathode_co=60 %", "--quiet"});
  CHECK(quiet.out.empty());
  const Child json = library.verify({"--baseline", accepted, "--set", "initial.cathode_co=60 %", "--json"});
  std::size_t moved = 0;
  for (const auto& row : nlohmann::json::parse(json.out)) {
    if (row["verdict"] != "moved") continue;
    ++moved;
    CHECK(row["scenario"] == "good.yaml");
    CHECK(row["was"] != row["now"]);
    if (row["requirement"] == "oxygen made") CHECK(row["unit"] == "g");
  }
  CHECK(moved > 1);
}

TEST_CASE("accepted results that are damaged are bad input, located, and nothing is run") {
  const Library library(false);
  CHECK(library.verify({"--baseline", "accepted", "--accept"}).exit_code == 0);
  const std::string file = "accepted/accepted.json", whole = library.accepted();
  const auto damaged = [&](const std::string& text) {
    library.put(file, text);
    const Child child = library.verify({"--baseline", "accepted"});
    INFO(text);
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    return child.err;
  };
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = whole;
    return text.replace(text.find(from), from.size(), to);
  };
  CHECK(damaged("{}") == file + ":1:1: is no file of accepted results (duskline-accepted/1)\n");
  CHECK(damaged("") == file + ":1:1: is no JSON from here on\n");
  CHECK(damaged(with("\"scenarios\"", "scenarios")) == file + ":3:3: is no JSON from here on\n");
  CHECK(damaged(with("\"duskline-accepted/1\"", "1")) ==
        file + ":1:1: is no file of accepted results (duskline-accepted/1)\n");
  CHECK(damaged(with("requirements", "demands")) == file + ":1:1: good.yaml: has no requirements\n");
  CHECK(damaged(with("\"robustness\": ", "\"robustness\": \"\", \"n\": ")) ==
        file + ":1:1: good.yaml: robustness of 'margin' is no number\n");
  CHECK(damaged(with("\"holds\"", "7")) == file + ":1:1: good.yaml: robustness of 'margin' is no number\n");
  library.put(file, "{");
  CHECK(library.verify({"--baseline", "accepted", "--accept"}).exit_code == 2);
  CHECK(library.accepted() == "{");
  CHECK(library.verify({"--baseline", "accepted", "--accept", "--force"}).exit_code == 0);
  CHECK(library.accepted() == whole);
}

TEST_CASE("accepted results that cannot be written are not completed; a broken requirement stays one") {
  const Library library(false);
  library.put("file", "mine");
  const Child child = library.verify({"--baseline", "file", "--accept"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "file/accepted.json: cannot be written: Not a directory"));
  CHECK_FALSE(has(child.out, "accepted  "));
  const Library bad(true);
  CHECK(bad.verify({"--baseline", "accepted", "--accept", "--no-record"}).exit_code == 1);
  CHECK(bad.verify({"--baseline", "accepted", "--no-record"}).exit_code == 1);
}

TEST_CASE("nothing is accepted when a scenario is refused") {
  const Library library(false);
  CHECK(library.verify({"--baseline", "accepted", "--accept"}).exit_code == 0);
  const std::string before = library.accepted();
  library.put("all/wrong.yaml", "format: duskline-scenario/1\n");
  for (const char* force : {"--no-record", "--force"}) {
    const Child refused = library.verify({"--baseline", "accepted", "--accept", force});
    CHECK(refused.exit_code == 2);
    CHECK(has(refused.err,
              "accepted/accepted.json: nothing is accepted: 1 of 2 scenarios did not reach their "
              "end, first of them wrong.yaml\n"));
    CHECK_FALSE(has(refused.out, "accepted  "));
    CHECK(library.accepted() == before);
  }
}

TEST_CASE("accepting a part does not drop the rest, unless it is forced to") {
  const Library library(false);
  for (const char* name : {"all/one.yaml", "all/two.yaml"}) library.put(name, scenario(kGood));
  CHECK(library.verify({"--baseline", "accepted", "--accept"}).exit_code == 0);
  const std::string before = library.accepted();
  fs::remove(library.folder.file("all/one.yaml"));
  const Child one = library.verify({"--baseline", "accepted", "--accept"});
  CHECK(one.exit_code == 2);
  CHECK(has(one.err,
            "accepted/accepted.json:1:1: holds a scenario that this check does not judge, first of them "
            "one.yaml; --force drops"));
  fs::remove(library.folder.file("all/two.yaml"));
  const Child two = library.verify({"--baseline", "accepted", "--accept"});
  CHECK(two.exit_code == 2);
  CHECK(has(two.err,
            "holds 2 scenarios that this check does not judge, first of them one.yaml; --force drops "
            "them\n"));
  CHECK(two.out.empty());
  CHECK(library.accepted() == before);
  CHECK(library.verify({"--baseline", "accepted"}).exit_code == 0);
  CHECK(library.verify({"--baseline", "accepted", "--accept", "--force"}).exit_code == 0);
  CHECK(nlohmann::json::parse(library.accepted())["scenarios"].size() == 1);
}

TEST_CASE("scenarios of one name are told apart by their paths, and one given twice is judged once") {
  const Library library(false);
  for (const char* folder : {"s", "t", "top/s"}) {
    fs::create_directories(library.folder.file(folder));
    library.put(folder + std::string("/good.yaml"), scenario(kBad));
  }
  const Child two = library.verify_only(
      {"s", "t", "./t/../s/good.yaml", "--out", "kept", "--baseline", "accepted", "--accept"});
  CHECK(two.exit_code == 1);
  CHECK(has(two.out, "  s/good.yaml  too much"));
  CHECK(has(two.out, "  t/good.yaml  too much"));
  CHECK(has(two.out, "2 scenarios, 2 requirements, 2 not met"));
  CHECK(nlohmann::json::parse(library.accepted())["scenarios"].size() == 2);
  for (const char* kept : {"kept/s/good/summary.json", "kept/t/good/summary.json"})
    CHECK(fs::exists(library.folder.file(kept)));
  // below `top` there is an s/good.yaml too, which is the path of another as given
  const Child three = library.verify_only({"s", "t", "top", "--no-record"});
  CHECK(has(three.out, "  s/good.yaml      too much"));
  CHECK(has(three.out, "  top/s/good.yaml  too much"));
  CHECK(has(three.out, "3 scenarios, "));
}

TEST_CASE("what is kept stays below --out, each run in a folder of its own") {
  const Library library(false);
  fs::create_directories(library.folder.file("sub"));
  for (const char* name : {"bad.yaml", "sub/bad.yaml", "sub/bad.yml", "sub/...yaml"})
    library.put(name, scenario(kBad));
  ChildOptions below;
  below.folder = library.folder.file("sub");
  const std::string whole = library.folder.file("whole.yaml");
  library.put("whole.yaml", scenario(kBad));
  const Child child = library.verify_only(
      {"../bad.yaml", "./bad.yaml", "bad.yml", "...yaml", whole, "--out", "results"}, below);
  INFO(child.err);
  CHECK(child.exit_code == 1);
  for (const char* kept : {"bad", "bad-2", "bad-3", "."})
    CHECK(fs::exists(library.folder.file("sub/results/" + std::string(kept) + "/summary.json")));
  CHECK(fs::exists(library.folder.file("sub/results" + library.folder.file("whole") + "/summary.json")));
  CHECK(has(child.out, "kept             results/bad-3\n"));
  for (const char* outside : {"bad", "whole", "sub/bad", "summary.json", "sub/summary.json"})
    CHECK_FALSE(fs::exists(library.folder.file(outside)));
}

TEST_CASE("what cannot be kept is not told as kept") {
  const Library library(true);
  library.put("kept", "mine");
  const Child child = library.verify({});
  CHECK(child.exit_code == 1);
  CHECK(has(child.err, "cannot be made: Not a directory"));
  CHECK_FALSE(has(child.out, "kept  "));
}

TEST_CASE("an interrupted check gives what it has, and tells what was not run") {
  const Library library(false);
  std::string text = scenario(kGood);
  library.put("all/long.yaml", text.replace(text.find("8 min"), 5, "200 sol"));
  library.put("all/more.yaml", scenario(kGood));
  fs::create_directories(library.folder.file("accepted"));
  library.put("accepted/accepted.json", "{\"format\": \"duskline-accepted/1\", \"scenarios\": {}}");
  const std::string before = library.accepted();
  const auto interrupted = [&](std::vector<std::string> more) {
    const Opened opened(
        library.folder.file("all/long.yaml"));  // by then, on one thread, the one before is done
    ChildOptions options;
    options.signal = SIGINT;
    options.when = [&] { return opened.now(); };
    more.insert(more.begin(), {"all", "--jobs", "1"});
    return library.verify_only(more, options);
  };
  const Child child =
      interrupted({"--junit", "junit.xml", "--tap", "results.tap", "--baseline", "accepted", "--accept"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "not completed: interrupted, 2 scenarios not run\n"));
  CHECK(has(child.err,
            "nothing is accepted: 2 of 3 scenarios did not reach their end, first of them long.yaml"));
  CHECK(library.accepted() == before);
  CHECK(has(child.out, "holds     good.yaml  margin"));
  CHECK(has(child.out, "not run   long.yaml"));
  CHECK(has(child.out, "not run   more.yaml"));
  CHECK(has(child.out, "3 scenarios, 2 requirements, 0 not met, 2 scenarios not run\n"));
  const std::string junit = bytes_of(library.folder.file("junit.xml"));
  CHECK(has(junit, "<testcase classname=\"good.yaml\" name=\"margin\" time=\"0\"/>"));
  for (const char* name : {"long.yaml", "more.yaml"})
    CHECK(has(junit, "<testcase classname=\"" + std::string(name) +
                         "\" name=\"run\" time=\"0\"><skipped message=\"not run\"/></testcase>"));
  const Child lint =
      run_child("xmllint", {"--noout", "--schema", DUSKLINE_SOURCE_DIR "/tests/support/junit.xsd",
                            library.folder.file("junit.xml")});
  INFO(lint.err);
  CHECK(lint.exit_code == 0);
  const std::string tap = bytes_of(library.folder.file("results.tap"));
  CHECK(has(tap, "1..4\n"));
  CHECK(has(tap, "ok 3 - long.yaml: run # SKIP not run\nok 4 - more.yaml: run # SKIP not run\n"));
  const auto rows = nlohmann::json::parse(interrupted({"--json"}).out);
  REQUIRE(rows.size() == 4);
  CHECK(rows[0]["verdict"] == "holds");
  CHECK(rows[3]["verdict"] == "not run");
}

TEST_CASE("a folder that cannot be read to its end is a problem") {
  const Library library(true);
  const std::string below = library.folder.file("all/below");
  fs::permissions(below, fs::perms::none);
  const Child child = library.verify_only({"all"}, nobody());
  const Child alone = library.verify_only({below}, nobody());
  fs::permissions(below, fs::perms::owner_all);
  if (cannot_start(child)) return;
  CHECK(child.exit_code == 2);
  CHECK(child.err == "all:1:1: cannot be read beyond all/below: Permission denied\n");
  CHECK(child.out.empty());
  CHECK(alone.exit_code == 2);
  CHECK(has(alone.err, "Permission denied"));
}

TEST_CASE("run judges too") {
  const Library library(true);
  const Child child = run_duskline(
      {"run", library.folder.file("all/below/bad.yaml"), "--out", library.folder.file("run"), "--no-record"});
  CHECK(child.exit_code == 1);
  CHECK(has(child.out, "broken"));
}

TEST_CASE("mistakes in requirements are located, and other mistakes are told") {
  const Library library(false);
  library.put("all/good.yaml", scenario("  - {name: a, must: \"always (coke_margn > 10 mV)\"}\n"
                                        "  - {name: a, must: \"always (coke_margin > 10 K)\"}\n"));
  const Child child = library.verify({});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err,
            "good.yaml:10:21: requirements[0].must: there is no signal 'coke_margn'; did you mean "
            "'coke_margin'? (column 9 of the sentence)"));
  CHECK(has(child.err, "requirements[1].name: 'a' is used already"));
  CHECK(has(child.err, "(column 23 of the sentence)"));
  CHECK(run_duskline({"verify", library.folder.file("none")}).exit_code == 2);
  CHECK(run_duskline({"verify", library.folder.file("all"), "--accept"}).exit_code == 2);
  CHECK(run_duskline({"verify"}).exit_code == 2);
}
