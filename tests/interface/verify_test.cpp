// `duskline verify`: verdicts, exit codes, results for other programs, and what moved.
// Sources: JUnit in common use (tests/support/junit.xsd, read by xmllint and by Python's own XML parser), TAP 14 (read by
// Perl's prove); the definitions of docs/how-to/state-requirements.md.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/support/child.hpp"

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
    std::vector<std::string> words{"verify", folder.file("all"), "--out", folder.file("kept")};
    words.insert(words.end(), more.begin(), more.end());
    return run_duskline(words);
  }
};

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
  CHECK(has(summary, "requirement 'too much' is broken"));
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
  const std::string accepted = library.folder.file("accepted");
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
  std::ofstream{accepted + "/accepted.json"} << "{}";
  CHECK(library.verify({"--baseline", accepted}).exit_code == 1);
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
