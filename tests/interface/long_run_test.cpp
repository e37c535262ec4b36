// Runs of many sols: what they leave sol by sol, and that a killed one goes on to the same bytes.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <numeric>

#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/child.hpp"
#include "tests/support/same_folders.hpp"

using namespace duskline::tests;
using duskline::harness::TraceReader;
namespace fs = std::filesystem;

namespace {

std::vector<std::string> long_run(const std::string& out, std::vector<std::string> more = {}) {
  std::vector<std::string> words{
      "run",
      "mars-year",
      "--span",
      "5.2 sol",
      "--quiet",
      "--out",
      out,
      "--set",
      "services=[{at: 2 sol, part: filter}, {at: 3 sol, part: bearing}, {at: 4 sol, part: seals}, "
      "{at: 4 sol, part: instruments}]"};
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

TraceReader sols_of(const std::string& folder) {
  std::string problem;
  auto file = TraceReader::open(folder + "/sols.nc", problem);
  INFO(problem);
  REQUIRE(file);
  return std::move(*file);
}

double sum(const std::vector<double>& v) {
  return std::accumulate(v.begin(), v.end(), 0.0);
}

}  // namespace

TEST_CASE("A long run leaves a row for each sol, a page, and goes on after kills to the same bytes") {
  const Folder here{"long-run"};
  const std::string whole = here.file("whole"), killed = here.file("killed"), stopped = here.file("stopped");
  const Child child = run_duskline(long_run(whole));
  INFO(child.err);
  REQUIRE((child.exit_code == 0 || child.exit_code == 1));  // verdicts are not what is asked here
  CHECK_FALSE(fs::exists(whole + "/checkpoint"));

  // the rows hold the whole run
  {
    const TraceReader sols = sols_of(whole);
    const auto summary = nlohmann::json::parse(bytes_of(whole + "/summary.json"));
    REQUIRE(sols.rows() == 6);  // it begins at 6 h and ends at 11 h
    // sums of float rows against the figures that were gathered in one go
    CHECK(sum(sols.column("covered_time")) == Approx(summary["end"]["time"]["value"].get<double>()));
    const double made = sum(sols.column("oxygen_made"));
    CHECK(sum(sols.column("hour_oxygen_made")) == Approx(made).epsilon(1e-6));
    CHECK(sum(sols.column("hour_time")) == Approx(sum(sols.column("covered_time"))));
    double in_modes = 0.0, limited = 0.0;
    for (const auto& signal : sols.signals()) {
      if (signal.name.starts_with("time_in_")) in_modes += sum(sols.column(signal.name));
      if (signal.name.starts_with("limited_by_")) limited += sum(sols.column(signal.name));
    }
    CHECK(in_modes == Approx(sum(sols.column("covered_time"))));
    CHECK(limited == Approx(sum(sols.column("time_in_production"))));
    // the season moves on by about half a degree a sol
    const auto season = sols.column("areocentric_longitude");
    for (std::size_t i = 1; i < season.size(); ++i)
      CHECK((season[i] > season[i - 1] && season[i] < season[i - 1] + 0.02));
    // dust gathers until the filter is cleaned in the third sol; the new bearing has not turned before the fourth
    const auto dust = sols.column("filter_dust"), wear = sols.column("bearing_wear");
    CHECK(dust[1] > dust[0]);
    CHECK(dust[2] < dust[1]);
    CHECK(wear[2] > 0.0);
    CHECK(wear[3] < wear[2]);
    // new seals in the fifth sol leak as on the first; the instruments are calibrated then
    const auto leakage = sols.column("compressor_leakage");
    CHECK(leakage[3] > leakage[0]);
    CHECK(leakage[4] == leakage[0]);
    CHECK(has(bytes_of(whole + "/summary.json"), "serviced: instruments"));
    const std::string page = bytes_of(whole + "/sols.html");
    CHECK(has(page, "What set the current, by hour of the sol and season"));
    CHECK(has(page, "filter cleaned"));
    CHECK(page.size() < 200000);  // statistics, not ticks
    // the first and the last of the six sols are covered in part: four points of a mean
    const std::size_t curve = page.find("<path d=\"M", page.find("Power from the bus"));
    REQUIRE(curve != std::string::npos);
    const std::string drawn = page.substr(curve, page.find('"', curve + 9) - curve);
    CHECK(std::count(drawn.begin(), drawn.end(), 'L') == 3);
  }
  // killed, and gone on with
  {
    int kills = 0;
    Child last;
    do {  // whenever there is a checkpoint newer than the one that it went on from, until it has ended before that
      const auto before = kills > 0 ? fs::last_write_time(killed + "/checkpoint") : fs::file_time_type::min();
      ChildOptions options;
      options.signal = kills < 3 ? SIGKILL : 0;
      options.when = [&] {
        std::error_code error;
        const auto now = fs::last_write_time(killed + "/checkpoint", error);
        return !error && now > before;
      };
      last = run_duskline(kills == 0 ? long_run(killed) : long_run(killed, {"--resume"}), options);
      if (last.signal != SIGKILL) break;
      ++kills;
      std::string problem;
      CHECK(TraceReader::open(killed + "/sols.nc", problem));  // readable as it is
    } while (true);
    INFO(last.err);
    CHECK(kills > 0);
    CHECK(last.exit_code == child.exit_code);
    check_same_folders(whole, killed);
  }
  // stopped by a request, and gone on with
  {
    ChildOptions options;
    options.signal = SIGINT;
    options.when = [&] { return fs::exists(stopped + "/checkpoint"); };
    CHECK(run_duskline(long_run(stopped), options).exit_code == 3);
    const Child other = run_duskline(long_run(stopped, {"--resume", "--seed", "5"}));
    CHECK(other.exit_code == 2);
    CHECK(has(other.err, "belongs to another run"));
    const Child last = run_duskline(long_run(stopped, {"--resume"}));
    INFO(last.err);
    CHECK(last.exit_code == child.exit_code);
    check_same_folders(whole, stopped);
    const Child again = run_duskline(long_run(stopped, {"--resume"}));
    CHECK(again.exit_code == 2);
    CHECK(has(again.err, "has ended; there is nothing to go on with"));
  }
}

TEST_CASE("A span is a duration, a year of Mars included") {
  const Child year = run_duskline({"run", "equinox-sol", "--span", "1 Mars year", "--check"});
  CHECK(year.exit_code == 0);
  const Child wrong = run_duskline({"run", "equinox-sol", "--span", "1 Mars yaer", "--check"});
  CHECK(wrong.exit_code == 2);
  CHECK(has(wrong.err, "--span:1:"));
  CHECK(has(wrong.err, "Mars year"));
}
