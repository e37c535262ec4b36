// `duskline verify`: verdicts, exit codes, results for other programs.
// Sources: JUnit in common use (tests/support/junit.xsd, read by xmllint and by Python's own XML parser), TAP 14 (read by
// Perl's prove); the definitions of docs/how-to/state-requirements.md.
#include <catch2/catch.hpp>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "tests/support/skip.hpp"
#include "tests/support/verify_library.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

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

TEST_CASE("scenarios of one name are distinguished by their paths, and one given twice is judged once") {
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

TEST_CASE("scenarios and kinds of the library are known by their names, a file of that name comes first") {
  const Library library(false);
  const auto checked = [&](std::vector<std::string> words) {
    words.emplace_back("--check");
    return library.verify_only(words).out;
  };
  CHECK(checked({"equinox-sol", "equinox-sol.yaml", "dawn-dusk/equinox-sol"}) ==
        "1 scenario checked, nothing wrong\n");
  std::size_t faults = 0;
  for (const auto& entry : fs::directory_iterator(kLibrary + "faults"))
    faults += entry.path().extension() == ".yaml";
  CHECK(checked({"faults", "equinox-sol"}) ==
        std::to_string(faults + 1) + " scenarios checked, nothing wrong\n");
  fs::create_directories(library.folder.file("faults"));
  library.put("faults/one.yaml", scenario(kGood));
  CHECK(checked({"faults"}) == "1 scenario checked, nothing wrong\n");
  const Child none = library.verify_only({"equinox-soll", "--check"});
  CHECK(none.exit_code == 2);
  CHECK(has(none.err, "equinox-soll:1:1: no such file, scenario or exercise; did you mean 'equinox-sol'?"));
  // a name alone stands for every scenario of the library
  std::map<std::string, int> bearers;
  for (const auto& entry : fs::recursive_directory_iterator(kLibrary))
    if (entry.path().extension() == ".yaml") ++bearers[entry.path().stem().string()];
  for (const auto& [name, count] : bearers) {
    INFO(name);
    CHECK(count == 1);
  }
}

TEST_CASE(
    "verdicts are in colour on a terminal alone, and not where NO_COLOR or a dumb terminal says otherwise") {
  const Library library(true);
  const auto on_terminal = [&](const std::string& type, const std::string& no_colour) {
    ChildOptions options;
    options.folder = library.folder.path();
    options.environment = {{"TERM", type}, {"NO_COLOR", no_colour}};
    return run_child("script", {"-qec", "'" + kProgram + "' verify all --no-record", "/dev/null"}, options);
  };
  const Child coloured = on_terminal("xterm", "");
  if (coloured.exit_code == 127) {
    skip("script(1) is not installed; colour is not tried");
    return;
  }
  CHECK(coloured.exit_code == 1);
  CHECK(has(coloured.out, "\x1b[32msatisfied\x1b[0m"));
  CHECK(has(coloured.out, "\x1b[31;1mviolated\x1b[0m"));
  // (the progress of a terminal clears its line by another sequence)
  for (const std::string& out : {on_terminal("xterm", "1").out, on_terminal("dumb", "").out,
                                 library.verify_only({"all", "--no-record"}).out}) {
    CHECK(has(out, "satisfied"));
    CHECK_FALSE(has(out, "\x1b[3"));
    CHECK_FALSE(has(out, "\x1b[0m"));
  }
}

TEST_CASE("scenarios are chosen by folder, site and fault") {
  const Library library(true);
  library.put(
      "all/blocked.yaml",
      scenario(kGood, "site: kestrel-rise\nfaults:\n  - {at: 5 min, fault: filter-blocked, size: 0.5}\n"));
  using Names = std::set<std::string>;
  const auto chosen = [&](std::vector<std::string> words) {
    words.insert(words.begin(), {"all", "--check"});
    words.emplace_back("--json");
    const Child child = library.verify_only(words);
    INFO(child.err);
    CHECK(child.exit_code == 0);
    Names names;
    for (const auto& row : nlohmann::json::parse(child.out)) names.insert(row["scenario"].get<std::string>());
    return names;
  };
  CHECK(chosen({}) == Names{"below/bad.yaml", "blocked.yaml", "good.yaml"});
  CHECK(chosen({"--tag", "below"}) == Names{"below/bad.yaml"});
  CHECK(chosen({"--tag", "all"}) == Names{"blocked.yaml", "good.yaml"});
  CHECK(chosen({"--tag", "filter-blocked"}) == Names{"blocked.yaml"});
  CHECK(chosen({"--tag", "kestrel-rise", "--tag", "all"}) == Names{"blocked.yaml"});
  const Child misspelt = library.verify_only({"all", "--tag", "filter-bloked"});
  CHECK(misspelt.exit_code == 2);
  CHECK(misspelt.err ==
        "--tag:1:1: filter-bloked: no scenario has this tag; did you mean 'filter-blocked'?\n");
  const Child none = library.verify_only({"all", "--tag", "below", "--tag", "filter-blocked"});
  CHECK(none.exit_code == 2);
  CHECK(has(none.err, "no scenario has all of these tags"));
}

TEST_CASE("run judges too") {
  const Library library(true);
  const Child child = run_duskline(
      {"run", library.folder.file("all/below/bad.yaml"), "--out", library.folder.file("run"), "--no-record"});
  CHECK(child.exit_code == 1);
  CHECK(has(child.out, "violated"));
}

TEST_CASE("mistakes in requirements are located, and other mistakes are reported") {
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
