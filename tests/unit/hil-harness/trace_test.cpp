// Traces: what is written is read back, the same input gives the same bytes, and neither a kill nor a
// full disk costs what has been flushed. Expected values are the ones written, rounded to float32.
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
#include <thread>

#include "hil-harness/trace/trace_reader.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/synthetic_trace.hpp"

using namespace duskline::harness;
using duskline::tests::bytes_of;
using duskline::tests::Folder;
namespace fs = std::filesystem;

namespace {

std::vector<SignalInfo> small_signals() {
  return {{"pressure", "Pa", "a pressure", "", 1, "flow", {}, false},
          {"voltage", "V", "cell voltages", "cell", 3, "stack", {}, false},
          {"mode", "1", "mode in force", "", 1, "controller", {"off", "warm-up", "cool down"}, false},
          {"tripped", "1", "interlocks", "", 1, "controller", {"cold", "no flow"}, true}};
}

std::vector<double> small_row(double k) {
  return {700.0 + k, 1.0 + k, 2.0 + k, 3.0 + k, std::fmod(k, 3.0), 2.0};
}

void write_rows(TraceWriter& writer, int count) {
  for (int k = 0; k < count; ++k) writer.append(0.5 * k, small_row(k));
}

/// Rows of a file made by small_row, after checking that every one of them holds what was written.
std::size_t check_rows(const std::string& path) {
  std::string problem;
  const auto trace = TraceReader::open(path, problem);
  INFO(problem);
  REQUIRE(trace);
  const std::vector<double> pressure = trace->column("pressure");
  const std::vector<double> voltage = trace->column("voltage");
  REQUIRE(pressure.size() == trace->rows());
  REQUIRE(voltage.size() == 3 * trace->rows());
  std::size_t wrong = 0;
  for (std::size_t k = 0; k < trace->rows(); ++k) {
    const double x = static_cast<double>(k);
    wrong += trace->times()[k] != 0.5 * x;
    wrong += pressure[k] != static_cast<double>(static_cast<float>(700.0 + x));
    wrong += voltage[3 * k + 2] != static_cast<double>(static_cast<float>(3.0 + x));
  }
  CHECK(wrong == 0);
  return trace->rows();
}

}  // namespace

TEST_CASE("A finished trace gives back signals, attributes and values") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  TraceWriter writer(path, small_signals(), {{"scenario", "dusk"}, {"seed", "7"}});
  write_rows(writer, 1501);
  REQUIRE(writer.close());
  CHECK(writer.rows_written() == 1501);
  CHECK_FALSE(fs::exists(path + ".columns"));
  CHECK(check_rows(path) == 1501);

  std::string problem;
  const auto trace = TraceReader::open(path, problem);
  REQUIRE(trace);
  CHECK(trace->signals() == small_signals());
  CHECK(trace->attributes().at("scenario") == "dusk");
  CHECK(trace->attributes().at("Conventions") == "CF-1.10");
  CHECK(trace->column("mode")[5] == 2.0);
  CHECK(trace->column("tripped")[5] == 2.0);
  CHECK(trace->find("nothing") == nullptr);
  CHECK(trace->column("nothing").empty());
}

TEST_CASE("What is flushed is a whole file before the run has ended") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  TraceOptions options;
  options.flush_rows = 10;
  TraceWriter writer(path, small_signals(), {{"seed", "7"}}, options);
  CHECK(check_rows(path) == 0);
  write_rows(writer, 25);
  CHECK(check_rows(path) == 20);
  REQUIRE(writer.flush());
  CHECK(check_rows(path) == 25);
  std::string problem;
  CHECK(TraceReader::open(path, problem)->signals() == small_signals());
}

TEST_CASE("The same rows give the same bytes, whenever and however they are flushed") {
  const Folder folder("trace");
  TraceOptions often;
  often.flush_rows = 7;
  TraceWriter first(folder.file("a.nc"), small_signals(), {{"seed", "7"}});
  write_rows(first, 5000);
  REQUIRE(first.close());
  std::this_thread::sleep_for(std::chrono::milliseconds(2100));  // file times count whole seconds
  TraceWriter second(folder.file("b.nc"), small_signals(), {{"seed", "7"}}, often);
  write_rows(second, 5000);
  REQUIRE(second.close());
  const std::string bytes = bytes_of(folder.file("a.nc"));
  CHECK(bytes.size() > 5000);
  CHECK((bytes == bytes_of(folder.file("b.nc"))));
  CHECK(bytes.find(folder.path()) == std::string::npos);
}

