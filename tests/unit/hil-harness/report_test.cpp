// Reports: reduction of a run to a page, daylight, units, and the page as one self-contained text.
// Expected values follow from the definitions stated at each check.
#include "hil-harness/report/report.hpp"

#include <netcdf.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>
#include <numbers>

#include "hil-harness/loop/alarm_log.hpp"
#include "hil-harness/loop/signals.hpp"
#include "hil-harness/report/daylight.hpp"
#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/grid.hpp"
#include "hil-harness/report/incidents.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/panels.hpp"
#include "hil-harness/report/timeline.hpp"
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

ReportInfo info_of(const std::string& title) {
  ReportInfo info;
  info.title = title;
  return info;
}

const json* lane_of(const json& data, const std::string& key) {
  for (const json& lane : data["lanes"])
    if (lane["key"] == key) return &lane;
  return nullptr;
}

RequirementEntry violated(const std::string& name, const std::string& must, double from, double to,
                          double time) {
  RequirementEntry r;
  r.name = name;
  r.must = must;
  r.verdict = "violated";
  r.verdict_class = VerdictClass::violated;
  r.time = time;
  r.violated_from = from;
  r.violated_to = to;
  return r;
}

std::string words_of(const Incident& incident) {
  std::string text;
  for (const ChainStep& step : incident.chain)
    text +=
        (text.empty() ? "" : ", ") + step.text + (step.count > 1 ? " x" + std::to_string(step.count) : "");
  return text;
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

TEST_CASE("Every panel and every lane names signals of the dictionary, in units that they convert into") {
  const auto find = [](std::string_view name) -> const SignalInfo* {
    for (const Signal& signal : signal_table(6))  // those of the bench, and of headers
      if (signal.info.name == name) return &signal.info;
    return nullptr;
  };
  for (const Panel& panel : panels())
    for (const Line& line : panel.lines) {
      INFO(panel.title << ": " << line.signal);
      const SignalInfo* signal = find(line.signal);
      REQUIRE(signal != nullptr);
      std::vector<double> value{1.0};
      CHECK(convert_units(value, signal->unit, std::string(panel.unit)));
    }
  for (const StatusStrip& strip : status_strips()) {
    INFO(strip.signal);
    const SignalInfo* signal = find(strip.signal);
    REQUIRE(signal != nullptr);
    CHECK_FALSE(signal->flags.empty());
  }
  CHECK(find("alarm_state") != nullptr);
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
  const ReportInfo info{"Dusk & <storm> {{data}}", "A purpose.", "regulating law", "fixed law", "", "", ""};
  const std::string out = folder.file("report.html");
  const Outcome outcome =
      write_report(folder.file("trace.nc"), synthetic_summary(), info, out, folder.file("fixed.nc"));
  REQUIRE(outcome.problem == "");
  const std::string page = bytes_of(out);

  SECTION("nothing is fetched and nothing is left unfilled") {
    for (const char* mark : {"src=\"", "href=\"http", "@import", "url(http", "fetch(", "XMLHttpRequest"})
      CHECK(page.find(mark) == std::string::npos);
    CHECK(page.find("<title>Dusk &amp; &lt;storm&gt; {{data}}</title>") != std::string::npos);
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
    CHECK(oxygen["lines"][1]["role"] == "other");
    CHECK(oxygen["lines"][2]["data"][1200] == 10.0);  // 10 g/h, the demand of the synthetic run
    CHECK(panel_of(data, "Coke margin of each cell")->at("lines").size() == 8);
    CHECK(panel_of(data, "Carbon")->at("lines").size() == 1);  // all cells alike
    // off until 60 s, then warm-up: the synthetic run
    const json& mode = *lane_of(data, "mode");
    CHECK(mode["items"][1]["from"] == 60.0);
    CHECK(mode["items"][1]["text"] == "warm-up");
    CHECK(mode["items"][1]["tone"] == "change");
    CHECK(data["end"] == 88770.0);  // the summary does not say, so the last row does
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
  REQUIRE(write_report(folder.file("trace.nc"), "{}", info_of("t"), folder.file("report.html")));
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

TEST_CASE("A violated requirement is reported with the fault that acted and what was logged since") {
  const std::vector<EventEntry> events{{0.0, "command", "asked for production"},
                                       {100.0, "fault", "early"},
                                       {200.0, "fault", "early, is over", "early", 1, false},
                                       {9000.0, "fault", "feed blocked"},
                                       {9002.0, "diagnosis", "feed line blocked"},
                                       {9003.0, "calibration", "gain of an analyser"},
                                       {9004.0, "alarm", "feed-flow-low"},
                                       {9005.0, "limit", "above the limit"},
                                       {9006.0, "limit", "below the limit again"},
                                       {9007.0, "limit", "above the limit"},
                                       {9010.0, "interlock", "safe: feed lost"},
                                       {9020.0, "alarm", "later"}};
  const auto all =
      incidents({violated("no coke", "always (coke_margin > 10 mV)", 9008.0, 9010.0, 9009.0)}, events);
  REQUIRE(all.size() == 2);  // the interlock came after the violation, so it is reported by itself
  CHECK(all[0].cause_logged);
  CHECK(words_of(all[0]) ==
        "feed blocked, feed line blocked, feed-flow-low, above the limit x2, below the limit again");
  CHECK(all[1].title == "safe: feed lost");
  CHECK(all[1].verdict.empty());
  CHECK(words_of(all[1]) == words_of(all[0]));
}

TEST_CASE("Without a logged cause a violation says so, and shows what came in the two hours before") {
  const std::vector<EventEntry> events{{0.0, "command", "asked for production"},
                                       {50.0, "fault", "over"},
                                       {60.0, "fault", "no more", "over", 1, false},
                                       {8000.0, "alarm", "coke-margin-low"}};
  const auto all = incidents({violated("b", "after 1 h: within 5 min (mode is safe)", 0.0, 1.0, 9000.0),
                              violated("a", "never (mode is safe)", 8500.0, 9500.0, 8700.0)},
                             events);
  REQUIRE(all.size() == 2);
  CHECK(all[0].title == "a");  // in the order of time: broken from 8500 s; the other is about 9000 s
  CHECK(all[0].from == 8500.0);
  CHECK(all[1].from == 9000.0);
  CHECK_FALSE(all[0].cause_logged);  // the fault was over more than half an hour before
  CHECK(words_of(all[0]) == "coke-margin-low");
}

TEST_CASE("A long chain keeps its first two and last four steps and says how many are missing") {
  std::vector<EventEntry> events{{0.0, "fault", "f"}};
  for (int i = 1; i < 12; ++i) events.push_back({static_cast<double>(i), "alarm", "a" + std::to_string(i)});
  const auto all = incidents({violated("r", "always (x > 0)", 20.0, 20.0, 20.0)}, events);
  REQUIRE(all.size() == 1);
  CHECK(words_of(all[0]) == "f, a1, a8, a9, a10, a11");
  CHECK(all[0].left_out == 6);
}

TEST_CASE(
    "Lanes hold faults from their begin to their end, alarms while they stand, and no character variable") {
  const Folder folder("report-lanes");
  const std::vector<SignalInfo> signals{{"mode", "1", "", "", 1, "", {"off", "production"}, false},
                                        {"diagnosed", "1", "", "", 1, "", {"weak", "blocked"}, true},
                                        {"alarm_state", "1", "", "alarm", 2, "", {}, false}};
  TraceWriter writer(folder.file("trace.nc"), signals);
  // alarm 1: unacknowledged, acknowledged, normal; alarm 2: returned unacknowledged, which does not stand
  writer.append(0.0, std::vector<double>{0, 0, 0, 0});
  writer.append(10.0, std::vector<double>{1, 2, 1, 0});
  writer.append(20.0, std::vector<double>{1, 3, 2, 3});
  writer.append(30.0, std::vector<double>{1, 1, 0, 3});
  REQUIRE(writer.close());
  const std::string summary =
      R"({"end": {"reason": "reached end", "time": {"value": 40, "unit": "s"}}, "events": [
    {"time": 5, "kind": "fault", "text": "leak"}, {"time": 25, "kind": "fault", "text": "leak, is over"},
    {"time": 28, "kind": "fault", "text": "leak"}, {"time": 3, "kind": "operator", "text": "acknowledges all"}]})";
  REQUIRE(write_report(folder.file("trace.nc"), summary, info_of("t"), folder.file("report.html")));
  const json data = data_of(bytes_of(folder.file("report.html")));
  CHECK(data["end"] == 40.0);
  const auto spans = [&](const char* key) {
    std::string text;
    const json* lane = lane_of(data, key);
    if (lane == nullptr) return text;
    for (const json& item : lane->at("items"))
      text += item["text"].get<std::string>() + " " + item["from"].dump() + "-" + item["to"].dump() + "; ";
    return text;
  };
  CHECK(spans("mode") == "off 0-10; production 10-40; ");
  CHECK(spans("diagnosed") == "weak 20-40; blocked 10-30; ");
  CHECK(spans("faults") == "leak 5-25; leak 28-40; ");
  CHECK(lane_of(data, "alarms")->at("items").size() == 1);
  CHECK(lane_of(data, "alarms")->at("items")[0]["from"] == 10);
  CHECK(lane_of(data, "alarms")->at("items")[0]["to"] == 30);
  CHECK(spans("operator") == "acknowledges all 3-3; ");
  // what the controller found is in the list of events even though no summary logs it
  CHECK(data["events"][2]["kind"] == "diagnosis");
  CHECK(data["events"][2]["text"] == "blocked");
}

