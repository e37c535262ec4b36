// A change detector, no reference: it says that a run has changed, not that it was right.
//
// Half an hour of the demo plant from hot standby into production, recorded once a minute, is compared with a
// table that somebody looked at and approved. After a change that is meant to move the run, look at the
// report of a run, then approve the new table: tests/golden/approve (it prints what has moved).
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <sstream>

#include "hil-harness/loop/loop.hpp"
#include "hil-harness/loop/signals.hpp"
#include "tests/support/folder.hpp"

using namespace duskline;

namespace {

const std::string kTable = DUSKLINE_SOURCE_DIR "/tests/golden/half-hour.txt";

constexpr std::string_view kScenario = R"(format: duskline-scenario/1
title: Half an hour from hot standby
plant: bench
seed: 20
duration: 31 min
record: 1 min
site: ember-hollow
start: {season: 180 deg, local_time: 8 h}
initial: {state: hot-standby, stack_temperature: 800 degC, cathode_co: 30 %}
commands:
  - {at: 0 s, mode: standby}
  - {at: 2 min, mode: production, demand: 10 g/h}
  - {at: 20 min, mode: production, demand: 7 g/h}
controller: {law: cascade}
)";

/// A column of the table: a signal (and the place along its axis, from 0) and how far it may move unnoticed.
/// The tolerances leave room for another mathematical library: its last digit can move a reading by one step
/// of its resolution, and the loop answers. Estimates from such a step; a change of the model moves far more.
struct Column {
  const char* signal;
  std::size_t place;
  double relative, absolute;
};
constexpr Column kColumns[] = {
    {"mode", 0, 0.0, 0.0},
    {"ambient_pressure", 0, 1e-9, 0.0},
    {"oxygen_rate", 0, 1e-3, 1e-9},           // kg/s
    {"product_purity", 0, 1e-5, 0.0},         //
    {"coke_margin", 0, 0.0, 2e-4},            // V
    {"nickel_ratio", 0, 5e-3, 0.0},           //
    {"utilisation", 0, 2e-3, 1e-4},           //
    {"inlet_co", 0, 2e-3, 1e-5},              //
    {"cathode_pressure", 0, 1e-3, 0.0},       // Pa
    {"anode_pressure", 0, 1e-3, 0.0},         // Pa
    {"zone_temperature", 2, 0.0, 1e-2},       // K
    {"end_temperature", 0, 0.0, 1e-1},        // K
    {"cell_voltage", 5, 0.0, 2e-4},           // V
    {"compressor_speed", 0, 2e-3, 0.1},       // rad/s
    {"stack_current", 0, 1e-3, 1e-4},         // A
    {"bus_power", 0, 5e-3, 0.1},              // W
    {"estimated_coke_margin", 0, 0.0, 5e-4},  // V
};

using Rows = std::vector<std::vector<double>>;  // of each: the time, then the columns

std::string name_of(const Column& column) {
  const auto& table = harness::signal_table();
  const auto at =
      std::find_if(table.begin(), table.end(), [&](const auto& s) { return s.info.name == column.signal; });
  REQUIRE(at != table.end());  // a signal was renamed: name it here as it is now
  REQUIRE(column.place < at->info.width);
  return at->info.width == 1 ? column.signal : fmt::format("{}[{}]", column.signal, column.place);
}

double value_of(const Column& column, const harness::Snapshot& s) {
  for (const auto& signal : harness::signal_table()) {
    if (signal.info.name != column.signal) continue;
    std::vector<double> values(signal.info.width);
    signal.read(s, values.data());
    return values[column.place];
  }
  return NAN;
}

Rows run() {
  const auto read =
      scenarios::parse_case(kScenario, "half-hour", ".", DUSKLINE_SOURCE_DIR "/plant-model/plants");
  INFO(scenarios::to_text(read.problems));
  REQUIRE(read);
  harness::InProcess link(read.value->scenario.controller);
  Rows rows;
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    rows.push_back({s.time});
    for (const Column& column : kColumns) rows.back().push_back(value_of(column, s));
    return true;
  };
  const auto record = harness::run_loop(*read.value, link, options);
  REQUIRE(record.end.reason == plant::RunEnd::reached_end);
  return rows;
}

