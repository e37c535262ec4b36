#include "hil-harness/report/timeline.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <map>

#include "hil-harness/loop/alarm_log.hpp"
#include "hil-harness/report/panels.hpp"

namespace duskline::harness {
namespace {

/// Values of a flag signal, one for each row; empty when the trace lacks it or it cannot be read.
/// Of several modules: those of one of them, from 0.
std::vector<double> flag_values(const TraceReader& trace, const SignalInfo* signal, std::size_t module = 0) {
  if (signal == nullptr || signal->flags.empty()) return {};
  std::vector<double> values = trace.column(signal->name);
  if (values.size() != trace.rows() * signal->width) return {};
  std::vector<double> own(trace.rows());
  for (std::size_t row = 0; row < own.size(); ++row)
    own[row] = values[row * signal->width + module * signal->places()];
  return own;
}

std::string of_module(std::size_t module) {
  return ", module " + std::to_string(module + 1);
}

std::string state_word(const SignalInfo& signal, double value) {
  const auto index = static_cast<std::size_t>(value);
  return value >= 0.0 && index < signal.flags.size() ? signal.flags[index] : "unknown";
}

Tone tone_of(const StatusStrip& strip, const std::string& word) {
  if (strip.signal == "mode" || strip.signal == "plant_mode") {
    if (word == "production") return Tone::run;
    if (word == "safe") return Tone::bad;
    if (word == "warm-up" || word == "cool-down") return Tone::change;
  }
  return strip.tone;
}

/// Intervals of one word each.
void add_states(Lane& lane, const StatusStrip& strip, const TraceReader& trace, const SignalInfo& signal,
                const std::vector<double>& values, double end) {
  for (std::size_t row = 0; row < values.size(); ++row) {
    if (row > 0 && values[row] == values[row - 1]) continue;
    const double time = trace.times()[row];
    if (!lane.items.empty()) lane.items.back().to = time;
    const std::string word = state_word(signal, values[row]);
    lane.items.push_back({time, end, word, tone_of(strip, word)});
  }
  std::erase_if(lane.items, [](const LaneItem& item) { return item.text == "none"; });
}

bool has_bit(double value, std::size_t bit) {
  return value >= 0.0 && (static_cast<std::uint64_t>(value) >> bit & 1U) != 0;
}

/// One interval for each stretch in which a bit stands; `whose` follows its word.
void add_masks(Lane& lane, const StatusStrip& strip, const TraceReader& trace, const SignalInfo& signal,
               const std::vector<double>& values, double end, const std::string& whose) {
  for (std::size_t bit = 0; bit < signal.flags.size(); ++bit) {
    bool stands = false;
    for (std::size_t row = 0; row < values.size(); ++row) {
      const bool now = has_bit(values[row], bit);
      if (now && !stands)
        lane.items.push_back({trace.times()[row], end, signal.flags[bit] + whose, strip.tone});
      if (!now && stands) lane.items.back().to = trace.times()[row];
      stands = now;
    }
  }
}

/// One lane; of a state of several modules one for each of them, unless they agree throughout.
std::vector<Lane> status_lanes(const StatusStrip& strip, const TraceReader& trace, double end) {
  const SignalInfo* signal = trace.find(strip.signal);
  std::vector<std::vector<double>> modules;
  if (signal != nullptr)
    for (std::size_t n = 0; n < std::max<std::size_t>(1, signal->modules); ++n)
      modules.push_back(flag_values(trace, signal, n));
  if (modules.empty() || modules[0].empty()) return {};
  const bool alike =
      std::all_of(modules.begin(), modules.end(), [&](const auto& own) { return own == modules[0]; });
  if (alike) modules.resize(1);
  std::vector<Lane> lanes;
  for (std::size_t n = 0; n < modules.size(); ++n) {
    const std::string whose = alike ? "" : of_module(n);
    if (n == 0 || !signal->masks)
      lanes.push_back(
          {std::string(strip.signal), std::string(strip.label) + (signal->masks ? "" : whose), false, {}});
    Lane& lane = lanes.back();
    if (signal->masks)
      add_masks(lane, strip, trace, *signal, modules[n], end, whose);
    else
      add_states(lane, strip, trace, *signal, modules[n], end);
    // a law that never changes stands in the head of the page
    if (!strip.when_constant && lane.items.size() == 1 && lane.items[0].to == end) lane.items.clear();
  }
  return lanes;
}

Lane alarm_lane(const TraceReader& trace, double end) {
  Lane lane{"alarms", "Alarms", false, {}};
  const SignalInfo* signal = trace.find("alarm_state");
  if (signal == nullptr) return lane;
  const auto stands = [](double state) {
    const int now = static_cast<int>(state);
    return now == CTL_ALARM_UNACKNOWLEDGED || now == CTL_ALARM_ACKNOWLEDGED || now == CTL_ALARM_LATCHED ||
           now == CTL_ALARM_LATCHED_ACKNOWLEDGED;
  };
  const std::size_t all = signal->width, alarms = signal->places();  // module by module
  std::vector<std::vector<LaneItem>> items(all);
  std::vector<bool> before(all, false);
  constexpr std::size_t kBlock = 4096;  // rows: all at once would be the largest thing that a report holds
  for (std::size_t first = 0; first < trace.rows(); first += kBlock) {
    const std::vector<double> states =
        trace.column(signal->name, first, std::min(kBlock, trace.rows() - first));
    for (std::size_t i = 0; i + signal->width <= states.size(); i += signal->width)
      for (std::size_t k = 0; k < all; ++k) {
        if (k % alarms >= CTL_ALARMS) continue;  // of a program with more of them
        const bool now = stands(states[i + k]);
        const double time = trace.times()[first + i / signal->width];
        const AlarmInfo& info = alarm_info(k % alarms);
        const std::string_view priority = info.priority;
        const Tone tone = priority == "urgent" || priority == "high" ? Tone::bad : Tone::warn;
        const std::string whose = signal->modules > 1 ? of_module(k / alarms) : "";
        if (now && !before[k])
          items[k].push_back({time, end, std::string(info.word) + ", " + info.priority + whose, tone});
        if (!now && before[k]) items[k].back().to = time;
        before[k] = now;
      }
  }
  for (std::vector<LaneItem>& one : items)
    lane.items.insert(lane.items.end(), std::make_move_iterator(one.begin()),
                      std::make_move_iterator(one.end()));
  return lane;
}

Lane fault_lane(const SummaryView& summary, double end) {
  Lane lane{"faults", "Active faults", false, {}};
  std::map<std::string, std::size_t> open;
  for (const EventEntry& event : summary.events) {
    if (event.kind != "fault" && event.kind != "weather") continue;
    if (!event.begins) {
      const auto at = open.find(subject_of(event));
      if (at == open.end()) continue;
      lane.items[at->second].to = event.time;
      open.erase(at);
    } else {
      open[subject_of(event)] = lane.items.size();
      lane.items.push_back({event.time, end, event.text, Tone::cause});
    }
  }
  return lane;
}

Lane requirement_lane(const SummaryView& summary, double end) {
  Lane lane{"requirements", "Requirements violated", false, {}};
  for (const RequirementEntry& r : summary.requirements)
    if (r.verdict_class == VerdictClass::violated)
      lane.items.push_back(
          {r.violated_from, std::min(std::max(r.violated_to, r.violated_from), end), r.name, Tone::bad});
  return lane;
}

Lane mark_lane(const char* key, const char* label, const SummaryView& summary,
               std::initializer_list<std::string_view> kinds, Tone tone) {
  Lane lane{key, label, true, {}};
  for (const EventEntry& event : summary.events)
    for (const std::string_view kind : kinds)
      if (event.kind == kind) lane.items.push_back({event.time, event.time, event.text, tone});
  return lane;
}

}  // namespace

std::string_view word(Tone tone) {
  static constexpr std::array<std::string_view, 7> words{"rest", "change", "run", "warn",
                                                         "bad",  "cause",  "act"};
  return words[static_cast<std::size_t>(tone)];
}

std::vector<Lane> timeline(const TraceReader& trace, const SummaryView& summary, double end) {
  std::vector<Lane> lanes;
  const auto add = [&](Lane lane) {
    if (!lane.items.empty()) lanes.push_back(std::move(lane));
  };
  add(requirement_lane(summary, end));
  for (const StatusStrip& strip : status_strips())
    if (strip.leads)
      for (Lane& lane : status_lanes(strip, trace, end)) add(std::move(lane));
  add(mark_lane("interlocks", "Interlocks", summary, {"interlock"}, Tone::bad));
  add(fault_lane(summary, end));
  add(mark_lane("power", "Power supply", summary, {"power"}, Tone::cause));
  for (const StatusStrip& strip : status_strips())
    if (!strip.leads)
      for (Lane& lane : status_lanes(strip, trace, end)) add(std::move(lane));
  add(alarm_lane(trace, end));
  add(mark_lane("operator", "Operator", summary, {"command", "operator", "acknowledgement", "refusal"},
                Tone::act));
  return lanes;
}

std::vector<EventEntry> beginnings(const TraceReader& trace, std::string_view name, std::string_view kind) {
  std::vector<EventEntry> events;
  const SignalInfo* signal = trace.find(name);
  const std::vector<double> values = flag_values(trace, signal);
  if (values.empty() || !signal->masks) return events;
  for (std::size_t row = 0; row < values.size(); ++row)
    for (std::size_t bit = 0; bit < signal->flags.size(); ++bit)
      if (has_bit(values[row], bit) && (row == 0 || !has_bit(values[row - 1], bit)))
        events.push_back({trace.times()[row], std::string(kind), signal->flags[bit]});
  return events;
}

}  // namespace duskline::harness
