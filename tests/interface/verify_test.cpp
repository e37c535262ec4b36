// `duskline verify`: verdicts, exit codes, results for other programs, and what has changed.
// Sources: JUnit in common use (tests/support/junit.xsd, read by xmllint and by Python's own XML parser), TAP 14 (read by
// Perl's prove); the definitions of docs/how-to/state-requirements.md.
#include <sys/inotify.h>
#include <sys/stat.h>

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

TEST_CASE("a folder whose requirements are satisfied passes, and what was not exercised is reported") {
  const Library library(false);
  const Child child = library.verify({});
  INFO(child.err);
  CHECK(child.exit_code == 0);
  CHECK(has(child.out, "satisfied      good.yaml  margin"));
  CHECK(has(child.out, "not exercised  good.yaml"));
  CHECK(has(child.out, "1 scenario, 2 requirements: 1 satisfied, 1 not exercised\n"));
  CHECK_FALSE(fs::exists(library.folder.file("kept")));
}

TEST_CASE("a violated requirement is exit code 1, and its run is kept with the place marked") {
  const Library library(true);
  const std::string junit = library.folder.file("results.xml"), tap = library.folder.file("results.tap");
  const Child child = library.verify({"--junit", junit, "--tap", tap, "--jobs", "2"});
  INFO(child.err);
  CHECK(child.exit_code == 1);
  CHECK(has(child.out, "violated       below/bad.yaml  too much"));
  const std::string summary = bytes_of(library.folder.file("kept/below/bad/summary.json"));
  CHECK(has(summary, "requirement 'too much' violated"));
  std::vector<std::string> verdicts;  // the words that the report counts: hil-harness/report/report.hpp
  const auto document = nlohmann::json::parse(summary);
  for (const auto& entry : document["requirements"]) {
    verdicts.push_back(entry.value("verdict", ""));
    CHECK_FALSE(entry.value("text", "").empty());
    CHECK(entry.contains("margin"));
  }
  CHECK(verdicts == std::vector<std::string>{"satisfied", "not exercised", "violated"});
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
  CHECK(library.verify({"--junit", again, "--tap", tap_again, "--jobs", "1", "--no-record"}).exit_code == 1);
  CHECK(bytes_of(junit) == bytes_of(again));
  CHECK(bytes_of(tap) == bytes_of(tap_again));
}

TEST_CASE("margins are in the unit that was typed, and numbers in JSON") {
  const Library library(false);
  library.put(
      "all/good.yaml",
      scenario("  - {name: ramp, must: \"always (magnitude of rate of zone_temperature[2] < 6 K/min)\"}\n"
               "  - {name: pure, must: \"always (product_purity > 90 %)\"}\n"
               "  - {name: warm, must: \"always (least zone_temperature > 700 degC)\"}\n"
               "  - {name: lasts, must: \"always for 1 h (coke_margin > 10 mV)\"}\n"));
  const Child child = library.verify({"--json", "--no-record"});
  CHECK(child.exit_code == 1);
  const auto rows = nlohmann::json::parse(child.out);
  REQUIRE(rows.size() == 4);
  const char* const units[] = {"K/min", "%", "K", "mV"};  // a difference of temperatures is in K
  for (std::size_t i = 0; i < 4; ++i) {
    CHECK(rows[i]["unit"] == units[i]);
    CHECK((rows[i]["margin"].is_number() || i == 3));
    CHECK(rows[i]["time"].is_number());
  }
  // a zone that settles ramps by less than 6 K/min, which is 0.1 in SI, and the product is less than 100 % pure
  CHECK(rows[0]["margin"].get<double>() > 0.5);
  CHECK(rows[0]["margin"].get<double>() < 6.0);
  CHECK(rows[1]["margin"].get<double>() > 5.0);
  CHECK(rows[1]["margin"].get<double>() < 10.0);
  CHECK(rows[3]["verdict"] == "undecided");
}

