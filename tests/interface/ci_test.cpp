// The choice of long checks that CI makes for a commit (.ci/choose): what its header promises.
#include <catch2/catch.hpp>
#include <fstream>
#include <map>
#include <set>

#include "tests/support/child.hpp"
#include "tests/support/source_tree.hpp"

using namespace duskline::tests;

namespace {

/// The names chosen for a commit, in the order printed.
std::vector<std::string> chosen(const std::string& list, int shares, int commit,
                                const std::string& changed = "") {
  const Folder here{"choose"};
  std::ofstream{here.file("list")} << list;
  std::ofstream{here.file("changed")} << changed;
  const Child child =
      run_child("bash", {"-c", "\"$0\" \"$@\" <" + here.file("list"), DUSKLINE_SOURCE_DIR "/.ci/choose",
                         std::to_string(shares), std::to_string(commit), here.file("changed")});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  return lines_of(child.out);
}

std::string names(int first, int last) {
  std::string list;
  for (int i = first; i <= last; ++i)
    list += "mutation/defect " + std::to_string(i) + " is caught\tcontroller/a.hpp\n";
  return list;
}

}  // namespace

TEST_CASE("As many commits in a row as there are shares run every long check once") {
  for (const int first : {0, 5, 1234}) {
    std::map<std::string, int> runs;
    for (int commit = first; commit < first + 4; ++commit)
      for (const std::string& name : chosen(names(1, 60), 4, commit)) ++runs[name];
    CHECK(runs.size() == 60);
    for (const auto& [name, count] : runs) CHECK(count == 1);
  }
}

TEST_CASE("A check that is added between two commits takes the turn of no other") {
  std::set<std::string> run;
  for (int commit = 0; commit < 4; ++commit)
    for (const std::string& name : chosen(names(10 - commit, 40 + 5 * commit), 4, commit)) run.insert(name);
  for (int i = 10; i <= 40; ++i) CHECK(run.count("mutation/defect " + std::to_string(i) + " is caught") == 1);
}

TEST_CASE("A long check whose source changed is run whatever its share, and no other") {
  const std::string list =
      "one\tcontroller/a.hpp\tscenarios/x.yaml\ntwo\tcontroller/\nthree\tplant-model/b.hpp\nfour\n";
  const auto is = [&](const char* changed, std::set<std::string> wanted) {
    for (int commit = 0; commit < 3; ++commit) {
      const auto mine = chosen(list, 3, commit), more = chosen(list, 3, commit, changed);
      std::set<std::string> all(mine.begin(), mine.end());
      all.insert(wanted.begin(), wanted.end());
      CHECK(std::set<std::string>(more.begin(), more.end()) == all);
      CHECK(more.size() == all.size());
    }
  };
  is("", {});
  is("scenarios/x.yaml\n", {"one"});
  is("controller/a.hpp\n", {"one", "two"});
  is("controller/laws/pi.hpp\n", {"two"});
  is("README.md\nplant-model/b.hpp\n", {"three"});
  is("plant-model/b.hpp.old\n", {});
}

TEST_CASE("With one share every commit runs everything") {
  CHECK(chosen(names(1, 20), 1, 7).size() == 20);
}
