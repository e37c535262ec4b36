#include "hil-harness/train/console_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/loop/signals.hpp"
#include "hil-harness/loop/words.hpp"
#include "scenarios/reader/fault_fit.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

struct DisplayRow {
  std::string_view unit, part, shown;  ///< `part`: what the name holds; empty: anything
  int digits;
};
constexpr DisplayRow kDisplay[] = {{"K", "temperature", "degC", 1},
                                   {"K", "", "K", 1},
                                   {"Pa", "ambient_pressure", "Pa", 1},
                                   {"Pa", "differential", "Pa", 1},
                                   {"Pa", "", "kPa", 2},
                                   {"kg/s", "", "g/h", 2},
                                   {"kg s-1", "", "g/h", 2},
                                   {"rad/s", "", "rad/s", 1},
                                   {"rad s-1", "", "rad/s", 1},
                                   {"V", "margin", "mV", 1},
                                   {"V", "sigma", "mV", 1},
                                   {"V", "bus", "V", 2},
                                   {"V", "", "V", 3},
                                   {"A", "", "A", 3},
                                   {"W", "", "W", 1},
                                   {"kg/m3", "", "g/m3", 2},
                                   {"kg m-3", "", "g/m3", 2},
                                   {"ohm m2", "", "ohm cm2", 3},
                                   {"A m-2", "", "A/cm2", 3},
                                   {"1", "fraction", "%", 2},
                                   {"1", "utilisation", "%", 1},
                                   {"1", "opening", "%", 1},
                                   {"1", "purity", "%", 2},
                                   {"1", "ratio", "1", 3},
                                   {"1", "let_co", "%", 2},
                                   {"mol", "", "umol", 2},
                                   {"kg", "", "g", 3},
                                   {"rad", "", "deg", 1},
                                   {"m s-1", "", "m/s", 1},
                                   {"s", "", "s", 0}};

/// Instead of those, for a plant that makes kilograms.
constexpr DisplayRow kLargeDisplay[] = {
    {"kg/s", "", "kg/h", 3}, {"kg s-1", "", "kg/h", 3}, {"W", "", "kW", 2}, {"m/s2", "", "m/s2", 1}};

DisplayRow display(std::string_view unit, std::string_view name, bool large) {
  if (large)
    for (const DisplayRow& row : kLargeDisplay)
      if (row.unit == unit) return row;
  for (const DisplayRow& row : kDisplay)
    if (row.unit == unit && name.find(row.part) != name.npos) return row;
  return {unit, "", unit, 3};
}

/// "zone_temperature_reading" -> "Zone temperature".
std::string title_of(std::string_view name, std::string_view ending) {
  if (!ending.empty() && name.ends_with(ending)) name.remove_suffix(ending.size());
  std::string title;
  for (const char letter : name) title += letter == '_' ? ' ' : letter;
  if (!title.empty() && title[0] >= 'a' && title[0] <= 'z')
    title[0] = static_cast<char>(title[0] - 'a' + 'A');
  return title;
}

/// What operators know beside readings, commands and estimates.
constexpr std::string_view kKnown[] = {"mode",
                                       "requested_mode",
                                       "limiter",
                                       "oxygen_demand",
                                       "power_ceiling",
                                       "temperature_setpoint",
                                       "response",
                                       "alarms_active",
                                       "alarms_unacknowledged",
                                       "plant_mode",
                                       "requested_plant_mode",
                                       "plant_limiter",
                                       "plant_oxygen_demand",
                                       "plant_power_ceiling",
                                       "plant_alarms_active",
                                       "module_service",
                                       "module_producing",
                                       "module_isolated",
                                       "module_released"};
constexpr std::string_view kEstimated[] = {"estimated_surge_margin"};

/// What means nothing while no cell is hot enough for coke.
constexpr std::string_view kOfHotCells[] = {"estimated_coke_margin", "estimated_cell_coke_margin",
                                            "estimated_coke_sigma", "estimated_onset_voltage",
                                            "margin_in_sigmas"};

/// Upper end of the span of an instrument.
double span_of(const scenarios::Case& c, std::string_view instrument) {
  for (const scenarios::InstrumentRow& row : c.plant.instruments)
    if (row.spec.name == instrument) return row.spec.upper;
  return kNone;
}