TEST_CASE("a margin that falls by more than allowed fails; what moves less is listed, noise is not") {
  const Library library(false);
  const std::string accepted = "accepted";
  const Child none = library.verify({"--accepted", accepted});
  CHECK(none.exit_code == 1);
  CHECK(has(none.err, "there are no accepted results"));
  CHECK(library.verify({"--accepted", accepted, "--update-accepted"}).exit_code == 0);
  const Child same = library.verify({"--accepted", accepted});
  CHECK(same.exit_code == 0);
  CHECK(has(same.out, "changed          nothing"));
  const Child other = library.verify({"--accepted", accepted, "--set", "initial.cathode_co=50 %"});
  CHECK(other.exit_code == 0);  // more margin than before
  CHECK(has(other.out, "good.yaml: travel of speed: "));
  CHECK(has(other.out, "good.yaml: margin: "));

  // what was accepted is moved by hand: by noise, by less and by more than the 1 mV + 1 % that are allowed
  const std::string before = library.accepted();
  const auto accepted_margin = [&](double more) {
    auto j = nlohmann::ordered_json::parse(before);
    auto& margin = j["scenarios"]["good.yaml"]["requirements"]["margin"]["margin"];
    margin = margin.get<double>() + more;
    library.put("accepted/accepted.json", j.dump(2));
    return library.verify({"--accepted", accepted, "--junit", "junit.xml", "--force"});
  };
  CHECK(has(accepted_margin(1e-5).out, "changed          nothing"));
  const Child less = accepted_margin(0.9);
  CHECK(less.exit_code == 0);
  CHECK(has(less.out, "changed          good.yaml: margin: "));
  CHECK_FALSE(has(bytes_of(library.folder.file("junit.xml")), "<failure"));
  const Child more = accepted_margin(5.0);
  CHECK(more.exit_code == 1);
  CHECK(has(more.err, "worse than accepted: good.yaml: margin: "));
  CHECK(has(more.err, " mV (-5; "));
  CHECK(has(bytes_of(library.folder.file("junit.xml")), "type=\"accepted results\""));
  auto j = nlohmann::ordered_json::parse(before);
  j["tolerances"] = {"10 mV"};  // stated in the file
  auto& margin = j["scenarios"]["good.yaml"]["requirements"]["margin"]["margin"];
  margin = margin.get<double>() + 5.0;
  library.put("accepted/accepted.json", j.dump(2));
  CHECK(library.verify({"--accepted", accepted}).exit_code == 0);
  j["scenarios"]["good.yaml"]["requirements"].erase("margin");
  j["scenarios"]["good.yaml"]["requirements"]["another"] = {
      {"verdict", "satisfied"}, {"margin", 1}, {"unit", ""}};
  library.put("accepted/accepted.json", j.dump(2));
  const Child names = library.verify({"--accepted", accepted});
  CHECK(names.exit_code == 1);
  CHECK(has(names.err, "not accepted yet: good.yaml: margin\n"));
  CHECK(has(names.err, "accepted but gone: good.yaml: another\n"));
  library.put("accepted/accepted.json", before);

  library.put("all/new.yaml", scenario(kGood));
  const Child grown = library.verify({"--accepted", accepted});
  CHECK(grown.exit_code == 1);
  CHECK(has(grown.err, "not accepted yet: new.yaml"));
  fs::remove(library.folder.file("all/new.yaml"));
  const Child quiet = library.verify({"--accepted", accepted, "--set", "initial.cathode_co=50 %", "--quiet"});
  CHECK(quiet.out.empty());
  const Child json = library.verify({"--accepted", accepted, "--set", "initial.cathode_co=50 %", "--json"});
  std::size_t changed = 0;
  for (const auto& row : nlohmann::json::parse(json.out)) {
    if (row["verdict"] != "changed") continue;
    ++changed;
    CHECK(row["scenario"] == "good.yaml");
    CHECK(row["was"] != row["now"]);
    if (row.contains("key_figure") && row["key_figure"] == "travel of speed") CHECK(row["unit"] == "rad/s");
  }
  CHECK(changed > 1);
}

