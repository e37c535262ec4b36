// Reports: reduction of a run to a page, daylight, units, and the page as one self-contained text.
// Expected values follow from the definitions stated at each check.
#include "hil-harness/report/report.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>
#include <numbers>

#include "hil-harness/report/daylight.hpp"
#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/grid.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/panels.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/synthetic_trace.hpp"

using namespace duskline::harness;
using namespace duskline::tests;
using nlohmann::json;

namespace {

std::vector<double> counting(std::size_t count, double step) {
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) values[i] = static_cast<double>(i) * step;
  return values;
}

/// The data in a page, as the page itself reads them.
json data_of(const std::string& page) {
  const std::string mark = "id=\"data\">";
  const std::size_t begin = page.find(mark) + mark.size();
  return json::parse(page.substr(begin, page.find("</script>", begin) - begin));
}

const json* panel_of(const json& data, const std::string& title) {
  for (const json& panel : data["panels"])
    if (panel["title"] == title) return &panel;
  return nullptr;
}

}  // namespace

TEST_CASE("A short run is shown row by row") {
  const std::vector<double> times = counting(100, 10.0);
  const std::vector<double> values = counting(100, 0.5);
  const Grid grid(times);
  CHECK(grid.times() == times);
  CHECK(grid.show(times, values) == values);
}

TEST_CASE("A long run keeps every peak, near where it was") {
  const std::vector<double> times = counting(100000, 1.0);
  std::vector<double> values(times.size(), 5.0);
  values[33333] = 9.0;
  values[66666] = 1.0;
  values[70000] = std::numeric_limits<double>::quiet_NaN();
  const Grid grid(times, 1000);
  CHECK(grid.times().size() == 1000);
  CHECK(grid.times().front() == 0.0);
  CHECK(grid.times().back() == 99999.0);
  CHECK(std::is_sorted(grid.times().begin(), grid.times().end()));
  const std::vector<double> shown = grid.show(times, values);
  const auto high = std::max_element(shown.begin(), shown.end()) - shown.begin();
  const auto low = std::min_element(shown.begin(), shown.end()) - shown.begin();
  CHECK(shown[static_cast<std::size_t>(high)] == 9.0);
  CHECK(shown[static_cast<std::size_t>(low)] == 1.0);
  // 500 buckets of 200 rows: a value stands at most one bucket from its place.
  CHECK(std::abs(grid.times()[static_cast<std::size_t>(high)] - 33333.0) < 200.0);
  CHECK(std::abs(grid.times()[static_cast<std::size_t>(low)] - 66666.0) < 200.0);
  CHECK(std::count(shown.begin(), shown.end(), 5.0) == 998);
}

TEST_CASE("Another run is interpolated onto the grid, and unknown outside its own time") {
  const Grid grid(counting(5, 10.0));
  const std::vector<double> times{5.0, 15.0, 25.0};
  const std::vector<double> pairs{0.0, 100.0, 1.0, 110.0, 2.0, 120.0};
  const std::vector<double> shown = grid.show(times, pairs, 2, 1);
  CHECK(std::isnan(shown[0]));
  CHECK(shown[1] == Approx(105.0));
  CHECK(shown[2] == Approx(115.0));
  CHECK(std::isnan(shown[3]));
}

TEST_CASE("Dusk, night and dawn lie where the sun passes six degrees") {
  // Elevation 30 deg * cos(2 pi t / day): it passes 6 deg where cos = 0.2, -6 deg where cos = -0.2.
  const double day = 88775.0;
  const double degree = std::numbers::pi / 180.0;
  const std::vector<double> times = counting(8879, 10.0);
  std::vector<double> elevation;
  for (const double t : times)
    elevation.push_back(30.0 * degree * std::cos(2.0 * std::numbers::pi * t / day));
  const std::vector<Interval> dark = dark_intervals(times, elevation);
  REQUIRE(dark.size() == 3);
  const double edge = day * std::acos(0.2) / (2.0 * std::numbers::pi);
  const double deep = day * std::acos(-0.2) / (2.0 * std::numbers::pi);
  CHECK(dark[0].kind == "dusk");
  CHECK(dark[0].from == Approx(edge).margin(0.1));
  CHECK(dark[0].to == Approx(deep).margin(0.1));
  CHECK(dark[1].kind == "night");
  CHECK(dark[1].to == Approx(day - deep).margin(0.1));
  CHECK(dark[2].kind == "dawn");
  CHECK(dark[2].to == Approx(day - edge).margin(0.1));
}