struct AlarmRow {
  std::string_view word, consequence, cause, response;
  double minutes;
  std::uint32_t priority;
  double limit;
  bool has_limit;
};
#define DUSKLINE_ALARM(identifier, number, word, severity, minutes, priority, latched, on, off, source, \
                       argument, limit, dead_band, suppressed, consequence, cause, action)              \
  {word,                                                                                                \
   consequence,                                                                                         \
   cause,                                                                                               \
   action,                                                                                              \
   static_cast<double>(minutes),                                                                        \
   priority,                                                                                            \
   static_cast<double>(limit),                                                                          \
   (source) == CTL_FROM_ABOVE || (source) == CTL_FROM_BELOW},
constexpr AlarmRow kAlarmRows[] = {CTL_ALARM_LIST(DUSKLINE_ALARM)};
constexpr AlarmRow kPlantAlarmRows[] = {CTL_PLANT_ALARM_LIST(DUSKLINE_ALARM)};
#undef DUSKLINE_ALARM

/// Channel of a reading of the plant controller.
int shared_channel(std::string_view instrument) {
#define DUSKLINE_CHANNEL(name, ...) \
  if (instrument == #name) return CTL_PLANT_INPUT_##name;
  CTL_PLANT_INPUT_LIST(DUSKLINE_CHANNEL)
#undef DUSKLINE_CHANNEL
  return -1;
}

struct Span {
  double lower, upper;
};
constexpr Span kSharedSpans[] = {
#define DUSKLINE_SPAN(name, unit, lower, upper, ...) {lower, upper},
    CTL_PLANT_INPUT_LIST(DUSKLINE_SPAN)
#undef DUSKLINE_SPAN
};

std::string alarm_name(std::string_view word, int module) {
  return module < 0 ? std::string(word) : fmt::format("{} of module {}", word, module + 1);
}

}  // namespace

std::string title_of_word(std::string_view word) {
  std::string title(word);
  for (char& letter : title)
    if (letter == '-') letter = ' ';
  return title_of(title, "");
}

double alarm_limit(std::string_view word, bool of_module) {
  const auto find = [&](std::span<const AlarmRow> rows) {
    for (const AlarmRow& row : rows)
      if (row.word == word && row.has_limit) return row.limit;
    return kNone;
  };
  return of_module ? find(kAlarmRows) : find(kPlantAlarmRows);
}

std::string_view role_word(PersonRole role) {
  constexpr std::string_view kWords[] = {"operator", "instructor", "observer"};
  return kWords[static_cast<std::size_t>(role)];
}

bool read_role(std::string_view word, PersonRole& role) {
  for (const PersonRole one : {PersonRole::operate, PersonRole::instruct, PersonRole::observe})
    if (role_word(one) == word) {
      role = one;
      return true;
    }
  return false;
}

std::string with_number(std::string text, std::size_t number) {
  if (const std::size_t at = text.find('#'); at != text.npos) text.replace(at, 1, std::to_string(number));
  return text;
}

double ConsoleView::shown(const ShownSignal& signal, double value) {
  return scenarios::convert(value, signal.to_shown);
}

ConsoleView::ConsoleView(const scenarios::Case& c, scenarios::ConsoleFile file, std::string name)
    : scenario_(c.scenario),
      faults_(scenarios::faults_of(c.plant.parameters)),
      file_(std::move(file)),
      name_(std::move(name)),
      modules_(plant::has_headers(c.plant.parameters.form) ? c.plant.parameters.form.modules : 0) {
  list_alarms();
  list_signals(c);
  list_commands(c);
}

void ConsoleView::list_alarms() {
  const auto add = [&](std::span<const AlarmRow> rows, int module) {
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const AlarmRow& row = rows[k];
      const std::string title = title_of_word(row.word);
      alarms_.push_back({alarm_name(row.word, module),
                         module < 0 ? title : fmt::format("Module {}: {}", module + 1, title), row.word,
                         row.consequence, row.cause, row.response, row.minutes, row.priority, k, module});
    }
  };
  if (modules_ == 0) return add(kAlarmRows, -1);
  add(kPlantAlarmRows, -1);
  for (std::size_t n = 0; n < modules_; ++n) add(kAlarmRows, static_cast<int>(n));
}

