// A long run that is killed at random instants and resumed leaves the bytes of one that was not: every file of its folder.
#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <random>

#include "tests/support/child.hpp"
#include "tests/support/same_folders.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

using Clock = std::chrono::steady_clock;
using Words = std::vector<std::string>;

/// One call of the run; killed after `limit` unless that is zero.
Child call(Words words, const std::string& out, const Words& more, Clock::duration limit = {}) {
  words.insert(words.end(), {"--quiet", "--out", out});
  words.insert(words.end(), more.begin(), more.end());
  ChildOptions options;
  options.signal = limit > Clock::duration::zero() ? SIGKILL : 0;
  options.when = [end = Clock::now() + limit] { return Clock::now() >= end; };
  return run_duskline(words, options);
}

/// Kills runs `kills` times in all. A call lives for up to a third of the whole run: a checkpoint or two.
void check_killed(const std::string& name, const Words& words, int kills) {
  const Folder here{name};
  const std::string whole = here.file("whole"), killed = here.file("killed");
  const auto begin = Clock::now();
  const Child reference = call(words, whole, {});
  const auto length = Clock::now() - begin;
  INFO(reference.err);
  REQUIRE((reference.exit_code == 0 || reference.exit_code == 1));  // verdicts are not what is asked here
  std::mt19937 random(20261129);                                    // any seed serves
  std::uniform_real_distribution<double> share(0.0, 0.33);
  int done = 0, resumed = 0;
  // a busy machine may kill all of them before their first checkpoint: then it goes on
  const auto more = [&] { return done < kills || (resumed == 0 && done < 20 * kills); };
  while (more()) {
    fs::remove_all(killed);
    for (bool ended = false; !ended;) {
      const auto limit = std::chrono::duration_cast<Clock::duration>(share(random) * length);
      const bool goes_on = fs::exists(killed + "/checkpoint");
      // before its first checkpoint there is nothing to go on with, and the run starts over
      const Child child = call(words, killed, {goes_on ? "--resume" : "--force"},
                               more() ? std::max(limit, Clock::duration{1}) : Clock::duration{});
      ended = child.signal != SIGKILL;
      resumed += goes_on ? 1 : 0;
      done += ended ? 0 : 1;
      INFO("after " << done << " kills: " << child.err);
      if (ended) REQUIRE(child.exit_code == reference.exit_code);
    }
    check_same_folders(whole, killed);
  }
  CHECK(resumed > 0);
}

const Words kBench{"run",    "mars-year",
                   "--span", "5.2 sol",
                   "--set",  "storms=[{at: 1 sol, peak: 3, rise: 2 sol, decay: 9 sol}]",
                   "--set",  "services=[{at: 3 sol, part: filter}, {at: 4 sol, part: instruments}]"};

/// Sols are simulated and stepped over; the work of a person is between.
const Words kOutpost{"run",      "outpost-year", "--span",
                     "13.2 sol", "--set",        "services=[{at: 6 sol 3 h, part: filter}]"};

}  // namespace

TEST_CASE("A run of the bench plant that is killed at random instants goes on to the same bytes") {
  check_killed("killed-bench", kBench, 3);
}

TEST_CASE("Ten kills at random instants leave the bytes of a run of the bench plant as they are", "[check]") {
  check_killed("killed-bench-ten", kBench, 10);
}

TEST_CASE("Ten kills at random instants leave the bytes of a run of the outpost as they are", "[check]") {
  check_killed("killed-outpost-ten", kOutpost, 10);
}