std::string text_of(const Rows& rows) {
  std::string text =
      "# A change detector: what a run of half an hour gave when it was last approved "
      "(tests/golden/approve).\n"
      "# Written by half_hour_test.cpp; do not edit.\ntime";
  for (const Column& column : kColumns) text += " " + name_of(column);
  text += "\n";
  for (const auto& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i) text += fmt::format("{}{:.10g}", i > 0 ? " " : "", row[i]);
    text += "\n";
  }
  return text;
}

/// The first difference between what is and what was approved; nothing when there is none.
std::optional<std::string> difference(const Rows& rows, const std::string& approved) {
  std::istringstream was{approved}, is{text_of(rows)};
  std::string was_line, is_line;
  for (int i = 0; i < 3; ++i) {
    std::getline(was, was_line);
    std::getline(is, is_line);
    if (was_line != is_line) return "the table has other columns than this test";
  }
  for (const auto& row : rows) {
    if (!std::getline(was, was_line)) return fmt::format("time {} s: the approved table ends before", row[0]);
    std::istringstream cells{was_line};
    std::string cell;
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (!(cells >> cell)) return fmt::format("time {} s: the approved row is cut short", row[0]);
      const double then = std::strtod(cell.c_str(), nullptr), now = row[i];
      if (std::isnan(then) && std::isnan(now)) continue;
      const Column column = i == 0 ? Column{"time", 0, 0.0, 0.0} : kColumns[i - 1];
      // the table has ten digits
      const double allowed = std::max(column.relative, 1e-9) * std::abs(then) + column.absolute;
      if (std::abs(now - then) <= allowed) continue;
      return fmt::format("time {} s: {} is {:.10g}, was {:.10g}: moved by {:.3g}, allowed {:.3g}", row[0],
                         i == 0 ? "time" : name_of(column), now, then, now - then, allowed);
    }
  }
  if (std::getline(was, was_line)) return "the approved table goes on after the end of the run";
  return std::nullopt;
}

}  // namespace

TEST_CASE("Change detector: half an hour from hot standby is as it was when last approved") {
  const Rows rows = run();
  REQUIRE(rows.size() == 31);
  const std::string approved = tests::bytes_of(kTable);
  const auto moved = difference(rows, approved);
  if (const char* approve = std::getenv("DUSKLINE_APPROVE");
      approve != nullptr && std::string{approve} == "yes") {
    std::ofstream{kTable, std::ios::binary} << text_of(rows);
    WARN("approved; first difference from the table before: " << (approved.empty() ? "there was none"
                                                                                   : moved.value_or("none")));
    REQUIRE(tests::bytes_of(kTable) == text_of(rows));
    return;
  }
  INFO("if this is what the change was meant to do: tests/golden/approve");
  REQUIRE_FALSE(approved.empty());  // no table: nobody has approved one
  CHECK(moved.value_or("") == "");
}

TEST_CASE("The change detector sees a change, a missing row and a missing column") {
  const Rows rows = run();
  const std::string same = text_of(rows);
  CHECK_FALSE(difference(rows, same));
  Rows other = rows;
  other[5][3] *= 1.01;  // oxygen_rate, 1 % more
  CHECK(difference(other, same).value_or("").find("time 300 s: oxygen_rate is ") == 0);
  other = rows;
  other[30][1] += 1.0;
  CHECK(difference(other, same).value_or("").find("time 1800 s: mode is ") == 0);
  other = rows;
  other.pop_back();
  CHECK(difference(other, same).value_or("") == "the approved table goes on after the end of the run");
  CHECK(difference(rows, text_of(other)).value_or("") == "time 1800 s: the approved table ends before");
  CHECK(difference(rows, "").value_or("") == "the table has other columns than this test");
}