TEST_CASE("Lanes of several modules name the module, and where all agree there is one lane") {
  const Folder folder("report-lanes-of-modules");
  SignalInfo mode{"mode", "1", "", "", 2, "", {"off", "production"}, false};
  SignalInfo law{"limiter", "1", "", "", 2, "", {"none", "margin"}, false};
  SignalInfo diagnosed{"diagnosed", "1", "", "", 2, "", {"weak", "blocked"}, true};
  SignalInfo alarms{"alarm_state", "1", "", "alarm", 4, "", {}, false};
  mode.modules = law.modules = diagnosed.modules = alarms.modules = 2;
  TraceWriter writer(folder.file("trace.nc"), {mode, law, diagnosed, alarms});
  writer.append(0.0, std::vector<double>{1, 1, 1, 1, 0, 0, 0, 0, 0, 0});
  writer.append(10.0, std::vector<double>{1, 0, 1, 1, 0, 2, 0, 0, 0, 1});
  writer.append(20.0, std::vector<double>{1, 0, 1, 1, 0, 0, 0, 0, 0, 0});
  REQUIRE(writer.close());
  REQUIRE(write_report(folder.file("trace.nc"), "{}", info_of("t"), folder.file("report.html")));
  std::string lanes;
  const json data = data_of(bytes_of(folder.file("report.html")));
  for (const json& lane : data["lanes"]) {
    lanes += lane["label"].get<std::string>() + ": ";
    for (const json& item : lane["items"])
      lanes += item["text"].get<std::string>() + " " + item["from"].dump() + "-" + item["to"].dump() + "\n";
  }
  const std::string alarm = std::string(alarm_info(1).word) + ", " + alarm_info(1).priority;
  CHECK(lanes ==
        "Mode, module 1: production 0-20\n"
        "Mode, module 2: production 0-10\noff 10-20\n"
        "Active current limit: margin 0-20\n"
        "Diagnosed: blocked, module 2 10-20\n"
        "Alarms: " +
            alarm + ", module 2 10-20\n");
}

