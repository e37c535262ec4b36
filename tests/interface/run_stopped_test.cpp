// Runs that do not reach their end: interrupted, killed, out of disk. The exit code is 3, the message says
// why, and what was recorded can be read. The runs are of 200 sols, so that no machine is fast enough to
// finish.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/tiny_disk.hpp"

using namespace duskline::tests;
using duskline::harness::TraceReader;
namespace fs = std::filesystem;

namespace {

constexpr std::size_t kFlush = 600;  // rows that the program keeps in memory

std::vector<std::string> long_run(const std::string& out) {
  return {"run", kSol, "--set", "duration=200 sol", "--set", "record=1 s", "--out", out};
}

std::uintmax_t size_of(const std::string& path) {
  std::error_code error;
  const auto size = fs::file_size(path, error);
  return error ? 0 : size;
}

/// Once the trace has grown: the head and a first flush are in the file.
ChildOptions sent(int signal, const std::string& trace) {
  ChildOptions options;
  options.signal = signal;
  options.when = [trace] { return size_of(trace) > 1500000; };
  return options;
}

TraceReader readable(const std::string& path) {
  std::string problem;
  auto trace = TraceReader::open(path, problem);
  INFO(problem);
  REQUIRE(trace);
  return std::move(*trace);
}

/// Rows one second apart from the start on, with something in them.
void check_rows(const TraceReader& trace, std::size_t rows) {
  REQUIRE(trace.rows() == rows);
  for (std::size_t i = 0; i < rows; ++i) REQUIRE(trace.times()[i] == static_cast<double>(i));
  const auto pressure = trace.column("ambient_pressure");
  REQUIRE(pressure.size() == rows);
  for (const double p : pressure) REQUIRE((p > 300.0 && p < 1500.0));  // Pa: Mars, at any season
}

nlohmann::json summary_in(const std::string& folder) {
  return nlohmann::json::parse(bytes_of(folder + "/summary.json"));
}

}  // namespace

TEST_CASE("Ctrl-C and a request to end stop a run cleanly and keep all of it") {
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    INFO("signal " << signal);
    const Folder here{"stop-cleanly"};
    const std::string out = here.file("run");
    const Child child = run_duskline(long_run(out), sent(signal, out + "/trace.nc"));
    CHECK(child.exit_code == 3);
    CHECK(has(child.err, "run not completed: interrupted at "));
    CHECK(has(child.err, "; what was recorded is in " + out + "\n"));
    CHECK(has(child.out, "ended            interrupted after "));
    const auto summary = summary_in(out);
    CHECK(summary["end"]["reason"] == "interrupted");
    const auto ticks = summary["integration"]["ticks"].get<std::size_t>();
    CHECK(summary["end"]["time"]["value"].get<double>() == static_cast<double>(ticks));  // periods of 1 s
    CHECK(ticks > kFlush);
    check_rows(readable(out + "/trace.nc"), ticks);
    CHECK(bytes_of(out + "/trace.nc").starts_with("\x89HDF"));  // finished as columns
    CHECK(has(bytes_of(out + "/report.html"), "interrupted"));
    CHECK_FALSE(fs::exists(out + "/trace.nc.columns"));
    CHECK_FALSE(fs::exists(out + "/trace.nc.rows"));  // it had no checkpoint to go on from
  }
}

TEST_CASE("An interrupted run is the beginning of the whole run") {
  const Folder here{"stop-beginning"};
  const std::string out = here.file("run");
  run_duskline(long_run(out), sent(SIGINT, out + "/trace.nc"));
  const TraceReader cut = readable(out + "/trace.nc");
  const std::string whole = here.file("whole");
  const Child child = run_duskline({"run", kSol, "--set", "duration=" + std::to_string(cut.rows()) + " s",
                                    "--set", "record=1 s", "--out", whole});
  CHECK(child.exit_code == 0);
  const TraceReader full = readable(whole + "/trace.nc");
  CHECK(full.times() == cut.times());
  for (const char* name : {"oxygen_rate", "cathode_pressure", "stack_current", "zone_temperature"}) {
    CHECK(full.column(name) == cut.column(name));
    CHECK_FALSE(cut.column(name).empty());
  }
}

TEST_CASE("A killed run is readable up to its last flush") {
  const Folder here{"stop-kill"};
  const std::string out = here.file("run");
  const Child child = run_duskline(long_run(out), sent(SIGKILL, out + "/trace.nc"));
  CHECK(child.signal == SIGKILL);
  const TraceReader trace = readable(out + "/trace.nc");
  CHECK(trace.rows() >= kFlush);
  check_rows(trace, trace.rows());
  CHECK(fs::exists(out + "/scenario.resolved.yaml"));  // what was run is known too
  CHECK_FALSE(fs::exists(out + "/summary.json"));
}