TEST_CASE("accepted results that are damaged are bad input, located, and nothing is run") {
  const Library library(false);
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  const std::string file = "accepted/accepted.json", whole = library.accepted();
  const auto damaged = [&](const std::string& text) {
    library.put(file, text);
    const Child child = library.verify({"--accepted", "accepted"});
    INFO(text);
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    return child.err;
  };
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = whole;
    return text.replace(text.find(from), from.size(), to);
  };
  CHECK(damaged("{}") ==
        file +
            ":1:1: is no file of accepted results (duskline-accepted/2); --update-accepted --force "
            "writes one anew\n");
  CHECK(damaged("") == file + ":1:1: is no JSON from here on\n");
  CHECK(damaged(with("\"scenarios\"", "scenarios")) == file + ":17:3: is no JSON from here on\n");
  CHECK(damaged(with("\"duskline-accepted/2\"", "1")) ==
        file +
            ":1:1: is no file of accepted results (duskline-accepted/2); --update-accepted --force "
            "writes one anew\n");
  CHECK(damaged(with("requirements", "demands")) == file + ":1:1: good.yaml: has no requirements\n");
  CHECK(damaged(with("\"margin\": {", "\"margin\": 3, \"n\": {")) ==
        file + ":1:1: good.yaml: margin of 'margin' is no number\n");
  CHECK(damaged(with("\"satisfied\"", "7")) == file + ":1:1: good.yaml: margin of 'margin' is no number\n");
  CHECK(damaged(with("\"1 mV\"", "\"1 mVV\"")).starts_with(file + ":1:1: tolerances: '1 mVV': unknown unit"));
  CHECK(damaged(std::string(100000, '[')) == file + ":1:1: is nested deeper than 6 levels\n");
  library.put(file, "{");
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 2);
  CHECK(library.accepted() == "{");
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted", "--force"}).exit_code == 0);
  CHECK(library.accepted() == whole);
}

TEST_CASE("accepted results that cannot be written are not completed; a violated requirement stays one") {
  const Library library(false);
  library.put("file", "mine");
  const Child child = library.verify({"--accepted", "file", "--update-accepted"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "file/accepted.json: cannot be written: Not a directory"));
  CHECK_FALSE(has(child.out, "accepted  "));
  const Library bad(true);
  CHECK(bad.verify({"--accepted", "accepted", "--update-accepted", "--no-record"}).exit_code == 1);
  CHECK(bad.verify({"--accepted", "accepted", "--no-record"}).exit_code == 1);
}

TEST_CASE("nothing is accepted when a scenario is refused") {
  const Library library(false);
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  const std::string before = library.accepted();
  library.put("all/wrong.yaml", "format: duskline-scenario/1\n");
  for (const char* force : {"--no-record", "--force"}) {
    const Child refused = library.verify({"--accepted", "accepted", "--update-accepted", force});
    CHECK(refused.exit_code == 2);
    CHECK(has(refused.err,
              "accepted/accepted.json: nothing is accepted: 1 of 2 scenarios did not reach their "
              "end, first of them wrong.yaml\n"));
    CHECK_FALSE(has(refused.out, "accepted  "));
    CHECK(library.accepted() == before);
  }
}

