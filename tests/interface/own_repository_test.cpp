// A repository of the user's own, as docs/how-to/verify-in-your-own-ci.md has it: an installed program, the script and
// the scenario that are copied, a controller in C, a baseline. Source: that page.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "tests/support/child.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

/// An installed program, and an empty repository beside it.
struct Repository {
  Folder folder{"own-repository"};
  std::string prefix = folder.file("installed"), root = folder.file("my plant");

  Repository() {
    const Child installed = run_child("cmake", {"--install", DUSKLINE_BINARY_DIR, "--prefix", prefix});
    INFO(installed.err);
    REQUIRE(installed.exit_code == 0);
    fs::create_directories(root + "/ci");
    fs::copy(prefix + "/share/duskline/examples/ci/check", root + "/ci/check");
    fs::copy(prefix + "/share/duskline/examples/ci/scenarios", root + "/scenarios");
  }
  Child check(const std::vector<std::string>& words = {}) const {
    const std::string path = prefix + "/bin:" + std::string(std::getenv("PATH"));
    return run_child(root + "/ci/check", words, {.environment = {{"PATH", path}}});
  }
  void change(const std::string& file, const std::string& from, const std::string& to) const {
    std::string text = bytes_of(file);
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    std::ofstream{file} << text.replace(at, from.size(), to);
  }
};

}  // namespace

TEST_CASE("a repository of one's own is checked by an installed program, with a baseline and a controller") {
  const Repository mine;
  const std::string scenario = mine.root + "/scenarios/quarter-hour.yaml";
  const Child first = mine.check();
  INFO(first.out << first.err);
  CHECK(first.exit_code == 1);  // nothing is accepted yet
  CHECK(has(first.err, "accepted/accepted.json:1:1: there are no accepted results"));
  CHECK(mine.check({"--update-accepted"}).exit_code == 0);
  const Child same = mine.check();
  CHECK(same.exit_code == 0);
  CHECK(has(same.out, "changed          nothing"));
  CHECK(has(bytes_of(mine.root + "/results/junit.xml"), "<testsuites tests=\"4\" failures=\"0\""));

  fs::create_directories(mine.root + "/controller");
  fs::copy(mine.prefix + "/share/duskline/examples/controllers/proportional.c",
           mine.root + "/controller/proportional.c");
  const Child own = mine.check();
  INFO(own.out << own.err);
  CHECK(own.exit_code == 1);  // it regulates less well, by more than what is allowed
  CHECK(has(own.err, "worse than accepted: quarter-hour.yaml: nickel stays metallic: "));
  CHECK(has(own.out, "changed          quarter-hour.yaml: travel of speed"));
  CHECK(mine.check({"--update-accepted"}).exit_code == 0);

  mine.change(scenario, "> 7 g/h", "> 9 g/h");
  const Child broken = mine.check();
  CHECK(broken.exit_code == 1);
  CHECK(has(broken.out, "violated   quarter-hour.yaml  oxygen comes"));
  CHECK(has(bytes_of(mine.root + "/results/junit.xml"), "failures=\"1\""));
  CHECK(fs::exists(mine.root + "/results/failed/quarter-hour/report.html"));
  CHECK(has(bytes_of(mine.root + "/results/failed/quarter-hour/summary.json"), "controller.so"));

  mine.change(scenario, "plant: bench", "plant: bnch");
  const Child wrong = mine.check();
  CHECK(wrong.exit_code == 2);
  CHECK(has(wrong.out, "1 scenario, 0 requirements; 1 scenario refused\n"));

  // a controller that does not compile leaves no results of the check before
  CHECK(fs::exists(mine.root + "/results/junit.xml"));
  std::ofstream{mine.root + "/controller/proportional.c", std::ios::app} << "nonsense\n";
  CHECK(mine.check().exit_code == 2);
  CHECK_FALSE(fs::exists(mine.root + "/results/junit.xml"));
  CHECK(has(wrong.err, "quarter-hour.yaml:4:8: plant: there is no plant 'bnch'; did you mean 'bench'?"));
}

TEST_CASE("an installed program reads the plants beside it, not those that it was built from") {
  const Repository mine;
  const std::string plant = mine.prefix + "/share/duskline/plant-model/plants/bench.yaml";
  std::ofstream{plant, std::ios::app} << "nonsense: 1\n";
  const Child child = mine.check({"--update-accepted"});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err, plant));
}

TEST_CASE("without the program the script says so") {
  const Repository mine;
  const Child child =
      run_child(mine.root + "/ci/check", {}, {.environment = {{"DUSKLINE", "no-such-program"}}});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err, "no program 'no-such-program'; install it or set DUSKLINE"));
}

TEST_CASE("verify with a controller that cannot be opened says so, and runs nothing") {
  const Repository mine;
  const Child child =
      run_duskline({"verify", mine.root + "/scenarios", "--link", "plugin:" + mine.folder.file("none.so")});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err, "there is no such file"));
}