TEST_CASE("A run that is interrupted before the compared run says that it did not begin") {
  const Folder here{"stop-compared"};
  const std::string out = here.file("run");
  std::vector<std::string> words = long_run(out);
  words.insert(words.end(), {"--compare", "fixed"});
  const Child early = run_duskline(words, sent(SIGINT, out + "/trace.nc"));
  CHECK(early.exit_code == 3);
  CHECK(has(early.err, "compared run not completed: interrupted before it began\n"));
  CHECK_FALSE(fs::exists(out + "/compared.json"));
  CHECK(fs::exists(out + "/report.html"));
}

TEST_CASE("A trace that may grow no further ends the run, and what was recorded is kept") {
  const Folder here{"stop-limit"};
  const std::string out = here.file("run");
  ChildOptions options;
  options.largest_file = 2000000;
  const Child child = run_duskline(long_run(out), options);
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, out + "/trace.nc: File too large\n"));
  CHECK(has(child.err, "run not completed: disk full at "));
  const TraceReader trace = readable(out + "/trace.nc");
  CHECK(trace.rows() > kFlush);
  check_rows(trace, trace.rows());
  const auto summary = summary_in(out);
  CHECK(summary["end"]["reason"] == "disk full");
  CHECK(summary["end"]["who"] == "trace");
  CHECK(has(bytes_of(out + "/report.html"), "disk full"));  // it fits within the limit
}

TEST_CASE("A disk that is really full ends the run, and what was recorded is kept") {
  const Folder here{"stop-full"};
  const TinyDisk disk{here.file("tiny"), "2m"};
  if (!disk.mounted) {
    skip("no file system can be mounted here; a full disk is not tested");
    return;
  }
  const std::string out = disk.folder + "/run";
  const Child child = run_duskline(long_run(out));
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, out + "/trace.nc: No space left on device\n"));
  CHECK(has(child.err, out + "/summary.json: cannot be written: No space left on device\n"));
  CHECK(has(child.err, "run not completed: disk full at "));
  const TraceReader trace = readable(out + "/trace.nc");
  CHECK(trace.rows() > kFlush);
  check_rows(trace, trace.rows());
  for (const auto& entry : fs::directory_iterator{out}) {
    const std::string name = entry.path().filename().string();
    INFO(name);
    // nothing half-written
    CHECK((name == "trace.nc" || name == "sols.nc" || name == "scenario.resolved.yaml"));
  }
}

TEST_CASE("A disk that holds the rows but not the columns keeps the rows, all of them") {
  const Folder here{"stop-columns"};
  const TinyDisk disk{here.file("tiny"), "3400k"};
  if (!disk.mounted) {
    skip("no file system can be mounted here; a full disk is not tested");
    return;
  }
  const std::string out = disk.folder + "/run";
  const Child child =
      run_duskline({"run", kSol, "--set", "duration=3000 s", "--set", "record=1 s", "--out", out, "--quiet"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, out + "/trace.nc: stays as rows, since it cannot be rewritten as columns ("));
  CHECK(has(child.err, "run not completed: disk full at 3000.000 s"));
  check_rows(readable(out + "/trace.nc"), 3000);
  CHECK(bytes_of(out + "/trace.nc").starts_with("CDF"));  // rows, as while the run went on
  CHECK_FALSE(fs::exists(out + "/trace.nc.columns"));
}

TEST_CASE("A disk without any room is refused or reported, not crashed on") {
  const Folder here{"stop-none"};
  const TinyDisk disk{here.file("tiny"), "4k"};
  if (!disk.mounted) {
    skip("no file system can be mounted here; a full disk is not tested");
    return;
  }
  const Child child = run_duskline(long_run(disk.folder + "/run"));
  CHECK(child.signal == 0);
  CHECK((child.exit_code == 2 || child.exit_code == 3));
  CHECK(has(child.err, "No space left on device"));
}

TEST_CASE("A run whose energy balance does not close is not completed, and what was recorded is kept") {
  const Folder here{"stop-balance"};
  const std::string out = here.file("run");
  // a body of 900 K whose heat capacity grows by 150 J/K holds 135 kJ that nothing brought; the bus gave 60 kJ
  const Child child = run_duskline(
      {"run", kSol, "--set", "duration=10 min", "--set", "record=1 s", "--set",
       "events=[{at: 300 s, set: plant.heat.inner_heat_capacity, to: 400 J K-1}]", "--out", out});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "run not completed: balance not closed at 301.000 s: energy"));
  check_rows(readable(out + "/trace.nc"), 301);
  CHECK(summary_in(out)["end"]["reason"] == "balance not closed");
  CHECK(summary_in(out)["balance_residuals"]["energy"].get<double>() > 1.0);
}