TEST_CASE("A flag signal whose variable holds characters is left out") {
  const Folder folder("report-characters");
  int file = -1, time = -1, mode = -1, dimension = -1;
  REQUIRE(nc_create(folder.file("trace.nc").c_str(), NC_NETCDF4, &file) == NC_NOERR);
  nc_def_dim(file, "time", NC_UNLIMITED, &dimension);
  nc_def_var(file, "time", NC_DOUBLE, 1, &dimension, &time);
  nc_put_att_text(file, time, "units", 1, "s");
  nc_def_var(file, "mode", NC_CHAR, 1, &dimension, &mode);
  const int values[] = {0, 1};
  nc_put_att_int(file, mode, "flag_values", NC_INT, 2, values);
  nc_put_att_text(file, mode, "flag_meanings", 6, "off on");
  const std::size_t start = 0, count = 2;
  const double times[] = {0.0, 1.0};
  REQUIRE(nc_put_vara_double(file, time, &start, &count, times) == NC_NOERR);
  REQUIRE(nc_put_vara_text(file, mode, &start, &count, "ab") == NC_NOERR);
  REQUIRE(nc_close(file) == NC_NOERR);
  REQUIRE(write_report(folder.file("trace.nc"), "{}", info_of("t"), folder.file("report.html")).problem ==
          "");
  CHECK(data_of(bytes_of(folder.file("report.html")))["lanes"].empty());
}

TEST_CASE(
    "Least and greatest within an interval are drawn as a band, and survive the reduction of a long run") {
  const Folder folder("report-extremes");
  const std::vector<SignalInfo> signals{{"coke_margin", "V", "", "", 1, "", {}, false},
                                        {"coke_margin_min", "V", "", "", 1, "", {}, false},
                                        {"coke_margin_max", "V", "", "", 1, "", {}, false}};
  TraceWriter writer(folder.file("trace.nc"), signals);
  for (int i = 0; i < 10000; ++i)
    writer.append(i, std::vector<double>{0.05, i == 5000 ? -0.6 : 0.05, 0.0625});
  REQUIRE(writer.close());
  REQUIRE(write_report(folder.file("trace.nc"), "{}", info_of("t"), folder.file("report.html")));
  const json data = data_of(bytes_of(folder.file("report.html")));
  const json& line = panel_of(data, "Least coke margin")->at("lines")[0];
  const auto low = line["low"].get<std::vector<double>>();
  CHECK(*std::min_element(low.begin(), low.end()) == -600.0);  // mV
  CHECK(line["high"][0] == 62.5);
  const auto shown = line["data"].get<std::vector<double>>();
  CHECK(*std::min_element(shown.begin(), shown.end()) == 50.0);
}
