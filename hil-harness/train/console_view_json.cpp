// What a console shows of a plant, as JSON: the answer to /api/plant.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "hil-harness/loop/words.hpp"
#include "hil-harness/train/console_view.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "scenarios/reader/fault_fit.hpp"

namespace duskline::harness {
namespace {

using nlohmann::ordered_json;
constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

ordered_json or_null(double value) {
  return std::isfinite(value) ? ordered_json(value) : ordered_json(nullptr);
}

double controller_parameter(const ctl_params& params, std::string_view name) {
#define DUSKLINE_PARAMETER(field, value, unit, lower, upper, meaning, source) \
  if (name == #field) return static_cast<double>(params.field);
  CTL_PARAMETER_LIST(DUSKLINE_PARAMETER)
#undef DUSKLINE_PARAMETER
  return kNone;
}

ordered_json disturbance(const plant::FaultRow& row, std::size_t modules) {
  const std::size_t items = scenarios::fault_items(row);
  ordered_json f{
      {"name", row.name},
      {"title", title_of_word(row.name)},
      {"text", fmt::format("{}: {}", row.component, row.mode)},
      {"group", row.component},
      {"ramp", row.course == plant::FaultCourse::shaped || row.course == plant::FaultCourse::growing},
      {"items", items},
      {"item_word", items == CTL_CELLS   ? "cell"
                    : items == CTL_ZONES ? "zone"
                                         : "item"}};
  if (modules > 0 && row.scope == plant::FaultScope::module) f["modules"] = modules;
  if (row.has_size()) {
    f["unit"] = row.unit == "1" ? "" : std::string(row.unit);
    f["low"] = row.lower;
    f["high"] = row.upper;
    f["value"] = row.size;
  }
  return f;
}

bool is_weather_row(const plant::FaultRow& row) {
  using plant::FaultEffect;
  return row.effect == FaultEffect::storm || row.effect == FaultEffect::gust ||
         row.effect == FaultEffect::vortex || row.effect == FaultEffect::cold;
}

}  // namespace

ordered_json ConsoleView::signals_json(PersonRole role) const {
  ordered_json list = ordered_json::array();
  for (const std::size_t i : shown_to(role)) {
    const ShownSignal& s = signals_[i];
    ordered_json one{{"name", s.name},        {"title", s.title},        {"text", s.text},
                     {"kind", s.kind},        {"unit", s.unit},          {"group", s.group},
                     {"low", or_null(s.low)}, {"high", or_null(s.high)}, {"digits", s.digits}};
    if (!s.tag.empty()) one["tag"] = s.tag;
    if (!s.set.empty()) one["set"] = s.set;
    if (std::isfinite(s.alarm_low)) one["alarm_low"] = s.alarm_low;
    if (std::isfinite(s.alarm_high)) one["alarm_high"] = s.alarm_high;
    if (!s.alarms.empty()) one["alarms"] = s.alarms;
    for (std::size_t w = 0; w < s.words.size(); ++w) one["words"][std::to_string(w)] = s.words[w];
    list.push_back(std::move(one));
  }
  return list;
}

ordered_json ConsoleView::commands_json() const {
  ordered_json list = ordered_json::array();
  for (const ShownCommand& c : commands_) {
    ordered_json one{
        {"name", c.name}, {"title", c.title}, {"text", c.text}, {"act", c.mode >= 0 ? "button" : "number"}};
    if (c.mode >= 0) {
      one["mode"] = c.name;
      one["confirm"] = true;
    } else {
      one["unit"] = c.unit;
      one["low"] = c.low;
      one["high"] = c.high;
      one["digits"] = 2;
      one["confirm"] = true;
      one["optional"] = c.none;
      one["signal"] = (modules_ > 0 ? "plant_" : "") + (c.name == "demand" ? "oxygen_demand" : c.name);
    }
    list.push_back(std::move(one));
  }
  return list;
}

ordered_json ConsoleView::picture_json() const {
  if (file_.parts.empty()) return nullptr;
  ordered_json parts = ordered_json::array(), pipes = ordered_json::array(), readings = ordered_json::array();
  for (const auto& p : file_.parts) {
    ordered_json one{{"name", p.name}, {"title", p.title}, {"symbol", p.symbol}, {"x", p.x}, {"y", p.y},
                     {"w", p.w},       {"h", p.h}};
    if (!p.state.empty()) one["state"] = p.state;
    if (p.flip) one["flip"] = true;
    parts.push_back(std::move(one));
  }
  for (const auto& p : file_.pipes) {
    ordered_json points = ordered_json::array();
    for (const auto& [x, y] : scenarios::picture_points(p.points)) points.push_back({x, y});
    ordered_json one{{"kind", p.kind}, {"points", std::move(points)}, {"arrow", p.arrow}};
    if (!p.title.empty()) one["title"] = p.title;
    if (!p.flow.empty()) one["flow"] = p.flow;
    pipes.push_back(std::move(one));
  }
  for (const auto& r : file_.readings) readings.push_back({{"signal", r.signal}, {"x", r.x}, {"y", r.y}});
  return {{"width", file_.width},
          {"height", file_.height},
          {"parts", std::move(parts)},
          {"pipes", std::move(pipes)},
          {"readings", std::move(readings)}};
}

ordered_json ConsoleView::margins_json() const {
  const scenarios::MarginRows& m = file_.margins;
  if (m.voltage.empty()) return nullptr;
  ordered_json cells = ordered_json::array();
  for (std::size_t item = 1; item <= signals_.size(); ++item) {
    const std::string voltage = fmt::format("{}[{}]", m.voltage, item);
    if (std::none_of(signals_.begin(), signals_.end(), [&](const auto& s) { return s.name == voltage; }))
      break;
    ordered_json one{{"name", with_number(m.row, item)},
                     {"title", with_number(m.row, item)},
                     {"voltage", voltage},
                     {"margin", fmt::format("{}[{}]", m.margin, item)}};
    if (!m.sigma.empty()) one["sigma"] = m.sigma;
    cells.push_back(std::move(one));
  }
  return {{"title", m.title},
          {"text", m.text},
          {"unit", "mV"},
          {"alarm", or_null(alarm_limit(m.alarm, true) * 1e3)},
          {"trip", or_null(controller_parameter(scenario_.controller, m.trip) * 1e3)},
          {"cells", std::move(cells)}};
}

ordered_json ConsoleView::modules_json() const {
  const scenarios::ModuleCards& m = file_.modules;
  if (modules_ == 0 || m.mode.empty()) return nullptr;
  ordered_json cards = ordered_json::array();
  for (std::size_t n = 1; n <= modules_; ++n) {
    const auto of_module = [&](const std::string& signal) { return fmt::format("{}[{}]", signal, n); };
    ordered_json one{{"number", n}, {"title", fmt::format("Module {}", n)}};
    one["mode"] = of_module(m.mode);
    one["service"] = of_module("module_service");
    one["margin"] = of_module(m.margin);
    if (!m.sigma.empty()) one["sigma"] = of_module(m.sigma);
    one["values"] = ordered_json::array();
    for (const std::string& name : scenarios::names_between_commas(m.values))
      one["values"].push_back(of_module(name));
    cards.push_back(std::move(one));
  }
  ordered_json services = ordered_json::array();
  for (const ListWord& word : service_words())
    if (word.word != service_words()[CTL_SERVICE_ABSENT].word)
      services.push_back({{"name", word.word}, {"title", title_of_word(word.word)}, {"text", word.meaning}});
  return {{"title", m.title},
          {"text", m.text},
          {"unit", "mV"},
          {"alarm", or_null(alarm_limit(m.alarm, true) * 1e3)},
          {"trip", or_null(controller_parameter(scenario_.controller, m.trip) * 1e3)},
          {"services", std::move(services)},
          {"cards", std::move(cards)}};
}

ordered_json ConsoleView::procedures_json() const {
  ordered_json list = ordered_json::array();
  for (const auto& p : file_.procedures) {
    ordered_json steps = ordered_json::array();
    for (const auto& s : p.steps) {
      ordered_json step{{"text", s.text}};
      if (!s.done_when.empty()) step["done_when"] = s.done_when;
      if (!s.signal.empty()) step["signal"] = s.signal;
      steps.push_back(std::move(step));
    }
    list.push_back({{"name", p.name}, {"title", p.title}, {"text", p.text}, {"steps", std::move(steps)}});
  }
  return list;
}

std::string ConsoleView::plant_text(PersonRole role) const {
  // trainees do not see what the name of an exercise gives away; a lesson has nothing to hide
  const bool hidden = !scenario_.exercise.objective.empty() && scenario_.exercise.lesson.empty() &&
                      role != PersonRole::instruct;
  const std::string name = hidden ? "exercise" : name_, title = hidden ? "Exercise" : scenario_.title;
  ordered_json all;
  all["version"] = "1";
  all["role"] = role_word(role);
  all["scenario"] = {
      {"name", name},
      {"title", title},
      {"text", scenario_.exercise.objective.empty() || role == PersonRole::instruct ? scenario_.purpose : ""},
      {"duration", scenario_.duration},
      {"start_local_time", scenario_.start.local_time_h / 24.0},
      {"sol_seconds", plant::kSolSeconds}};
  all["exercise"] = exercise_json(name, title);
  all["period"] = scenario_.period;
  all["groups"] = ordered_json::array();
  for (const auto& g : file_.groups) all["groups"].push_back({{"name", g.name}, {"title", g.title}});
  all["signals"] = signals_json(role);
  all["commands"] = commands_json();
  for (const ListWord& m : modules_ > 0 ? plant_mode_words() : mode_words())
    all["modes"].push_back({{"name", m.word}, {"title", title_of_word(m.word)}, {"text", m.meaning}});
  for (const ShownAlarm& alarm : alarms_) {
    all["alarms"].push_back({{"name", alarm.name},
                             {"title", alarm.title},
                             {"priority", word_of(priority_words(), alarm.priority)},
                             {"text", alarm.consequence},
                             {"consequence", alarm.consequence},
                             {"cause", alarm.cause},
                             {"response", alarm.response},
                             {"time_to_respond", alarm.minutes * 60.0}});
    if (alarm.module >= 0) all["alarms"].back()["module"] = alarm.module + 1;
  }
  for (const ListWord& d : diagnosis_words())
    all["diagnoses"].push_back({{"name", d.word}, {"title", title_of_word(d.word)}, {"text", d.meaning}});
  all["picture"] = picture_json();
  all["margins"] = margins_json();
  if (modules_ > 0) all["module_cards"] = modules_json();
  all["procedures"] = procedures_json();
  all["trends"] = ordered_json::array();
  for (const auto& t : file_.trends)
    all["trends"].push_back({{"title", t.title}, {"signals", scenarios::names_between_commas(t.signals)}});
  all["faults"] = all["weather"] = ordered_json::array();
  if (role == PersonRole::instruct)
    for (const plant::FaultRow* row : faults_)
      all[is_weather_row(*row) ? "weather" : "faults"].push_back(disturbance(*row, modules_));
  return all.dump();
}

ordered_json ConsoleView::exercise_json(const std::string& name, const std::string& title) const {
  const scenarios::Exercise& e = scenario_.exercise;
  if (e.objective.empty()) return nullptr;
  ordered_json lesson = ordered_json::array();
  for (const auto& step : e.lesson)
    lesson.push_back({{"title", step.title},
                      {"text", step.text},
                      {"show", scenarios::names_between_commas(step.show)},
                      {"done_when", step.done_when}});
  return {{"name", name},
          {"title", title},
          {"objective", e.objective},
          {"briefing", e.briefing},
          {"lesson", std::move(lesson)}};
}

}  // namespace duskline::harness
