#include "hil-harness/report/panel_data.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/panels.hpp"

namespace duskline::harness {
namespace {

using json_text::in_quotes;
using json_text::kValueDigits;
using json_text::List;
using json_text::number;
using json_text::numbers;

/// A signal in the unit of its panel; `unit` is that of the trace when the two do not convert.
struct Column {
  std::vector<double> values;
  std::size_t width = 1;
  std::string unit;
};

/// A module of the plant, from 0; all of them, one after the other.
constexpr std::size_t kAll = static_cast<std::size_t>(-1);

Column read_column(const TraceReader& trace, std::string_view name, std::string_view unit,
                   std::size_t module = kAll) {
  const SignalInfo* signal = trace.find(name);
  if (signal == nullptr) return {};
  Column column{trace.column(name), signal->width, std::string(unit)};
  if (module != kAll && signal->modules > 0) {
    const std::size_t places = signal->places(), rows = column.values.size() / column.width;
    std::vector<double> own(rows * places);
    for (std::size_t row = 0; row < rows; ++row)
      std::copy_n(column.values.begin() + static_cast<std::ptrdiff_t>(row * column.width + module * places),
                  places, own.begin() + static_cast<std::ptrdiff_t>(row * places));
    column.values = std::move(own);
    column.width = places;
  }
  if (!convert_units(column.values, signal->unit, column.unit)) column.unit = signal->unit;
  return column;
}

struct Look {
  std::string label;
  std::string role;
  std::size_t place = 0;  ///< of a signal with several places, from 1; 0: the signal has one
  std::size_t places = 1;
};

/// Least and greatest value within each interval between rows; empty when the trace does not record them.
struct Extremes {
  std::vector<double> low, high;
};

std::string line_text(const Look& look, const std::string& unit, std::span<const double> shown,
                      const Extremes& extremes = {}) {
  List line;
  line.member("label", in_quotes(look.label));
  line.member("role", in_quotes(look.role));
  line.member("unit", in_quotes(unit_label(unit)));
  if (look.place > 0) {
    line.member("place", std::to_string(look.place));
    line.member("places", std::to_string(look.places));
  }
  line.member("data", numbers(shown, kValueDigits));
  if (!extremes.low.empty()) {
    line.member("low", numbers(extremes.low, kValueDigits));
    line.member("high", numbers(extremes.high, kValueDigits));
  }
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

/// The first line of the panel stands at the value that means "there is none" throughout the run.
bool nothing_to_show(const Panel& panel, const TraceReader& run) {
  if (!panel.nothing_at) return false;
  const Column column = read_column(run, panel.lines.front().signal, panel.unit);
  return std::all_of(column.values.begin(), column.values.end(),
                     [&](double v) { return v == *panel.nothing_at; });
}

/// The lines of one panel entry: one for each place of the signal.
void add_lines(List& lines, const TraceReader& run, const Grid& grid, const Line& line, std::string_view unit,
               const std::string& run_name, bool is_other, std::size_t module) {
  const Column column = read_column(run, line.signal, unit, module);
  if (column.values.empty()) return;
  const Column least = read_column(run, fmt::format("{}_min", line.signal), unit, module);
  const Column greatest = read_column(run, fmt::format("{}_max", line.signal), unit, module);
  const bool with_extremes =
      least.values.size() == column.values.size() && greatest.values.size() == column.values.size();
  const SignalInfo* signal = run.find(line.signal);
  const bool by_module = signal != nullptr && module == kAll && signal->modules > 0;
  const bool together = column.width > 1 && places_agree(column);
  for (std::size_t place = 0; place < (together ? 1 : column.width); ++place) {
    Look look{std::string(line.label), is_other ? "other" : role_word(line.role)};
    if (together) {
      look.label = fmt::format("each {}", line.label);
    } else if (column.width > 1) {
      look.label = fmt::format("{}{} {}", line.label, by_module ? ", module" : "", place + 1);
      look.place = place + 1;
      look.places = column.width;
    }
    if (!run_name.empty()) look.label = fmt::format("{}, {}", look.label, run_name);
    Extremes extremes;
    if (with_extremes) {
      extremes.low = grid.least(run.times(), least.values, column.width, place);
      extremes.high = grid.greatest(run.times(), greatest.values, column.width, place);
    }
    lines.add(
        line_text(look, column.unit, grid.show(run.times(), column.values, column.width, place), extremes));
  }
}

/// Voltage and limit of the cell with the least margin, row by row, and the band of all voltages.
void add_tightest(List& lines, const TraceReader& trace, const Grid& grid, std::string_view unit,
                  std::size_t module) {
  const Column voltage = read_column(trace, "cell_voltage", unit, module);
  const Column onset = read_column(trace, "coke_onset_voltage", unit, module);
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

/// How many small panels a panel becomes: one a module where it shows places of each; 0: it stays one.
std::size_t multiples(const Panel& panel, const TraceReader& run) {
  const auto of = [&](std::string_view name) {
    const SignalInfo* signal = run.find(name);
    return signal != nullptr && signal->places() > 1 ? signal->modules : 0;
  };
  if (panel.kind == PanelKind::tightest) return of("cell_voltage");
  std::size_t found = 0;
  for (const Line& line : panel.lines) found = std::max(found, of(line.signal));
  return found;
}

/// What all modules show, in the unit of the panel: the axis that small panels share.
std::optional<Span> shared_view(const Panel& panel, const TraceReader& run) {
  std::vector<std::string_view> names;
  if (panel.kind == PanelKind::tightest) names = {"cell_voltage", "coke_onset_voltage"};
  for (const Line& line : panel.lines) names.push_back(line.signal);
  Span all{1e300, -1e300};
  for (const std::string_view name : names)
    for (const double x : read_column(run, name, panel.unit).values)
      if (std::isfinite(x)) all = {std::min(all.low, x), std::max(all.high, x)};
  if (all.low > all.high) return panel.view;
  if (panel.view) all = {std::max(all.low, panel.view->low), std::min(all.high, panel.view->high)};
  return all.low < all.high ? std::optional(all) : panel.view;
}

std::string panel_text(const Panel& panel, const PanelRuns& runs, const Grid& grid,
                       std::size_t module = kAll) {
  List lines;
  if (panel.of_headers && runs.run.find("feed_header_pressure") == nullptr) return {};
  if (!runs.all_panels && nothing_to_show(panel, runs.run)) return {};
  const bool compared = runs.other != nullptr && (panel.with_other || runs.all_panels);
  if (panel.kind == PanelKind::tightest && !runs.all_panels)
    add_tightest(lines, runs.run, grid, panel.unit, module);
  for (const Line& line : panel.lines) {
    // places of one signal, twice over, are more than one figure can show; the page offers each of them
    if (const SignalInfo* signal = runs.run.find(line.signal);
        runs.all_panels && (signal == nullptr || signal->width > 1))
      continue;
    const bool both = compared && line.role == Role::value;
    add_lines(lines, runs.run, grid, line, panel.unit, both ? runs.run_name : "", false, module);
    if (both) add_lines(lines, *runs.other, grid, line, panel.unit, runs.other_name, true, module);
  }
  if (lines.empty()) return {};
  List text;
  text.member("section", in_quotes(panel.section));
  text.member("title", in_quotes(panel.title));
  if (module != kAll) text.member("module", std::to_string(module + 1));
  text.member("caption", in_quotes(panel.caption));
  text.member("unit", in_quotes(unit_label(std::string(panel.unit))));
  if (panel.floor) {
    text.member("floor", number(*panel.floor, kValueDigits));
    text.member("belowFloor", in_quotes(panel.below_floor));
  }
  const auto view = module == kAll ? panel.view : shared_view(panel, runs.run);
  if (view) text.member("view", numbers(std::array{view->low, view->high}, kValueDigits));
  text.member("lines", lines.array());
  return text.object();
}

}  // namespace

std::string panels_text(const PanelRuns& runs, const Grid& grid) {
  List list;
  for (const Panel& panel : panels()) {
    const std::size_t modules = runs.all_panels ? 0 : multiples(panel, runs.run);
    if (modules == 0)
      if (const std::string text = panel_text(panel, runs, grid); !text.empty()) list.add(text);
    for (std::size_t n = 0; n < modules; ++n)
      if (const std::string text = panel_text(panel, runs, grid, n); !text.empty()) list.add(text);
  }
  return list.array();
}

}  // namespace duskline::harness
