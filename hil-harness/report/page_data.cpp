#include "hil-harness/report/page_data.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "hil-harness/report/daylight.hpp"
#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/grid.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/panels.hpp"

namespace duskline::harness {
namespace {

using json_text::in_quotes;
using json_text::List;
using json_text::number;
using json_text::numbers;

constexpr int kDigits = 5;
constexpr int kTimeDigits = 9;

/// A signal in the unit of its panel; `unit` is that of the trace when the two do not convert.
struct Column {
  std::vector<double> values;
  std::size_t width = 1;
  std::string unit;
};

Column read_column(const TraceReader& trace, std::string_view name, std::string_view unit) {
  const SignalInfo* signal = trace.find(name);
  if (signal == nullptr) return {};
  Column column{trace.column(name), signal->width, std::string(unit)};
  if (!convert_units(column.values, signal->unit, column.unit)) column.unit = signal->unit;
  return column;
}

struct Look {
  std::string label;
  std::string role;
  std::size_t place = 0;  ///< of a signal with several places, from 1; 0: the signal has one
  std::size_t places = 1;
};

std::string line_text(const Look& look, const std::string& unit, std::span<const double> shown) {
  List line;
  line.member("label", in_quotes(look.label));
  line.member("role", in_quotes(look.role));
  line.member("unit", in_quotes(unit_label(unit)));
  if (look.place > 0) {
    line.member("place", std::to_string(look.place));
    line.member("places", std::to_string(look.places));
  }
  line.member("data", numbers(shown, kDigits));
  return line.object();
}

std::string role_word(Role role) {
  return role == Role::value ? "value" : role == Role::target ? "target" : "limit";
}

/// True when the places of a signal never differ, so that one line says it all.
bool places_agree(const Column& column) {
  for (std::size_t i = 0; i < column.values.size(); ++i)
    if (column.values[i] != column.values[i - i % column.width]) return false;
  return true;
}

/// The lines of one panel entry: one for each place of the signal.
void add_lines(List& lines, const TraceReader& run, const Grid& grid, const Line& line, std::string_view unit,
               const std::string& run_name, bool is_baseline) {
  const Column column = read_column(run, line.signal, unit);
  if (column.values.empty()) return;
  const bool together = column.width > 1 && places_agree(column);
  for (std::size_t place = 0; place < (together ? 1 : column.width); ++place) {
    Look look{std::string(line.label), is_baseline ? "baseline" : role_word(line.role)};
    if (together) {
      look.label = fmt::format("each {}", line.label);
    } else if (column.width > 1) {
      look.label = fmt::format("{} {}", line.label, place + 1);
      look.place = place + 1;
      look.places = column.width;
    }
    if (!run_name.empty()) look.label = fmt::format("{}, {}", look.label, run_name);
    lines.add(line_text(look, column.unit, grid.show(run.times(), column.values, column.width, place)));
  }
}

/// Voltage and limit of the cell with the least margin, row by row, and the band of all voltages.
void add_tightest(List& lines, const TraceReader& trace, const Grid& grid, std::string_view unit) {
  const Column voltage = read_column(trace, "cell_voltage", unit);
  const Column onset = read_column(trace, "coke_onset_voltage", unit);
  if (voltage.values.empty() || onset.values.size() != voltage.values.size()) return;
  const std::size_t rows = trace.rows();
  std::vector<double> low(rows), high(rows), tight(rows), limit(rows), cell(rows);
  for (std::size_t row = 0; row < rows; ++row) {
    const std::size_t begin = row * voltage.width;
    std::size_t least = begin;
    for (std::size_t i = begin; i < begin + voltage.width; ++i)
      if (onset.values[i] - voltage.values[i] < onset.values[least] - voltage.values[least]) least = i;
    const auto first = voltage.values.begin() + static_cast<std::ptrdiff_t>(begin);
    const auto [smallest, largest] =
        std::minmax_element(first, first + static_cast<std::ptrdiff_t>(voltage.width));
    low[row] = *smallest;
    high[row] = *largest;
    tight[row] = voltage.values[least];
    limit[row] = onset.values[least];
    cell[row] = static_cast<double>(least - begin + 1);
  }
  const auto add = [&](const char* label, const char* role, const std::vector<double>& values) {
    lines.add(line_text({label, role}, voltage.unit, grid.show(trace.times(), values)));
  };
  add("coke-onset limit of that cell", "limit", limit);
  add("cell closest to its limit", "value", tight);
  add("lowest cell", "band-low", low);
  add("highest cell", "band-high", high);
}

std::string panel_text(const Panel& panel, const TraceReader& trace, const TraceReader* baseline,
                       const Grid& grid, const ReportInfo& info) {
  List lines;
  const bool compared = baseline != nullptr && panel.with_baseline;
  if (panel.kind == PanelKind::tightest) add_tightest(lines, trace, grid, panel.unit);
  for (const Line& line : panel.lines) {
    const bool both = compared && line.role == Role::value;
    add_lines(lines, trace, grid, line, panel.unit, both ? info.run_name : "", false);
    if (both) add_lines(lines, *baseline, grid, line, panel.unit, info.baseline_name, true);
  }
  if (lines.empty()) return {};
  List text;
  text.member("section", in_quotes(panel.section));
  text.member("title", in_quotes(panel.title));
  text.member("caption", in_quotes(panel.caption));
  text.member("unit", in_quotes(unit_label(std::string(panel.unit))));
  if (panel.floor) {
    text.member("floor", number(*panel.floor, kDigits));
    text.member("belowFloor", in_quotes(panel.below_floor));
  }
  if (panel.view) text.member("view", numbers(std::array{panel.view->low, panel.view->high}, kDigits));
  text.member("lines", lines.array());
  return text.object();
}

/// A signal with flags as the times at which it changes, and the words from then on.
std::string ribbon_text(const StatusStrip& ribbon, const TraceReader& trace) {
  const SignalInfo* signal = trace.find(ribbon.signal);
  if (signal == nullptr || signal->flags.empty()) return {};
  const std::vector<double> values = trace.column(ribbon.signal);
  List words;
  for (const std::string& word : signal->flags) words.add(in_quotes(word));
  std::vector<double> from, value;
  for (std::size_t row = 0; row < trace.rows(); ++row) {
    const double now = values[row * signal->width];
    if (!value.empty() && value.back() == now) continue;
    from.push_back(trace.times()[row]);
    value.push_back(now);
  }
  List text;
  text.member("label", in_quotes(ribbon.label));
  text.member("short", in_quotes(ribbon.short_label));
  text.member("masks", signal->masks ? "true" : "false");
  text.member("words", words.array());
  text.member("from", numbers(from, kTimeDigits));
  text.member("value", numbers(value, 10));
  return text.object();
}

std::string daylight_text(const TraceReader& trace) {
  std::vector<double> elevation = trace.column("solar_elevation");
  if (const SignalInfo* signal = trace.find("solar_elevation")) convert_units(elevation, signal->unit, "rad");
  List text;
  for (const Interval& interval : dark_intervals(trace.times(), elevation)) {
    List entry;
    entry.member("kind", in_quotes(interval.kind));
    entry.member("from", number(interval.from, 7));
    entry.member("to", number(interval.to, 7));
    text.add(entry.object());
  }
  return text.array();
}

std::string local_time_text(const TraceReader& trace, const Grid& grid) {
  const std::vector<double> fraction = trace.column("local_time");
  if (fraction.empty()) return "null";
  // Local time runs almost evenly, so a few instants of it are enough.
  const std::vector<double> hours = grid.show(trace.times(), unwrapped_hours(fraction));
  std::vector<double> times, shown;
  const std::size_t stride = std::max<std::size_t>(grid.times().size() / 200, 1);
  for (std::size_t i = 0; i < hours.size(); i += stride) {
    times.push_back(grid.times()[i]);
    shown.push_back(hours[i]);
  }
  if (times.back() != grid.times().back()) {
    times.push_back(grid.times().back());
    shown.push_back(hours.back());
  }
  return "{\"time\":" + numbers(times, kTimeDigits) + ",\"hours\":" + numbers(shown, 7) + "}";
}

std::string signals_text(const TraceReader& trace) {
  List text;
  for (const SignalInfo& signal : trace.signals()) {
    List entry;
    entry.member("name", in_quotes(signal.name));
    entry.member("unit", in_quotes(signal.unit));
    entry.member("axis", in_quotes(signal.axis));
    entry.member("meaning", in_quotes(signal.meaning));
    text.add(entry.object());
  }
  return text.array();
}

/// The parts of the summary that the page shows; what is absent or no list is an empty list.
void add_summary(List& page, std::string_view summary_json, Outcome& outcome) {
  const nlohmann::json summary = nlohmann::json::parse(summary_json, nullptr, false);
  if (summary.is_discarded() || !summary.is_object()) outcome = {"the summary is not a JSON object"};
  for (const char* part : {"figures", "requirements", "events"}) {
    std::string text = "[]";
    if (summary.is_object() && summary.contains(part) && summary[part].is_array())
      text = summary[part].dump(-1, ' ', true, nlohmann::json::error_handler_t::replace);
    for (std::size_t at = 0; (at = text.find('<', at)) != std::string::npos;) text.replace(at, 1, "\\u003c");
    page.member(part, text);
  }
}

}  // namespace

std::string page_data(const TraceReader& trace, const TraceReader* baseline, std::string_view summary_json,
                      const ReportInfo& info, Outcome& outcome) {
  const Grid grid(trace.times());
  List page;
  page.member("title", in_quotes(info.title));
  page.member("purpose", in_quotes(info.purpose));
  List attributes;
  for (const auto& [name, text] : trace.attributes())
    if (name != "Conventions" && name.front() != '_') attributes.member(name, in_quotes(text));
  page.member("attributes", attributes.object());
  add_summary(page, summary_json, outcome);
  page.member("rows", std::to_string(trace.rows()));
  page.member("time", numbers(grid.times(), kTimeDigits));
  page.member("localTime", local_time_text(trace, grid));
  page.member("daylight", daylight_text(trace));
  List ribbon_list;
  for (const StatusStrip& ribbon : ribbons())
    if (const std::string text = ribbon_text(ribbon, trace); !text.empty()) ribbon_list.add(text);
  page.member("ribbons", ribbon_list.array());
  List panel_list;
  for (const Panel& panel : panels())
    if (const std::string text = panel_text(panel, trace, baseline, grid, info); !text.empty())
      panel_list.add(text);
  page.member("panels", panel_list.array());
  page.member("signals", signals_text(trace));
  return page.object();
}

}  // namespace duskline::harness