TEST_CASE("A step from day to night passes through dusk, and a lost sun is no darkness") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const std::vector<double> times{0.0, 100.0, 200.0};
  const std::vector<Interval> dark = dark_intervals(times, std::vector<double>{0.5, -0.5, -0.5});
  REQUIRE(dark.size() == 2);
  CHECK(dark[0].kind == "dusk");
  CHECK(dark[1].kind == "night");
  CHECK(dark[0].to == dark[1].from);
  CHECK(dark_intervals(times, std::vector<double>{nan, nan, nan}).empty());
}

TEST_CASE("Local time counts on through midnight") {
  const std::vector<double> hours = unwrapped_hours(std::vector<double>{0.75, 0.875, 0.0, 0.125});
  CHECK(hours == std::vector<double>{18.0, 21.0, 24.0, 27.0});
}

TEST_CASE("Values are shown in the units of people") {
  std::vector<double> kelvin{273.15, 1073.15};  // degC = K - 273.15 (SI brochure, 9th ed., 2.3.1)
  REQUIRE(convert_units(kelvin, "K", "degC"));
  CHECK(kelvin[0] == Approx(0.0).margin(1e-9));
  CHECK(kelvin[1] == Approx(800.0));
  std::vector<double> flow{1.0};  // 1000 g per kg times 3600 s per h
  REQUIRE(convert_units(flow, "kg/s", "g/h"));
  CHECK(flow[0] == Approx(3.6e6));
  CHECK_FALSE(convert_units(flow, "kg/s", "V"));
  CHECK(flow[0] == Approx(3.6e6));
  CHECK(unit_label("g/m3") == "g/m³");
  CHECK(unit_label("degC") == "°C");
  CHECK(unit_label("1").empty());
}

TEST_CASE("Every unit of the panel table is one that the trace's units convert into") {
  const std::vector<SignalInfo> signals = synthetic_signals();
  std::size_t checked = 0;
  for (const Panel& panel : panels())
    for (const Line& line : panel.lines) {
      const auto at = std::find_if(signals.begin(), signals.end(),
                                   [&](const SignalInfo& signal) { return signal.name == line.signal; });
      if (at == signals.end()) continue;
      INFO(panel.title << ": " << line.signal << " in " << at->unit);
      std::vector<double> value{1.0};
      CHECK(convert_units(value, at->unit, std::string(panel.unit)));
      ++checked;
    }
  CHECK(checked > 30);
}

TEST_CASE("Numbers and words of the page are short and safe") {
  CHECK(json_text::number(1.0 / 3.0, 5) == "0.33333");
  CHECK(json_text::number(-0.0, 5) == "0");
  CHECK(json_text::number(std::numeric_limits<double>::quiet_NaN(), 5) == "null");
  CHECK(json_text::numbers(std::vector<double>{1.0, 2.5, 1e-9}, 5) == "[1,2.5,1e-09]");
  CHECK(json_text::in_quotes("a \"b\" </script>") == "\"a \\\"b\\\" \\u003c/script>\"");
}

