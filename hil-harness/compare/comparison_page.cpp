#include <algorithm>
#include <cmath>

#include "hil-harness/compare/comparison.hpp"
#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/grid.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/page_assets.hpp"
#include "hil-harness/report/page_data.hpp"
#include "hil-harness/report/panel_data.hpp"
#include "hil-harness/report/report.hpp"

namespace duskline::harness {
namespace {

using json_text::in_quotes;
using json_text::kFigureDigits;
using json_text::kTimeDigits;
using json_text::kValueDigits;
using json_text::List;
using json_text::number;
using json_text::numbers;
using json_text::truth;

constexpr std::size_t kInstants = 800;

std::string facts_text(const ComparedRun& run) {
  const SummaryView& s = run.summary;
  List facts;
  facts.member("name", in_quotes(run.name));
  facts.member("law", in_quotes(s.law));
  facts.member("plant", in_quotes(s.plant));
  facts.member("seed", in_quotes(s.seed));
  facts.member("version", in_quotes(s.version));
  facts.member("ended", in_quotes(s.end));
  facts.member("end", number(s.end_time, kTimeDigits));
  return facts.object();
}

std::string verdicts_text(const Comparison& c) {
  List list;
  for (const VerdictPair& p : c.verdicts) {
    List entry;
    entry.member("name", in_quotes(p.name));
    entry.member("a", in_quotes(p.a));
    entry.member("b", in_quotes(p.b));
    entry.member("marginA", number(p.margin_a, kFigureDigits));
    entry.member("marginB", number(p.margin_b, kFigureDigits));
    entry.member("unit", in_quotes(unit_label(p.unit)));
    entry.member("shown", truth(p.shown));
    list.add(entry.object());
  }
  return list.array();
}

std::string figures_text(const Comparison& c) {
  List list;
  for (const FigurePair& p : c.figures) {
    List entry;
    entry.member("text", in_quotes(p.text));
    entry.member("a", json_text::value(p.a, p.words_a));
    entry.member("b", json_text::value(p.b, p.words_b));
    entry.member("unit", in_quotes(unit_label(p.unit)));
    entry.member("shown", truth(p.shown));
    list.add(entry.object());
  }
  return list.array();
}

std::string events_text(const Comparison& c) {
  List list;
  for (const EventPair& p : c.events) {
    List entry;
    entry.member("kind", in_quotes(p.kind));
    entry.member("text", in_quotes(p.text));
    entry.member("a", number(p.a, kTimeDigits));
    entry.member("b", number(p.b, kTimeDigits));
    list.add(entry.object());
  }
  return list.array();
}

/// Times of both runs, rising, each once.
std::vector<double> all_times(const TraceReader& a, const TraceReader& b) {
  std::vector<double> times;
  std::merge(a.times().begin(), a.times().end(), b.times().begin(), b.times().end(),
             std::back_inserter(times));
  times.erase(std::unique(times.begin(), times.end()), times.end());
  return times;
}

/// Flags hold until the next row: the word of one place that stands at each instant of the page.
std::vector<double> held(const Grid& grid, const std::vector<double>& times,
                         const std::vector<double>& values, std::size_t width, std::size_t place) {
  std::vector<double> shown;
  for (const double time : grid.times()) {
    const auto after = std::upper_bound(times.begin(), times.end(), time);
    if (after == times.begin() || time > times.back()) {
      shown.push_back(std::nan(""));
      continue;
    }
    const std::size_t row = static_cast<std::size_t>(after - times.begin()) - 1;
    shown.push_back(values[row * width + place]);
  }
  return shown;
}

/// The values of one place at the instants of the page: extremes of an interval stay extremes.
std::vector<double> shown_values(const TraceReader& run, const SignalInfo& signal,
                                 const std::vector<double>& values, const Grid& grid, std::size_t place) {
  if (!signal.flags.empty()) return held(grid, run.times(), values, signal.width, place);
  if (signal.cell_method == "minimum") return grid.least(run.times(), values, signal.width, place);
  if (signal.cell_method == "maximum") return grid.greatest(run.times(), values, signal.width, place);
  return grid.show(run.times(), values, signal.width, place);
}

/// One text for each place of a signal: its values, or a single number when they never change.
std::string places_text(const TraceReader& run, const SignalInfo& signal, const Grid& grid) {
  const std::vector<double> values = run.column(signal.name);
  if (values.size() != run.rows() * signal.width) return "[]";
  List places;
  for (std::size_t place = 0; place < signal.width; ++place) {
    const std::vector<double> shown = shown_values(run, signal, values, grid, place);
    const bool constant = std::all_of(shown.begin(), shown.end(), [&](double v) { return v == shown[0]; });
    places.add(constant ? number(shown[0], kValueDigits) : numbers(shown, kValueDigits));
  }
  return places.array();
}

std::string signals_text(const TraceReader& a, const TraceReader& b, const Grid& grid) {
  List list;
  const auto add = [&](const SignalInfo& signal, const SignalInfo* in_a, const SignalInfo* in_b) {
    List entry = signal_entry(signal), words;
    entry.member("extreme", truth(!signal.cell_method.empty()));
    if (!signal.masks)
      for (const std::string& flag : signal.flags) words.add(in_quotes(flag));
    entry.member("words", words.array());
    entry.member("a", in_a != nullptr ? places_text(a, *in_a, grid) : "[]");
    entry.member("b", in_b != nullptr ? places_text(b, *in_b, grid) : "[]");
    list.add(entry.object());
  };
  for (const SignalInfo& signal : a.signals()) {
    const SignalInfo* other = b.find(signal.name);
    add(signal, &signal, other != nullptr && other->unit == signal.unit ? other : nullptr);
  }
  for (const SignalInfo& signal : b.signals())
    if (a.find(signal.name) == nullptr) add(signal, nullptr, &signal);
  return list.array();
}

}  // namespace

Outcome write_comparison(const ComparedRun& a, const ComparedRun& b, const Comparison& c,
                         const std::string& path) {
  List page;
  page.member("title",
              in_quotes(a.summary.title == b.summary.title ? a.summary.title : a.name + " and " + b.name));
  page.member("a", facts_text(a));
  page.member("b", facts_text(b));
  List notes, finding;
  for (const std::string& note : c.notes) notes.add(in_quotes(note));
  finding.member("tone", in_quotes(c.finding.tone));
  finding.member("text", in_quotes(c.finding.text));
  page.member("notes", notes.array());
  page.member("finding", finding.object());
  page.member("requirements", verdicts_text(c));
  page.member("figures", figures_text(c));
  page.member("events", c.events_compared ? events_text(c) : "null");
  page.member("eventsAlike", std::to_string(c.events_alike));
  if (a.trace && b.trace && a.trace->rows() > 0 && b.trace->rows() > 0) {
    const Grid grid(all_times(*a.trace, *b.trace), kInstants);
    const bool longer = a.trace->times().back() >= b.trace->times().back();
    page.add(page_axis(longer ? *a.trace : *b.trace, grid));
    page.member("panels", panels_text({*a.trace, &*b.trace, "A", "B", true}, grid));
    page.member("signals", signals_text(*a.trace, *b.trace, grid));
    // the margin is what most comparisons are about
    const bool margin = std::any_of(c.signals.begin(), c.signals.end(),
                                    [](const SignalPair& p) { return p.name == "coke_margin"; });
    page.member("first", in_quotes(margin ? "coke_margin" : c.signals.empty() ? "" : c.signals.front().name));
  }
  return write_page(
      path, whole_page("Comparison: " + a.name + " and " + b.name, page.object(), assets::compare_js()));
}

}  // namespace duskline::harness
