#include "hil-harness/report/page_data.hpp"

#include <algorithm>
#include <array>

#include "hil-harness/report/compressor_map.hpp"
#include "hil-harness/report/daylight.hpp"
#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/event_kinds.hpp"
#include "hil-harness/report/grid.hpp"
#include "hil-harness/report/incidents.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/panel_data.hpp"
#include "hil-harness/report/timeline.hpp"

namespace duskline::harness {
namespace {

using json_text::in_quotes;
using json_text::kFigureDigits;
using json_text::kTimeDigits;
using json_text::List;
using json_text::number;
using json_text::numbers;
using json_text::truth;

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
  for (const SignalInfo& signal : trace.signals()) text.add(signal_entry(signal).object());
  return text.array();
}

std::string figures_text(const SummaryView& summary) {
  List list;
  for (const FigureEntry& figure : summary.figures) {
    List entry;
    entry.member("text", in_quotes(figure.text));
    entry.member("value", json_text::value(figure.value, figure.words));
    entry.member("unit", in_quotes(unit_label(figure.unit)));
    entry.member("note", in_quotes(figure.note));
    entry.member("verdict", in_quotes(figure.verdict));
    list.add(entry.object());
  }
  return list.array();
}

std::string requirements_text(const SummaryView& summary) {
  List list;
  for (const RequirementEntry& r : summary.requirements) {
    List entry;
    entry.member("name", in_quotes(r.name));
    entry.member("must", in_quotes(r.must));
    entry.member("verdict", in_quotes(word(r.verdict_class)));
    entry.member("margin", number(r.margin, kFigureDigits));
    entry.member("unit", in_quotes(unit_label(r.unit)));
    entry.member("time", number(r.time, kFigureDigits));
    list.add(entry.object());
  }
  return list.array();
}

std::string events_text(const std::vector<EventEntry>& events) {
  List list;
  for (const EventEntry& event : events) {
    List entry;
    entry.member("time", number(event.time, kTimeDigits));
    entry.member("kind", in_quotes(event.kind));
    entry.member("text", in_quotes(event.text));
    if (event.count > 1) entry.member("count", std::to_string(event.count));
    list.add(entry.object());
  }
  return list.array();
}

/// Kinds that occur, in the order of their table; a kind without a row comes last, under its own word.
std::string kinds_text(const std::vector<EventEntry>& events) {
  List list;
  std::vector<std::string> unknown;
  for (const EventEntry& event : events)
    if (find_event_kind(event.kind) == nullptr &&
        std::find(unknown.begin(), unknown.end(), event.kind) == unknown.end())
      unknown.push_back(event.kind);
  const auto add = [&](std::string_view word, std::string_view label, bool shown, bool lined) {
    List entry;
    entry.member("word", in_quotes(word));
    entry.member("label", in_quotes(label));
    entry.member("shown", truth(shown));
    entry.member("lined", truth(lined));
    list.add(entry.object());
  };
  for (const EventKind& kind : kEventKinds)
    if (std::any_of(events.begin(), events.end(), [&](const EventEntry& e) { return e.kind == kind.word; }))
      add(kind.word, kind.label, kind.shown, kind.lined);
  for (const std::string& word : unknown) add(word, word, true, false);
  return list.array();
}

std::string incidents_text(const std::vector<Incident>& all) {
  List list;
  for (const Incident& incident : all) {
    List entry, chain;
    for (const ChainStep& step : incident.chain) {
      List one;
      one.member("time", number(step.time, kTimeDigits));
      one.member("kind", in_quotes(step.kind));
      one.member("text", in_quotes(step.text));
      one.member("count", std::to_string(step.count));
      chain.add(one.object());
    }
    entry.member("title", in_quotes(incident.title));
    entry.member("must", in_quotes(incident.must));
    entry.member("verdict", in_quotes(incident.verdict));
    entry.member("margin", number(incident.margin, kFigureDigits));
    entry.member("unit", in_quotes(unit_label(incident.unit)));
    entry.member("from", number(incident.from, kTimeDigits));
    entry.member("to", number(incident.to, kTimeDigits));
    entry.member("causeLogged", truth(incident.cause_logged));
    entry.member("leftOut", std::to_string(incident.left_out));
    entry.member("chain", chain.array());
    list.add(entry.object());
  }
  return list.array();
}

std::string lanes_text(const std::vector<Lane>& lanes) {
  List list;
  for (const Lane& lane : lanes) {
    List entry, items;
    for (const LaneItem& item : lane.items) {
      List one;
      one.member("from", number(item.from, kTimeDigits));
      one.member("to", number(item.to, kTimeDigits));
      one.member("text", in_quotes(item.text));
      one.member("tone", in_quotes(word(item.tone)));
      items.add(one.object());
    }
    entry.member("key", in_quotes(lane.key));
    entry.member("label", in_quotes(lane.label));
    entry.member("marks", truth(lane.marks));
    entry.member("items", items.array());
    list.add(entry.object());
  }
  return list.array();
}

/// The events of the summary and those that only the trace holds.
std::vector<EventEntry> all_events(const TraceReader& trace, const SummaryView& summary) {
  std::vector<EventEntry> events = summary.events;
  const auto has = [&](std::string_view kind) {
    return std::any_of(events.begin(), events.end(), [&](const EventEntry& e) { return e.kind == kind; });
  };
  if (!has("diagnosis"))
    for (EventEntry& event : beginnings(trace, "diagnosed", "diagnosis")) events.push_back(std::move(event));
  std::stable_sort(events.begin(), events.end(),
                   [](const EventEntry& a, const EventEntry& b) { return a.time < b.time; });
  return events;
}

void add_head(List& page, const TraceReader& trace, const SummaryView& summary, const ReportInfo& info,
              double end) {
  page.member("title", in_quotes(info.title));
  page.member("purpose", in_quotes(info.purpose));
  page.member("law", in_quotes(summary.law));
  page.member("version", in_quotes(summary.version));
  page.member("plant", in_quotes(summary.plant));
  page.member("seed", in_quotes(summary.seed));
  page.member("ended", in_quotes(summary.end));
  page.member("who", in_quotes(summary.who));
  page.member("end", number(end, kTimeDigits));
  page.member("rows", std::to_string(trace.rows()));
}

}  // namespace