TEST_CASE("A kill at any moment leaves a file with all whole blocks") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  std::size_t most = 0;
  for (int kill_number = 0; kill_number < 40; ++kill_number) {
    fs::remove(path);
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      TraceOptions options;
      options.flush_rows = 20;
      TraceWriter writer(path, small_signals(), {}, options);
      for (int k = 0;; ++k) writer.append(0.5 * k, small_row(k));
    }
    // a slow machine, or a sanitizer, may take its time to begin; a header of about 1.5 kB and a flush of 640 bytes
    const auto begun = [&] { return fs::exists(path) && fs::file_size(path) > 2000; };
    for (int waited = 0; waited < 10000 && !begun(); ++waited) usleep(1000);
    usleep(static_cast<useconds_t>(15000 + 137 * kill_number));
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    const std::size_t rows = check_rows(path);
    CHECK(rows % 20 == 0);
    most = std::max(most, rows);
  }
  CHECK(most > 0);
}

TEST_CASE("A full disk ends recording with a message and keeps the rows that fit") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  const pid_t child = fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{20000, 20000};
    setrlimit(RLIMIT_FSIZE, &limit);
    TraceOptions options;
    options.flush_rows = 100;
    TraceWriter writer(path, small_signals(), {}, options);
    int accepted = 0;
    while (accepted < 100000 && writer.append(0.5 * accepted, small_row(accepted))) ++accepted;
    const bool refused = !writer.problem().empty() && !writer.append(0.0, small_row(0)) && !writer.close();
    _exit(refused && accepted > 100 && accepted < 1000 ? 0 : 1);
  }
  int status = 0;
  waitpid(child, &status, 0);
  CHECK(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 0);
  // 20000 bytes hold a header of about 1.5 kB and rows of 8 + 6 * 4 = 32 bytes each.
  const std::size_t rows = check_rows(path);
  CHECK(rows > 500);
  CHECK(rows < 625);
}

TEST_CASE("When there is no space for the columns, the rows remain") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  fs::create_directory(path + ".columns");  // stands in the way of the second file
  TraceWriter writer(path, small_signals());
  write_rows(writer, 50);
  CHECK_FALSE(writer.close());
  CHECK_FALSE(writer.problem().empty());
  CHECK(check_rows(path) == 50);
}

TEST_CASE("What a trace cannot hold is refused with a reason") {
  const Folder folder("trace");
  std::vector<SignalInfo> doubled{{"a", "1", "", "", 1, "", {}, false}, {"a", "1", "", "", 1, "", {}, false}};
  CHECK(TraceWriter(folder.file("x.nc"), doubled).problem() == "signal 'a' is named twice");
  std::vector<SignalInfo> loose{{"a", "1", "", "", 4, "", {}, false}};
  CHECK(TraceWriter(folder.file("x.nc"), loose).problem() == "signal 'a' has several values but no axis");
  std::vector<SignalInfo> uneven{{"a", "1", "", "cell", 4, "", {}, false},
                                 {"b", "1", "", "cell", 5, "", {}, false}};
  CHECK(TraceWriter(folder.file("x.nc"), uneven).problem() == "signal 'b': axis 'cell' has two widths");
  TraceWriter lost(folder.file("no/such/folder/x.nc"), small_signals());
  CHECK_FALSE(lost.problem().empty());
  CHECK_FALSE(lost.append(0.0, small_row(0)));
  TraceWriter writer(folder.file("y.nc"), small_signals());
  CHECK_FALSE(writer.append(0.0, std::vector<double>{1.0, 2.0}));
  CHECK(writer.problem().find("2 values instead of 6") != std::string::npos);

  std::string problem;
  CHECK_FALSE(TraceReader::open(folder.file("nothing.nc"), problem));
  CHECK(problem.find("nothing.nc") != std::string::npos);
  std::ofstream(folder.file("text.nc")) << "no trace";
  CHECK_FALSE(TraceReader::open(folder.file("text.nc"), problem));
}