std::uint8_t ConsoleView::alarm_state(const Snapshot& s, const ShownAlarm& alarm) const {
  if (modules_ == 0) return s.control.alarm_state[alarm.number];
  return alarm.module < 0
             ? s.shared->control.alarm_state[alarm.number]
             : s.modules[static_cast<std::size_t>(alarm.module)]->control.alarm_state[alarm.number];
}

void ConsoleView::list_signals(const scenarios::Case& c) {
  std::size_t place = 0;
  const auto& table = signal_table(modules_);
  for (std::size_t row = 0; row < table.size(); ++row)
    for (std::size_t item = 0; item < table[row].info.width; ++item)
      if (const std::size_t here = place++; !table[row].info.masks) add_signal(c, row, item, here);
  if (file_.groups.empty())
    for (const ShownSignal& s : signals_)
      if (std::none_of(file_.groups.begin(), file_.groups.end(),
                       [&](const auto& g) { return g.name == s.group; }))
        file_.groups.push_back({s.group, title_of(s.group, "")});
}

std::string_view ConsoleView::kind_of(const SignalInfo& info) {
  const auto among = [&](std::span<const std::string_view> names) {
    return std::find(names.begin(), names.end(), info.name) != names.end();
  };
  if (info.group == "reading" || info.group == "plant reading") return "reading";
  if (info.group == "command" || info.group == "plant command" || among(kKnown)) return "command";
  return info.group == "estimate" || among(kEstimated) ? "estimate" : "true";
}

void ConsoleView::set_span(const scenarios::Case& c, std::string_view instrument, ShownSignal& s) const {
  for (const scenarios::InstrumentRow& r : c.plant.instruments)
    if (r.spec.name == instrument) {
      s.low = shown(s, r.spec.lower);
      s.high = shown(s, r.spec.upper);
    }
}

void ConsoleView::add_tags(const SignalInfo& info, std::size_t place, ShownSignal& s) const {
  const bool of_module = modules_ == 0 || s.module >= 0;
  for (const scenarios::ConsoleTag& t : file_.tags) {
    if (t.signal != info.name && t.signal != s.name) continue;
    if (!t.tag.empty()) s.tag = with_number(t.tag, place + 1);
    if (!t.tag.empty() && s.module >= 0) s.tag = fmt::format("{}{}", s.module + 1, s.tag);
    if (!t.title.empty()) s.title = with_number(t.title, place + 1);
    if (!t.title.empty() && s.module >= 0) s.title += fmt::format(", module {}", s.module + 1);
    if (!t.group.empty()) s.group = t.group;
    if (!t.set.empty()) s.set = t.set;
    if (!t.alarm_low.empty()) s.alarm_low = shown(s, alarm_limit(t.alarm_low, of_module));
    if (!t.alarm_high.empty()) s.alarm_high = shown(s, alarm_limit(t.alarm_high, of_module));
    for (const std::string& alarm : {t.alarm_low, t.alarm_high})
      if (!alarm.empty()) s.alarms.push_back(alarm_name(alarm, s.module));
  }
}

void ConsoleView::add_signal(const scenarios::Case& c, std::size_t row, std::size_t item, std::size_t place) {
  const SignalInfo& info = signal_table(modules_)[row].info;
  if (info.name == "alarm_state" || info.name == "instrument_correction") return;
  const std::size_t places = info.places(), at = item % places;
  ShownSignal s;
  if (info.modules > 0) s.module = static_cast<int>(item / places);
  s.kind = kind_of(info);
  const bool reading = s.kind == "reading";
  s.name = info.width > 1 ? fmt::format("{}[{}]", info.name, item + 1) : info.name;
  s.title = title_of(info.name, reading ? "_reading" : "");
  if (places > 1) s.title += fmt::format(" {}", at + 1);
  if (s.module >= 0) s.title += fmt::format(", module {}", s.module + 1);
  s.text = info.meaning;
  s.group = info.group;
  s.place = place;
  const DisplayRow as = display(info.unit, info.name, modules_ > 0);
  s.unit = as.shown == "1" ? "" : std::string(as.shown);
  s.digits = info.flags.empty() ? as.digits : 0;
  s.to_shown = scenarios::conversion(info.unit, as.shown == "%" ? "percent" : as.shown);
  s.words = info.flags;
  s.low = s.high = s.alarm_low = s.alarm_high = kNone;
  if (reading) {
    std::string_view name = info.name;
    name.remove_suffix(std::size("_reading") - 1);
    s.shared = info.group == "plant reading";
    if (s.shared) {
      name.remove_prefix(std::size("plant_") - 1);
      s.channel = shared_channel(name);
      const Span& span = kSharedSpans[static_cast<std::size_t>(s.channel)];
      s.low = shown(s, span.lower), s.high = shown(s, span.upper);
    } else {
      s.channel = static_cast<int>(scenarios::reading_channel(name) + at);
      set_span(c, name, s);
    }
  }
  add_tags(info, at, s);
  if (std::find(std::begin(kOfHotCells), std::end(kOfHotCells), info.name) != std::end(kOfHotCells))
    of_hot_cells_.emplace_back(place, item / places);
  near_.push_back(signals_.size());
  if (s.kind != "true") far_.push_back(signals_.size());
  signals_.push_back(std::move(s));
}

