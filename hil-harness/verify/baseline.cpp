#include "hil-harness/verify/baseline.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "hil-harness/loop/summary_json.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kFormat = "duskline-accepted/1";

/// The two parts of a scenario, and the key of the number in their entries.
struct Part {
  const char *name, *number;
};
constexpr Part kParts[] = {{"requirements", "robustness"}, {"key_figures", "value"}};

struct KeyFigure {
  const char* name;
  const char* unit;
  double (*get)(const Figures&);
};
constexpr KeyFigure kKeyFigures[] = {
    {"oxygen made", "g", [](const Figures& f) { return f.oxygen_made * 1e3; }},
    {"bus energy", "kWh", [](const Figures& f) { return f.energy / 3.6e6; }},
    {"least coke margin", "mV", [](const Figures& f) { return f.coke_margin.value * 1e3; }},
    {"least nickel ratio", "1", [](const Figures& f) { return f.nickel_ratio.value; }},
    {"time in safe", "s", [](const Figures& f) { return f.time_in_mode[CTL_SAFE]; }},
    {"travel of speed", "rad/s", [](const Figures& f) { return f.travel_speed; }},
    {"travel of current", "A", [](const Figures& f) { return f.travel_current; }},
};

Json number(double v) {
  return std::isfinite(v) ? Json(v) : Json(nullptr);
}

Json json_of(const ScenarioResult& one) {
  Json s;
  Json& requirements = s["requirements"] = Json::object();
  for (const RequirementResult& r : one.judged)
    requirements[r.name] = {{"outcome", std::string(word(r.verdict.outcome))},
                            {"robustness", number(r.verdict.robustness)},
                            {"unit", r.verdict.unit},
                            {"time", r.verdict.time}};
  Json& figures = s["key_figures"] = Json::object();
  for (const KeyFigure& k : kKeyFigures)
    figures[k.name] = {{"value", number(k.get(one.record.figures))}, {"unit", k.unit}};
  return s;
}

bool is_entry(const Json& entry, const Part& part) {
  if (!entry.is_object() || !entry.contains(part.number)) return false;
  const Json& value = entry[part.number];
  return (value.is_number() || value.is_null()) &&
         (!entry.contains("outcome") || entry["outcome"].is_string());
}

/// What is wrong with an accepted scenario; empty: nothing.
std::string damage(const Json& scenario) {
  for (const Part& part : kParts) {
    if (!scenario.is_object() || !scenario.contains(part.name) || !scenario[part.name].is_object())
      return fmt::format("has no {}", part.name);
    for (const auto& [name, entry] : scenario[part.name].items())
      if (!is_entry(entry, part)) return fmt::format("{} of '{}' is no number", part.number, name);
  }
  return {};
}

bool differ(const Json& a, const Json& b) {
  if (!a.is_number() || !b.is_number()) return a != b;
  const double x = a.get<double>(), y = b.get<double>();
  return std::abs(x - y) > 1e-9 * std::max(std::abs(x), std::abs(y));
}

std::string shown(const Json& v) {
  return v.is_number() ? fmt::format("{:.6g}", v.get<double>()) : v.dump();
}

void compare_part(const Part& part, const std::string& scenario, const Json& was, const Json& now,
                  Moved& moved) {
  for (const auto& [name, entry] : now.items()) {
    if (!was.contains(name)) {
      moved.missing.push_back(fmt::format("{}: {}", scenario, name));
      continue;
    }
    const Json& old = was[name];
    const Json &a = old[part.number], &b = entry[part.number];
    const std::string was_ruling = old.value("outcome", ""), outcome = entry.value("outcome", "");
    if (!differ(a, b) && was_ruling == outcome) continue;
    const std::string unit = entry.value("unit", "");
    std::string change = fmt::format("{} -> {} {}", shown(a), shown(b), unit);
    if (a.is_number() && b.is_number())
      change += fmt::format(" ({:+.3g})", b.get<double>() - a.get<double>());
    if (was_ruling != outcome) change += fmt::format(", {} -> {}", was_ruling, outcome);
    moved.moves.push_back({scenario, name, std::move(change), {{"was", a}, {"now", b}, {"unit", unit}}});
  }
}

}  // namespace

std::string accepted_json(const std::vector<ScenarioResult>& all) {
  Json j;
  j["format"] = kFormat;
  Json& scenarios = j["scenarios"] = Json::object();
  for (const ScenarioResult& one : all)
    if (one.completed()) scenarios[one.name] = json_of(one);
  return j.dump(2) + "\n";
}

scenarios::Result<Json> read_accepted(const std::string& text, const std::string& file) {
  const auto refuse = [&](std::string path, std::string why, int line = 1, int column = 1) {
    return scenarios::Result<Json>{std::nullopt, {{file, line, column, std::move(path), std::move(why)}}};
  };
  Json j;
  try {
    j = Json::parse(text);
  } catch (const Json::parse_error& e) {
    const std::string before = text.substr(0, std::max<std::size_t>(e.byte, 1) - 1);
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    return refuse("", "is no JSON from here on", static_cast<int>(line),
                  static_cast<int>(before.size() - before.rfind('\n')));
  } catch (const Json::exception&) {
    return refuse("", "holds a number that is too large");
  }
  if (!j.is_object() || !j.contains("format") || j["format"] != kFormat || !j.contains("scenarios") ||
      !j["scenarios"].is_object())
    return refuse("", fmt::format("is no file of accepted results ({})", kFormat));
  for (const auto& [name, scenario] : j["scenarios"].items())
    if (std::string why = damage(scenario); !why.empty()) return refuse(name, std::move(why));
  return {j["scenarios"], {}};
}

std::vector<std::string> not_among(const std::vector<ScenarioResult>& all, const Json& accepted) {
  std::set<std::string> judged;
  for (const ScenarioResult& one : all) judged.insert(one.name);
  std::vector<std::string> names;
  for (const auto& entry : accepted.items())
    if (!judged.contains(entry.key())) names.push_back(entry.key());
  return names;
}

Moved compare(const std::vector<ScenarioResult>& all, const Json& accepted) {
  Moved moved;
  for (const ScenarioResult& one : all) {
    if (!one.completed()) continue;
    if (!accepted.contains(one.name)) {
      moved.missing.push_back(one.name);
      continue;
    }
    const Json now = json_of(one);
    for (const Part& part : kParts)
      compare_part(part, one.name, accepted[one.name][part.name], now[part.name], moved);
  }
  return moved;
}

}  // namespace duskline::harness