TEST_CASE("Values that no file can hold become the mark of an unknown value") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  const double nan = std::numeric_limits<double>::quiet_NaN();
  TraceWriter writer(path, small_signals());
  REQUIRE(writer.append(0.0, std::vector<double>{nan, 1e300, -1e300, 0.0, nan, -5.0}));
  REQUIRE(writer.close());
  std::string problem;
  const auto trace = TraceReader::open(path, problem);
  REQUIRE(trace);
  CHECK(std::isnan(trace->column("pressure")[0]));
  CHECK(trace->column("voltage")[0] == std::numeric_limits<double>::infinity());
  CHECK(trace->column("voltage")[1] == -std::numeric_limits<double>::infinity());
  CHECK(trace->column("mode")[0] == -1.0);
  CHECK(trace->column("tripped")[0] == -1.0);
}

TEST_CASE("Other programs read a trace") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc");
  TraceWriter writer(path, duskline::tests::synthetic_signals());
  REQUIRE(writer.append(0.0, duskline::tests::synthetic_row({}, 0.0)));
  REQUIRE(writer.flush());
  if (std::system("command -v ncdump > /dev/null") != 0) {
    duskline::tests::skip("ncdump is not installed, so no other program was asked");
    return;
  }
  const std::string listing = folder.file("listing");
  const std::string command = "ncdump " + path + " > " + listing;
  REQUIRE(std::system(command.c_str()) == 0);
  CHECK(bytes_of(listing).find("time = UNLIMITED ; // (1 currently)") != std::string::npos);
  CHECK(bytes_of(listing).find("mode:flag_meanings = \"off warm-up standby production") != std::string::npos);
  REQUIRE(writer.close());
  REQUIRE(std::system(command.c_str()) == 0);
  CHECK(bytes_of(listing).find("cell_voltage:units = \"V\"") != std::string::npos);
}

TEST_CASE("A path that looks like an address is a path") {
  const Folder folder("trace-address");
  const struct Within {
    explicit Within(const fs::path& folder) { fs::current_path(folder); }
    ~Within() { fs::current_path(before); }
    fs::path before = fs::current_path();
  } within(folder.path());
  for (const std::string path : {"http://localhost/x.nc", "s3://bucket/x.nc"}) {
    INFO(path);
    fs::create_directories(fs::path(path).parent_path());
    TraceWriter writer(path, small_signals());
    write_rows(writer, 20);
    CHECK(writer.close());
    CHECK(writer.problem().empty());
    CHECK(fs::is_regular_file(path));
    CHECK(check_rows(path) == 20);
  }
  TraceWriter strange("C:\\x.nc", small_signals());
  CHECK(strange.problem() ==
        "C:\\x.nc: a trace cannot have a backslash in its path, which the library takes for a slash");
  CHECK_FALSE(fs::exists("C:"));
}

TEST_CASE("Of two runs into one folder the second is refused") {
  const Folder folder("trace");
  TraceWriter first(folder.file("trace.nc"), small_signals());
  write_rows(first, 10);
  TraceWriter second(folder.file("trace.nc"), small_signals());
  CHECK_FALSE(second.append(0.0, small_row(0)));
  CHECK(second.problem().find("File exists") != std::string::npos);
  CHECK_FALSE(second.no_space());
  CHECK(first.close());
  CHECK(check_rows(folder.file("trace.nc")) == 10);
}

TEST_CASE("A corrupted count of rows is refused before memory is asked for") {
  const Folder folder("trace");
  const std::string path = folder.file("trace.nc"), corrupted = folder.file("corrupted.nc");
  TraceWriter writer(path, small_signals());
  write_rows(writer, 10);
  REQUIRE(writer.flush());
  std::string bytes = bytes_of(path);
  REQUIRE(bytes.starts_with("CDF"));
  bytes[4] = '\x7f';  // the count of rows, big-endian (NetCDF classic format)
  std::ofstream(corrupted, std::ios::binary) << bytes;
  std::string problem;
  CHECK_FALSE(TraceReader::open(corrupted, problem));
  CHECK(problem == corrupted + ": is damaged: it claims more rows than fit into it");
}
