// export and show: chosen signals of a run as CSV that Python's reader takes, and as a chart of text. The peer is the
// trace itself, read by our reader, and the csv module of Python for the rules of RFC 4180.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>

#include "hil-harness/cli/trace_part.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;
namespace harness = duskline::harness;

namespace {

/// One recorded run that all cases read.
const std::string& recorded() {
  static const Folder folder{"trace-verbs"};
  static const std::string run = [] {
    const std::string out = folder.file("run");
    const Child child = run_duskline(
        {"run", kSol, "--set", "duration=10 min", "--set", "record=10 s", "--out", out, "--quiet"});
    if (child.exit_code != 0) throw std::runtime_error(child.err);
    return out;
  }();
  return run;
}

std::vector<std::string> lines_of(const std::string& text, const std::string& end) {
  std::vector<std::string> lines;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t stop = text.find(end, at);
    lines.push_back(text.substr(at, stop - at));
    at = stop == std::string::npos ? text.size() : stop + end.size();
  }
  return lines;
}

}  // namespace

TEST_CASE("export writes what the trace holds, with units in the header, one row for each span") {
  const Child child = run_duskline({"export", recorded(), "--signal", "coke_margin,mode", "--signal",
                                    "zone_temperature", "--unit", "coke_margin=mV", "--every", "1 min"});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  const auto lines = lines_of(child.out, "\r\n");
  CHECK(
      lines[0].starts_with("time (s),coke_margin (mV),mode,zone_temperature[1] (K),zone_temperature[2] (K)"));
  std::string problem;
  const auto trace = harness::TraceReader::open(recorded() + "/trace.nc", problem);
  REQUIRE(trace);
  const auto margin = trace->column("coke_margin");
  std::size_t row = 0;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const std::size_t first = lines[i].find(','), second = lines[i].find(',', first + 1);
    const double time = std::stod(lines[i].substr(0, first));
    while (trace->times()[row] < time) ++row;
    CHECK(trace->times()[row] == time);
    CHECK(std::stod(lines[i].substr(first + 1, second)) ==
          Approx(1e3 * margin[row]).epsilon(1e-8));  // 9 digits
    CHECK(lines[i].substr(second + 1).starts_with("production,"));
    if (i > 1) CHECK(time >= 60.0 * static_cast<double>(i - 1));
  }
  CHECK(lines.size() >= 10);

  const Folder here{"trace-export"};
  const std::vector<std::string> words{"export", recorded() + "/trace.nc", "--signal", "coke_margin",
                                       "--out",  here.file("a.csv")};
  CHECK(run_duskline(words).exit_code == 0);
  const Child again = run_duskline(words);
  CHECK(again.exit_code == 2);
  CHECK(has(again.err, "exists already; --force overwrites it"));
}

TEST_CASE("Cells that hold commas, quotes or ends of line are quoted as RFC 4180 says") {
  harness::TracePart part;
  part.times = {0.0, 1.5};
  harness::TraceColumn words;
  words.info.name = "word";
  words.info.flags = {"a, b", "say \"no\""};
  words.values = {0.0, 1.0};
  harness::TraceColumn number;
  number.info.name = "x";
  number.info.unit = number.unit = "m";
  number.values = {0.1F, std::nan("")};
  part.columns = {words, number};
  CHECK(harness::csv_of(part) == "time (s),word,x (m)\r\n0,\"a, b\",0.1\r\n1.5,\"say \"\"no\"\"\",\r\n");
}

TEST_CASE("What export cannot give is a located problem with the nearest word") {
  const auto refused = [](std::vector<std::string> more) {
    std::vector<std::string> words{"export", recorded()};
    words.insert(words.end(), more.begin(), more.end());
    const Child child = run_duskline(words);
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    return child.err;
  };
  CHECK(refused({"--signal", "coke_margn"}) ==
        "--signal:1:1:1: coke_margn: the trace has no such signal; did you mean 'coke_margin'?\n");
  CHECK(has(refused({"--signal", "coke_margin", "--unit", "coke_margin=K"}), "'K' is no unit for V"));
  CHECK(has(refused({"--signal", "coke_margin", "--every", "soon"}), "--every:1:1: "));
  CHECK(has(refused({"--signal", "coke_margin", "--from", "2 h"}), "holds no row between these instants"));
  CHECK(has(run_duskline({"export", "/nowhere", "--signal", "x"}).err, "there is no recorded run"));
}

TEST_CASE("show draws a signal with its unit and its axis, in ASCII where the terminal has no more") {
  const std::vector<std::string> words{"show",           recorded(), "--signal", "coke_margin", "--unit",
                                       "coke_margin=mV", "--width",  "60",       "--height",    "10"};
  const Child ascii = run_duskline(words, {.environment = {{"LC_ALL", "C"}}});
  INFO(ascii.out);
  REQUIRE(ascii.exit_code == 0);
  const auto lines = lines_of(ascii.out, "\n");
  REQUIRE(lines.size() == 13);  // head, ten lines, axis, times
  CHECK(lines[0].starts_with("coke_margin (mV)  "));
  CHECK(has(lines[12], "0:00 h"));
  CHECK(lines[12].ends_with("0:10 h"));
  for (std::size_t i = 1; i < lines.size(); ++i) CHECK(lines[i].size() <= 60);
  CHECK(std::count(ascii.out.begin(), ascii.out.end(), '*') >= 50);
  CHECK(std::all_of(ascii.out.begin(), ascii.out.end(),
                    [](char c) { return static_cast<unsigned char>(c) < 128; }));
  const Child utf8 = run_duskline(words, {.environment = {{"LC_ALL", "C.UTF-8"}}});
  CHECK(has(utf8.out, "█"));
  const Child mode = run_duskline({"show", recorded(), "--signal", "mode", "--ascii"});
  CHECK(has(mode.out, "production"));
}

TEST_CASE("A chart fills each column from the least to the greatest value") {
  harness::TracePart part;
  harness::TraceColumn ramp;
  ramp.info.name = "ramp";
  ramp.info.meaning = "a line";
  ramp.info.unit = ramp.unit = "1";
  for (int i = 0; i <= 100; ++i) {
    part.times.push_back(i * 36.0);
    ramp.values.push_back(i / 100.0);
  }
  // 5 lines for 0 to 1: each a quarter apart; the columns rise from the lower left to the upper right
  const std::string chart = harness::chart_of(part, ramp, {20, 5, true});
  const auto lines = lines_of(chart, "\n");
  REQUIRE(lines.size() == 8);
  CHECK(lines[1].starts_with("   1 +"));
  CHECK(lines[1].ends_with("*"));
  CHECK(lines[5].starts_with("   0 +*"));
  CHECK(lines[1].find('*') > lines[3].find('*'));
  CHECK(lines[3].find('*') > lines[5].find('*'));
}
