// The report in a browser: it draws every panel and complains about nothing. Skipped aloud without a browser.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "hil-harness/compare/comparison.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "tests/support/browser.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/synthetic_trace.hpp"

using namespace duskline::harness;
using namespace duskline::tests;

namespace {

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++found;
  return found;
}

}  // namespace

TEST_CASE("A browser draws every panel of a report without complaint") {
  if (!has_browser()) {
    skip("chromium is not installed, so nobody has looked at the report");
    return;
  }
  const Folder folder("picture");
  REQUIRE(write_synthetic_trace(folder.file("trace.nc"), {}).empty());
  const std::string report = folder.file("report.html");
  ReportInfo info;
  info.title = "A sol </script>";
  info.purpose = "Purpose.";
  const Outcome outcome = write_report(folder.file("trace.nc"), synthetic_summary(), info, report);
  REQUIRE(outcome.problem == "");
  for (const char* window : {"--window-size=1280,900", "--window-size=500,844"}) {
    INFO(window);
    const Visit seen = visit(folder, report, window);
    CHECK(seen.console == "");
    CHECK(seen.page.find("data-error") == std::string::npos);
    const std::size_t figures = count(seen.page, "<figure class=\"panel\" id=\"figure-");
    CHECK(figures >= 20);
    CHECK(count(seen.page, "<div class=\"uplot") == figures);
    CHECK(seen.page.find("1 of 4 requirements violated") != std::string::npos);
    CHECK(seen.page.find("dust storm front arrives") != std::string::npos);
    CHECK(seen.page.find("0.00 to 10.00 g/h") != std::string::npos);  // range of the demand, 10 g/h at most
    // The violation at 43560 s: (0.15 + 43560 / 88775.244) * 24 h = 15.376 h local.
    CHECK(seen.page.find("from 15:22</span>") != std::string::npos);
    CHECK(seen.page.find("A sol &lt;/script&gt;") != std::string::npos);
  }
}

TEST_CASE("A report of two rows without weather, words or summary draws too") {
  if (!has_browser()) {
    skip("chromium is not installed, so nobody has looked at the report");
    return;
  }
  const Folder folder("picture-small");
  TraceWriter writer(folder.file("trace.nc"), {{"oxygen_rate", "kg/s", "", "", 1, "", {}, false}});
  writer.append(0.0, std::vector<double>{0.0});
  writer.append(1.0, std::vector<double>{1e-6});
  REQUIRE(writer.close());
  REQUIRE(write_report(folder.file("trace.nc"), "{}", {}, folder.file("report.html")));
  const Visit seen = visit(folder, folder.file("report.html"), "--window-size=1280,900");
  CHECK(seen.console == "");
  CHECK(seen.page.find("data-error") == std::string::npos);
  CHECK(count(seen.page, "<div class=\"uplot") == 1);
}

namespace {

/// A summary of `count` events of all kinds, as a bad night would have, and eleven requirements, three violated.
std::string busy_summary(int count) {
  nlohmann::json j;
  const std::array<const char*, 8> kinds{"fault", "alarm",     "mode",    "limit",
                                         "power", "interlock", "command", "calibration"};
  for (int i = 0; i < count; ++i)
    j["events"].push_back(
        {{"time", 1000.0 * i},
         {"kind", kinds[static_cast<std::size_t>(i) % kinds.size()]},
         {"text", "what happened at instant number " + std::to_string(i) + " of this run"}});
  for (int i = 0; i < 11; ++i)
    j["requirements"].push_back({{"name", "requirement number " + std::to_string(i)},
                                 {"must", "always (coke_margin > 10 mV)"},
                                 {"verdict", i < 3 ? "violated" : "satisfied"},
                                 {"margin", i < 3 ? -12.5 : 12.5},
                                 {"unit", "mV"},
                                 {"time", 40000.0},
                                 {"violated_from", 30000.0 + 5000.0 * i},
                                 {"violated_to", 52000.0}});
  for (int i = 0; i < 13; ++i)
    j["figures"].push_back({{"text", "a figure with a long name " + std::to_string(i)},
                            {"value", 12.5},
                            {"unit", "kWh/kg"},
                            {"note", "a note about it of some length"}});
  return j.dump();
}

}  // namespace

TEST_CASE("A report of 72 events is read in a browser: order, width, words, lanes, filters and contrast") {
  if (!has_browser()) {
    skip("chromium is not installed, so nobody has measured the report");
    return;
  }
  const Folder folder("picture-measures");
  REQUIRE(write_synthetic_trace(folder.file("trace.nc"), {}).empty());
  ReportInfo info;
  info.title = "A night on which much goes wrong";
  info.purpose =
      "Two sentences about it. They say what the run was to show and take more than one line on a telephone.";
  const std::string report = folder.file("report.html");
  REQUIRE(write_report(folder.file("trace.nc"), busy_summary(72), info, report).problem == "");
  for (const int width : {1400, 390})
    for (const bool dark : {false, true}) {
      const auto m = measured(folder, report, width, dark);
      INFO(m.dump(1));
      REQUIRE(m["width"] == width);
      REQUIRE(m["dark"] == dark);
      CHECK(m["overflow"] <= 0);
      CHECK(m["overlaps"].empty());
      CHECK(m["crossed"].empty());
      CHECK(m["contrast"]["ratio"] >= 4.5);  // WCAG 2.1, 1.4.3
      CHECK(m["texts"] > 200);
      for (const char* lane : {"requirements", "mode", "limiter", "interlocks", "faults", "operator"})
        CHECK(std::find(m["lanes"].begin(), m["lanes"].end(), lane) != m["lanes"].end());
      for (const char* use : {"reachable", "focused", "filtered", "restored", "zoomed", "unzoomed"})
        CHECK(m["used"][use] == true);
      CHECK(m["used"]["chips"] == 8);  // the kinds above
      if (width == 1400) CHECK(m["firstChart"] < 1350 - 50);
    }
}

TEST_CASE("A comparison is read in a browser: both runs in every chart, any signal to choose, no overflow") {
  if (!has_browser()) {
    skip("chromium is not installed, so nobody has measured the comparison");
    return;
  }
  const Folder folder("picture-compare");
  SyntheticRun made;
  REQUIRE(write_synthetic_trace(folder.file("a.nc"), made).empty());
  made.regulated = false;
  made.duration = 50000.0;
  made.period = 25.0;
  REQUIRE(write_synthetic_trace(folder.file("b.nc"), made).empty());
  std::string problem;
  const auto a = read_compared("regulated", folder.file("a.nc"), synthetic_summary(), problem);
  const auto b =
      read_compared("a run with a name of some length", folder.file("b.nc"), busy_summary(72), problem);
  REQUIRE(problem == "");
  const Comparison c = compare(*a, *b);
  REQUIRE(write_comparison(*a, *b, c, folder.file("compare.html")).problem == "");
  for (const int width : {1400, 390})
    for (const bool dark : {false, true}) {
      const auto m = measured(folder, folder.file("compare.html"), width, dark);
      INFO(m.dump(1));
      CHECK(m["overflow"] <= 0);
      CHECK(m["overlaps"].empty());
      CHECK(m["contrast"]["ratio"] >= 4.5);
      // every signal of the synthetic trace
      CHECK(m["selector"] == synthetic_signals().size());
      CHECK(m["chosen"]["drawn"] == true);
      CHECK(m["firstChart"] > 0);
    }
}