TEST_CASE("a part can be checked and accepted, however its files are named on the command line") {
  const Library library(false);
  for (const char* name : {"all/one.yaml", "all/below/two.yaml"}) library.put(name, scenario(kGood));
  const auto names = [&] {
    std::vector<std::string> all;
    const auto j = nlohmann::json::parse(library.accepted());
    for (const auto& entry : j["scenarios"].items()) all.push_back(entry.key());
    return all;
  };
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  const std::string before = library.accepted();
  CHECK(names() == std::vector<std::string>{"below/two.yaml", "good.yaml", "one.yaml"});
  ChildOptions inside;
  inside.folder = library.folder.file("all/below");
  for (const std::vector<std::string>& part : {std::vector<std::string>{"two.yaml"},
                                               {"../below", "./../one.yaml"},
                                               {library.folder.file("all/one.yaml")}}) {
    auto words = part;
    words.insert(words.end(), {"--accepted", "../../accepted"});
    CHECK(library.verify_only(words, inside).exit_code == 0);
    words.push_back("--update-accepted");
    CHECK(library.verify_only(words, inside).exit_code == 0);
    CHECK(library.accepted() == before);
  }
  // a file that goes is seen, and goes from the accepted results with the next update
  fs::remove(library.folder.file("all/one.yaml"));
  const Child gone = library.verify({"--accepted", "accepted"});
  CHECK(gone.exit_code == 1);
  CHECK(has(gone.err, "accepted but gone: one.yaml\n"));
  CHECK(library.verify_only({"two.yaml", "--accepted", "../../accepted"}, inside).exit_code == 0);
  const Child update = library.verify({"--accepted", "accepted", "--update-accepted"});
  CHECK(has(update.out, "dropped          one.yaml\n"));
  CHECK(names() == std::vector<std::string>{"below/two.yaml", "good.yaml"});
  // a scenario outside of the root moves the root up
  library.put("outside.yaml", scenario(kGood));
  CHECK(library.verify_only({"outside.yaml", "--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  CHECK(names() == std::vector<std::string>{"all/below/two.yaml", "all/good.yaml", "outside.yaml"});
  CHECK(library.verify({"--accepted", "accepted"}).exit_code == 0);
}

TEST_CASE("runs that were kept are not overwritten unless it is forced, and then none is left over") {
  const Library library(true);
  CHECK(library.verify({}).exit_code == 1);
  const std::string report = library.folder.file("kept/below/bad/report.html"), bytes = bytes_of(report);
  const Child again = library.verify({});
  CHECK(again.exit_code == 2);
  CHECK(has(again.err, "holds runs that an earlier check kept (below/bad); --force replaces them"));
  CHECK(again.out.empty());
  CHECK(bytes_of(report) == bytes);
  library.put("all/below/bad.yaml", scenario(kGood));
  library.put("kept/mine.txt", "mine");
  CHECK(library.verify({"--force"}).exit_code == 0);
  CHECK_FALSE(fs::exists(library.folder.file("kept/below")));
  CHECK(bytes_of(library.folder.file("kept/mine.txt")) == "mine");
}

TEST_CASE("what is asked for is looked at before anything is run") {
  const Library library(true);
  fs::create_directories(library.folder.file("folder"));
  library.put("file", "mine");
  for (const char* path : {"folder", "none/junit.xml", "file/junit.xml"}) {
    const Child child = library.verify({"--junit", path, "--force"});
    CHECK(child.exit_code == 3);
    CHECK(has(child.err, std::string(path) + ": cannot be written: "));
    CHECK(child.out.empty());
  }
  CHECK_FALSE(fs::exists(library.folder.file("kept")));
  const Child out = library.verify_only({"all", "--out", "file"});
  CHECK(out.exit_code == 2);
  CHECK(out.err == "--out:1:1: file: is a file; --out names a folder\n");
}

TEST_CASE("a device stays a device, and no link is followed on the way to a file") {
  const Library library(false);
  fs::create_symlink("/dev/null", library.folder.file("nowhere.xml"));
  fs::create_symlink("/dev/stdout", library.folder.file("out.tap"));
  const Child child = library.verify({"--junit", "nowhere.xml", "--tap", "out.tap", "--force"});
  CHECK(child.exit_code == 0);
  CHECK(fs::is_symlink(library.folder.file("nowhere.xml")));
  CHECK(fs::is_character_file(library.folder.file("nowhere.xml")));
  CHECK(has(child.out, "TAP version 14"));
  const Child piped =
      run_child("/bin/sh", {"-c", "\"$0\" verify \"$1\" --junit /dev/stdout --quiet --force | cat", kProgram,
                            library.folder.file("all")});
  CHECK(has(piped.out, "<testsuites"));  // a pipe has no path of its own
  library.put("victim", "mine");
  fs::create_symlink("victim", library.folder.file("x.xml.part"));
  CHECK(library.verify({"--junit", "x.xml"}).exit_code == 0);
  CHECK(bytes_of(library.folder.file("victim")) == "mine");
  CHECK(has(bytes_of(library.folder.file("x.xml")), "<testsuites"));
  // a pipe that nobody feeds is no file of accepted results
  fs::create_directories(library.folder.file("accepted"));
  REQUIRE(mkfifo(library.folder.file("accepted/accepted.json").c_str(), 0600) == 0);
  const Child pipe = library.verify({"--accepted", "accepted"});
  CHECK(pipe.exit_code == 2);
  CHECK(has(pipe.err, "accepted/accepted.json:1:1: cannot be read"));
}

TEST_CASE("names with odd bytes reach neither the terminal nor a file of results as they are") {
  const Library library(false);
  library.put("all/\x1b[2J\n\xff.yaml", scenario(kGood));
  const Child child = library.verify({"--junit", "odd.xml", "--tap", "odd.tap"});
  CHECK(child.exit_code == 0);
  for (const std::string& text : {child.out, child.err, bytes_of(library.folder.file("odd.xml")),
                                  bytes_of(library.folder.file("odd.tap"))}) {
    CHECK(text.find('\x1b') == text.npos);
    CHECK(text.find('\xff') == text.npos);
  }
  CHECK(has(child.out, "\\x1b[2J\\n\xEF\xBF\xBD.yaml"));
  CHECK(run_child("xmllint", {"--noout", library.folder.file("odd.xml")}).exit_code == 0);
  CHECK(library.verify({"--json"}).exit_code == 0);
}

TEST_CASE("the option --check only reads") {
  const Library library(true);  // a requirement is violated, which is no mistake of the file
  const Child good = library.verify({"--check"});
  CHECK(good.exit_code == 0);
  CHECK(good.out == "2 scenarios checked, nothing wrong\n");
  library.put("all/wrong.yaml", scenario("  - {name: a, must: \"always (coke_margn > 10 mV)\"}\n"));
  const Child bad = library.verify({"--check"});
  CHECK(bad.exit_code == 2);
  CHECK(bad.out == "3 scenarios checked, 1 refused\n");
  CHECK(has(bad.err, "wrong.yaml:10:21: requirements[1].must: there is no signal 'coke_margn'"));
  const Child run = library.verify({"--no-record"});
  CHECK(run.exit_code == 2);
  CHECK(has(run.out,
            "3 scenarios, 5 requirements: 2 satisfied, 1 violated, 2 not exercised; 1 scenario refused\n"));
}

TEST_CASE("scenarios of one name are told apart by their paths, and one given twice is judged once") {
  const Library library(false);
  for (const char* folder : {"s", "t", "top/s"}) {
    fs::create_directories(library.folder.file(folder));
    library.put(folder + std::string("/good.yaml"), scenario(kBad));
  }
  const Child two = library.verify_only(
      {"s", "t", "./t/../s/good.yaml", "--out", "kept", "--accepted", "accepted", "--update-accepted"});
  CHECK(two.exit_code == 1);
  CHECK(has(two.out, "  s/good.yaml  too much"));
  CHECK(has(two.out, "  t/good.yaml  too much"));
  CHECK(has(two.out, "2 scenarios, 2 requirements: 2 violated\n"));
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

TEST_CASE("an interrupted check gives what it has, and tells what was not run") {
  const Library library(false);
  std::string text = scenario(kGood);
  library.put("all/long.yaml", text.replace(text.find("8 min"), 5, "200 sol"));
  library.put("all/more.yaml", scenario(kGood));
  fs::create_directories(library.folder.file("accepted"));
  library.put("accepted/accepted.json",
              "{\"format\": \"duskline-accepted/2\", \"root\": \"../all\", \"scenarios\": {}}");
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
  const Child child = interrupted(
      {"--junit", "junit.xml", "--tap", "results.tap", "--accepted", "accepted", "--update-accepted"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "not completed: interrupted, 2 scenarios not run\n"));
  CHECK(has(child.err,
            "nothing is accepted: 2 of 3 scenarios did not reach their end, first of them long.yaml"));
  CHECK(library.accepted() == before);
  CHECK(has(child.out, "satisfied      good.yaml  margin"));
  CHECK(has(child.out, "not run        long.yaml"));
  CHECK(has(child.out, "not run        more.yaml"));
  CHECK(has(child.out, "3 scenarios, 2 requirements: 1 satisfied, 1 not exercised; 2 scenarios not run\n"));
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
  CHECK(rows[0]["verdict"] == "satisfied");
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
  CHECK(has(child.out, "violated"));
}

TEST_CASE("mistakes in requirements are located, and other mistakes are told") {
  const Library library(false);
  library.put("all/good.yaml", scenario("  - {name: a, must: \"always (coke_margn > 10 mV)\"}\n"
                                        "  - {name: a, must: \"always (coke_margin > 10 K)\"}\n"));
  const Child child = library.verify({});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err,
            "good.yaml:10:21: requirements[1].must: there is no signal 'coke_margn'; did you mean "
            "'coke_margin'? (column 9 of the sentence)"));
  CHECK(has(child.err, "requirements[2].name: 'a' is used already"));
  CHECK(has(child.err, "(column 23 of the sentence)"));
  CHECK(run_duskline({"verify", library.folder.file("none")}).exit_code == 2);
  CHECK(run_duskline({"verify", library.folder.file("all"), "--update-accepted"}).exit_code == 2);
  CHECK(run_duskline({"verify"}).exit_code == 2);
}