void ConsoleView::list_commands(const scenarios::Case& c) {
  const auto modes = modules_ > 0 ? plant_mode_words() : mode_words();
  for (std::uint32_t m = 0; m < modes.size(); ++m) {
    // the plant controller is asked for off, standby or production alone
    const bool asked = modules_ == 0
                           ? m != CTL_SAFE
                           : m == CTL_PLANT_OFF || m == CTL_PLANT_STANDBY || m == CTL_PLANT_PRODUCTION;
    if (asked)
      commands_.push_back({std::string(modes[m].word), title_of_word(modes[m].word),
                           std::string(modes[m].meaning), "", static_cast<int>(m), 0.0, 0.0, 1.0, false});
  }
  // what the largest current makes by Faraday's law: z F = 4 * 96485 C/mol, 31.998 g/mol
  const ctl_params& p = c.scenario.controller;
  const double rate = kGramsPerHour * (modules_ > 0 ? 1e-3 : 1.0), power = modules_ > 0 ? 1e-3 : 1.0;
  const double most = static_cast<double>(p.current_max) * CTL_CELLS * static_cast<double>(p.cells_per_tap) *
                      static_cast<double>(std::max<std::size_t>(1, modules_)) / (4.0 * 96485.332) *
                      31.998e-3 * rate;
  commands_.push_back({"demand", "Oxygen demand", "oxygen asked for", modules_ > 0 ? "kg/h" : "g/h", -1, 0.0,
                       std::floor(most * 10.0) / 10.0, rate, false});
  const double span = modules_ > 0 ? kSharedSpans[CTL_PLANT_INPUT_bus_power].upper : span_of(c, "bus_power");
  commands_.push_back({"power_ceiling", "Power ceiling", "power that may be drawn; empty: no ceiling",
                       modules_ > 0 ? "kW" : "W", -1, 0.0, span * power, power, true});
}

bool ConsoleView::is_suspect(const Snapshot& s, const ShownSignal& signal) {
  if (signal.channel < 0) return false;
  const auto bit = static_cast<std::uint32_t>(signal.channel);
  if (signal.shared) return (s.shared->control.lost >> bit & 1U) != 0;
  const ctl_outputs& out =
      signal.module < 0 ? s.control : s.modules[static_cast<std::size_t>(signal.module)]->control;
  return bit < 64 && (out.suspect[bit / 32] >> (bit % 32) & 1U) != 0;
}

void ConsoleView::leave_out_cold(const Snapshot& s, std::vector<double>& row) const {
  const auto first = static_cast<std::uint32_t>(scenarios::reading_channel("zone_temperature"));
  const auto is_cold = [&](const Snapshot& module) {
    double hottest = kNone;
    for (std::uint32_t k = 0; k < CTL_ZONES; ++k) {
      const std::uint32_t bit = first + k;
      if ((module.control.suspect[bit / 32] >> (bit % 32) & 1U) == 0)
        hottest = std::fmax(hottest, static_cast<double>(module.measured.zone_temperature[k]));
    }
    return hottest < kWatchedTemperature;
  };
  std::vector<bool> cold;
  for (std::size_t n = 0; n < std::max<std::size_t>(1, modules_); ++n)
    cold.push_back(is_cold(modules_ > 0 ? *s.modules[n] : s));
  for (const auto& [place, module] : of_hot_cells_)
    if (cold[module]) row[place] = kNone;
}

const std::vector<std::size_t>& ConsoleView::shown_to(PersonRole role) const {
  return role == PersonRole::instruct ? near_ : far_;
}

}  // namespace duskline::harness