TEST_CASE("A report is one text that holds everything and asks nobody") {
  const Folder folder("report");
  SyntheticRun run;
  REQUIRE(write_synthetic_trace(folder.file("trace.nc"), run).empty());
  run.regulated = false;
  REQUIRE(write_synthetic_trace(folder.file("fixed.nc"), run).empty());
  const ReportInfo info{"Dusk & <storm> {{data}}", "A purpose.", "regulating law", "fixed law"};
  const std::string out = folder.file("report.html");
  const Outcome outcome =
      write_report(folder.file("trace.nc"), synthetic_summary(), info, out, folder.file("fixed.nc"));
  REQUIRE(outcome.problem == "");
  const std::string page = bytes_of(out);

  SECTION("nothing is fetched and nothing is left unfilled") {
    for (const char* mark : {"src=\"", "href=\"http", "@import", "url(http", "fetch(", "XMLHttpRequest"})
      CHECK(page.find(mark) == std::string::npos);
    CHECK(page.find("<title>Dusk &amp; &lt;storm&gt; &#123;&#123;data}}</title>") != std::string::npos);
    CHECK(page.find("Permission is hereby granted") != std::string::npos);  // licence of the plotting library
    CHECK(page.find(folder.path()) == std::string::npos);
    CHECK(page.size() < 3'000'000);
  }
  SECTION("the same inputs give the same bytes") {
    REQUIRE(write_report(folder.file("trace.nc"), synthetic_summary(), info, folder.file("again.html"),
                         folder.file("fixed.nc")));
    CHECK((bytes_of(folder.file("again.html")) == page));
  }
  SECTION("panels hold the trace in the units of people") {
    const json data = data_of(page);
    CHECK(data["title"] == "Dusk & <storm> {{data}}");
    CHECK(data["events"].size() == 6);
    CHECK(data["time"].size() <= 3000);
    REQUIRE(panel_of(data, "Oxygen made") != nullptr);
    const json& oxygen = *panel_of(data, "Oxygen made");
    CHECK(oxygen["unit"] == "g/h");
    REQUIRE(oxygen["lines"].size() == 3);
    CHECK(oxygen["lines"][0]["label"] == "made, regulating law");
    CHECK(oxygen["lines"][1]["role"] == "baseline");
    CHECK(oxygen["lines"][2]["data"][1200] == 10.0);  // 10 g/h, the demand of the synthetic run
    CHECK(panel_of(data, "Coke margin of each cell")->at("lines").size() == 8);
    CHECK(panel_of(data, "Carbon")->at("lines").size() == 1);  // all cells alike
    CHECK(data["ribbons"].size() == 4);
    CHECK(data["ribbons"][0]["words"][3] == "production");
  }
}

TEST_CASE("The tightest cell is shown against its own limit") {
  const Folder folder("report-tight");
  const std::vector<SignalInfo> signals{{"cell_voltage", "V", "", "cell", 3, "", {}, false},
                                        {"coke_onset_voltage", "V", "", "cell", 3, "", {}, false}};
  TraceWriter writer(folder.file("trace.nc"), signals);
  // Margins 0.20, 0.05, 0.15 and then 0.20, 0.15, 0.05: first the second cell is tightest, then the third.
  writer.append(0.0, std::vector<double>{1.0, 1.10, 1.20, 1.20, 1.15, 1.35});
  writer.append(1.0, std::vector<double>{1.0, 1.10, 1.20, 1.20, 1.25, 1.25});
  REQUIRE(writer.close());
  REQUIRE(write_report(folder.file("trace.nc"), "{}", {"t", ""}, folder.file("report.html")));
  const json data = data_of(bytes_of(folder.file("report.html")));
  REQUIRE(data["panels"].size() == 1);  // what the trace lacks is left out
  const json& lines = data["panels"][0]["lines"];
  CHECK(lines[0]["data"] == json({1.15, 1.25}));
  CHECK(lines[1]["data"] == json({1.1, 1.2}));
  CHECK(lines[2]["data"] == json({1.0, 1.0}));
  CHECK(lines[3]["data"] == json({1.2, 1.2}));
  CHECK(data["localTime"].is_null());
}

TEST_CASE("A report that cannot be made says why") {
  const Folder folder("report-bad");
  const std::string trace = folder.file("trace.nc");
  const std::string out = folder.file("report.html");
  CHECK(write_report(trace, "{}", {}, out).problem.find("trace.nc") != std::string::npos);
  SyntheticRun run;
  run.duration = 100.0;
  REQUIRE(write_synthetic_trace(trace, run).empty());
  CHECK(write_report(trace, "{ no json", {}, out).problem == "the summary is not a JSON object");
  CHECK(write_report(trace, "{}", {}, folder.file("no/such/report.html")).problem.find("cannot be written") !=
        std::string::npos);
  CHECK_FALSE(write_report(trace, "{}", {}, out, folder.file("other.nc")));
  CHECK_FALSE(std::ifstream(out).good());
  TraceWriter empty(folder.file("empty.nc"), synthetic_signals());
  REQUIRE(empty.close());
  CHECK(write_report(folder.file("empty.nc"), "{}", {}, out).problem.find("no rows") != std::string::npos);
}