List signal_entry(const SignalInfo& signal) {
  List entry;
  entry.member("name", in_quotes(signal.name));
  entry.member("unit", in_quotes(unit_label(signal.unit)));
  entry.member("axis", in_quotes(signal.axis));
  entry.member("group", in_quotes(signal.group));
  entry.member("meaning", in_quotes(signal.meaning));
  return entry;
}

std::string page_axis(const TraceReader& trace, const Grid& grid) {
  List page;
  page.member("time", numbers(grid.times(), kTimeDigits));
  page.member("localTime", local_time_text(trace, grid));
  page.member("daylight", daylight_text(trace));
  return page.members();
}

std::string page_data(const TraceReader& trace, const TraceReader* other, const SummaryView& summary,
                      const ReportInfo& info) {
  const Grid grid(trace.times());
  const double end = std::max(trace.times().back(), summary.end_time.value_or(0.0));
  const std::vector<EventEntry> events = all_events(trace, summary);
  List page;
  add_head(page, trace, summary, info, end);
  page.member("figures", figures_text(summary));
  page.member("requirements", requirements_text(summary));
  page.member("incidents", incidents_text(incidents(summary.requirements, events)));
  page.member("events", events_text(events));
  page.member("eventsLeftOut", std::to_string(summary.events_left_out));
  page.member("kinds", kinds_text(events));
  page.add(page_axis(trace, grid));
  page.member("lanes", lanes_text(timeline(trace, summary, end)));
  if (!info.timing.empty()) page.member("timing", info.timing);
  if (const std::string path = machine_path_text(trace, grid); !info.machine.empty() && !path.empty()) {
    page.member("machine", info.machine);
    page.member("machinePath", path);
  }
  page.member("panels", panels_text({trace, other, info.run_name, info.other_name}, grid));
  page.member("signals", signals_text(trace));
  page.member("comparison", in_quotes(info.comparison_page));
  return page.object();
}

}  // namespace duskline::harness
