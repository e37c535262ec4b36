#include "hil-harness/verify/accepted.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/verify/summary_json.hpp"
#include "scenarios/reader/quantity.hpp"
#include "scenarios/reader/text.hpp"
#include "scenarios/reader/units.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr const char* kFormat = "duskline-accepted/2";
constexpr int kDeepest = 6;           // levels of lists and maps in the file
constexpr double kShare = 0.01;       // of the accepted value, added to the tolerance
constexpr double kListedShare = 0.1;  // of what is allowed; a smaller difference is no change

struct KeyFigure {
  const char* name;
  const char* unit;
  double (*get)(const Figures&);
};
constexpr KeyFigure kKeyFigures[] = {
    {"oxygen made", "g", [](const Figures& f) { return f.oxygen_made * 1e3; }},
    {"bus energy", "kWh", [](const Figures& f) { return f.energy / kJoulePerKilowattHour; }},
    {"least coke margin", "mV", [](const Figures& f) { return f.coke_margin.value * 1e3; }},
    {"least nickel ratio", "", [](const Figures& f) { return f.nickel_ratio.value; }},
    {"time in safe", "s", [](const Figures& f) { return f.time_in_mode[CTL_SAFE]; }},
    {"travel of speed", "rad/s", [](const Figures& f) { return f.travel_speed; }},
    {"travel of current", "A", [](const Figures& f) { return f.travel_current; }},
};

/// Six digits, so that another machine or compiler gives the same text.
std::optional<double> rounded(double value) {
  if (!std::isfinite(value)) return std::nullopt;
  return std::strtod(fmt::format("{:.6g}", value).c_str(), nullptr);
}

AcceptedNumber of(const RequirementResult& r) {
  const Shown shown = shown_margin(r.verdict);
  return {std::string(word(r.verdict.outcome)), rounded(shown.value), shown.unit};
}
AcceptedNumber of(const KeyFigure& k, const Figures& f) {
  return {"", rounded(k.get(f)), k.unit};
}

/// A value in another unit of the same kind; nothing when it is of another kind.
std::optional<double> in_unit(double value, const std::string& unit, const std::string& wanted) {
  if (unit == wanted) return value;
  const auto how = scenarios::conversion(unit, wanted);
  if (how.fit != scenarios::UnitFit::fits) return std::nullopt;
  return how.divides ? value / how.scale : value * how.scale;  // differences: without the offset
}

/// By how much a number of this unit may fall.
double allowed_fall(const AcceptedResults& accepted, double value, const std::string& unit) {
  const double share = kShare * std::abs(value);
  for (const std::string& text : accepted.tolerances) {
    const std::string own = scenarios::unit_text(text);
    if (const auto tolerance = in_unit(std::strtod(text.c_str(), nullptr), own, unit))
      return *tolerance + share;
  }
  return share;
}

/// Violated and undecided fail by themselves; a requirement that is no longer put to the test says less than before.
int rank(const std::string& verdict) {
  return verdict == "satisfied" ? 2 : verdict == "not exercised" ? 1 : 0;
}

/// What has changed in one number; nothing: no more than rounding.
std::optional<Change> change_of(const AcceptedResults& accepted, const AcceptedNumber& before,
                                const AcceptedNumber& now) {
  Change c;
  c.was = before.value ? in_unit(*before.value, before.unit, now.unit) : std::nullopt;
  c.now = now.value;
  c.was_verdict = before.verdict, c.now_verdict = now.verdict, c.unit = now.unit;
  c.fails = rank(now.verdict) < rank(before.verdict);
  bool listed = before.verdict != now.verdict || c.was.has_value() != c.now.has_value();
  if (c.was && c.now) {
    const double allowed = allowed_fall(accepted, *c.was, now.unit);
    listed = listed || std::abs(*c.now - *c.was) > kListedShare * allowed;
    if (!now.verdict.empty()) {
      c.allowed = allowed;
      c.fails = c.fails || *c.was - *c.now > allowed;
    }
  }
  if (!listed) return std::nullopt;
  return c;
}

Json json_of(const AcceptedNumber& n, const char* value) {
  Json j = Json::object();
  if (!n.verdict.empty()) j["verdict"] = n.verdict;
  j[value] = n.value ? Json(*n.value) : Json(nullptr);
  j["unit"] = n.unit;
  return j;
}

/// Nothing when the entry is none.
std::optional<AcceptedNumber> number_of(const Json& j, const char* value) {
  if (!j.is_object() || !j.contains(value)) return std::nullopt;
  const Json& number = j[value];
  if (!number.is_null() && !number.is_number()) return std::nullopt;
  AcceptedNumber n;
  for (const auto& [name, text] : {std::pair{"verdict", &n.verdict}, std::pair{"unit", &n.unit}}) {
    if (!j.contains(name)) continue;
    if (!j[name].is_string()) return std::nullopt;
    *text = j[name].get<std::string>();
  }
  if (number.is_number()) n.value = number.get<double>();
  return n;
}

struct Part {
  const char *name, *value;
  std::map<std::string, AcceptedNumber> AcceptedScenario::*member;
};
constexpr Part kParts[] = {{"requirements", "margin", &AcceptedScenario::requirements},
                           {"key_figures", "value", &AcceptedScenario::key_figures}};

/// Lists and maps within each other, outside of texts.
bool is_deep(const std::string& text) {
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '\\')
      ++i;
    else if (c == '"')
      quoted = !quoted;
    else if (!quoted && (c == '{' || c == '['))
      depth += 1;
    else if (!quoted && (c == '}' || c == ']'))
      depth -= 1;
    if (depth > kDeepest) return true;
  }
  return false;
}

fs::path whole_path(const fs::path& path) {
  std::error_code error;
  const fs::path whole = fs::weakly_canonical(path, error);
  return error ? path : whole;
}

}  // namespace

scenarios::Result<AcceptedResults> read_accepted(const std::string& text, const fs::path& folder) {
  const std::string file = (folder / "accepted.json").string();
  const auto refuse = [&](std::string path, std::string why, int line = 1, int column = 1) {
    return scenarios::Result<AcceptedResults>{std::nullopt,
                                              {{file, line, column, std::move(path), std::move(why)}}};
  };
  if (is_deep(text)) return refuse("", fmt::format("is nested deeper than {} levels", kDeepest));
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
      !j["scenarios"].is_object() || !j.contains("root") || !j["root"].is_string())
    return refuse(
        "", fmt::format("is no file of accepted results ({}); --update-accepted --force writes one anew",
                        kFormat));
  AcceptedResults accepted;
  accepted.root = whole_path(folder / j["root"].get<std::string>());
  if (j.contains("tolerances")) {
    if (!j["tolerances"].is_array()) return refuse("tolerances", "is no list");
    accepted.tolerances.clear();
    for (const Json& entry : j["tolerances"]) {
      const std::string quantity = entry.is_string() ? entry.get<std::string>() : "";
      const std::string unit = scenarios::unit_text(quantity);
      const auto read = scenarios::read_quantity(quantity, {unit.empty() ? "1" : unit, 0.0, 1e30});
      if (!read.error.empty()) return refuse("tolerances", read.error);
      accepted.tolerances.push_back(quantity);
    }
  }
  for (const auto& [name, scenario] : j["scenarios"].items())
    for (const Part& part : kParts) {
      if (!scenario.is_object() || !scenario.contains(part.name) || !scenario[part.name].is_object())
        return refuse(name, fmt::format("has no {}", part.name));
      for (const auto& [key, entry] : scenario[part.name].items()) {
        auto number = number_of(entry, part.value);
        if (!number) return refuse(name, fmt::format("{} of '{}' is no number", part.value, key));
        (accepted.scenarios[name].*part.member)[key] = std::move(*number);
      }
    }
  return {std::move(accepted), {}};
}

fs::path common_folder(const std::vector<ScenarioResult>& all) {
  fs::path common;
  for (const ScenarioResult& one : all) {
    const fs::path folder = whole_path(one.path).parent_path();
    if (common.empty()) common = folder;
    while (common != folder && name_below(common, folder).empty() && common.has_relative_path())
      common = common.parent_path();
  }
  return common;
}

std::string name_below(const fs::path& root, const fs::path& scenario) {
  const fs::path relative = whole_path(scenario).lexically_relative(whole_path(root));
  if (relative.empty() || relative == "." || *relative.begin() == "..") return {};
  return scenarios::printable(relative.generic_string());
}

namespace {

/// Moves the root up until all these scenarios lie below it; the names of those before grow by as much.
void widen(AcceptedResults& accepted, const std::vector<ScenarioResult>& all) {
  fs::path root = accepted.root;
  for (const ScenarioResult& one : all)
    while (name_below(root, one.path).empty() && root.has_relative_path()) root = root.parent_path();
  if (root == accepted.root) return;
  const fs::path way = accepted.root.lexically_relative(root);
  std::map<std::string, AcceptedScenario> renamed;
  for (auto& [name, scenario] : accepted.scenarios)
    renamed[(way / name).generic_string()] = std::move(scenario);
  accepted.scenarios = std::move(renamed);
  accepted.root = root;
}

}  // namespace

std::vector<std::string> accept_results(const std::vector<ScenarioResult>& all, AcceptedResults& accepted) {
  std::vector<std::string> dropped;
  for (const auto& [name, scenario] : accepted.scenarios) {
    std::error_code error;
    if (!fs::exists(accepted.root / name, error)) dropped.push_back(name);
  }
  for (const std::string& name : dropped) accepted.scenarios.erase(name);
  widen(accepted, all);
  for (const ScenarioResult& one : all) {
    const std::string name = name_below(accepted.root, one.path);
    if (!one.completed() || name.empty()) continue;
    accepted.scenarios[name] = results_of(one);
  }
  return dropped;
}

AcceptedScenario results_of(const ScenarioResult& one) {
  AcceptedScenario now;
  for (const RequirementResult& r : one.judged) now.requirements[r.name] = of(r);
  for (const KeyFigure& k : kKeyFigures) now.key_figures[k.name] = of(k, one.record.figures);
  return now;
}

std::optional<AcceptedScenario> accepted_of(const AcceptedResults& accepted, const ScenarioResult& one,
                                            const AcceptedScenario& now) {
  const auto found = accepted.scenarios.find(name_below(accepted.root, one.path));
  if (found == accepted.scenarios.end()) return std::nullopt;
  AcceptedScenario before = found->second;
  for (const Part& part : kParts)
    for (auto& [name, number] : before.*part.member) {
      const auto same = (now.*part.member).find(name);
      if (same == (now.*part.member).end() || !number.value) continue;
      const auto converted = in_unit(*number.value, number.unit, same->second.unit);
      if (converted) number.value = converted, number.unit = same->second.unit;
    }
  return before;
}

std::string accepted_json(const AcceptedResults& accepted, const fs::path& folder) {
  Json j;
  j["format"] = kFormat;
  j["root"] = scenarios::printable(accepted.root.lexically_relative(whole_path(folder)).generic_string());
  j["tolerances"] = accepted.tolerances;
  Json& all = j["scenarios"] = Json::object();
  for (const auto& [name, scenario] : accepted.scenarios)
    for (const Part& part : kParts) {
      Json& entries = all[name][part.name] = Json::object();
      for (const auto& [key, number] : scenario.*part.member) entries[key] = json_of(number, part.value);
    }
  return j.dump(2) + "\n";
}

std::string Change::text() const {
  const auto shown = [](const std::optional<double>& v) { return v ? fmt::format("{:.6g}", *v) : "-"; };
  std::string change = fmt::format("{} -> {}{}{}", shown(was), shown(now), unit.empty() ? "" : " ", unit);
  if (was && now) {
    change += fmt::format(" ({:+.3g}", *now - *was);
    if (allowed > 0.0 && *now < *was) change += fmt::format("; {:.3g} allowed", allowed);
    change += ")";
  }
  if (was_verdict != now_verdict) change += fmt::format(", {} -> {}", was_verdict, now_verdict);
  return change;
}

bool AcceptedComparison::fails() const {
  return !missing.empty() || !gone.empty() ||
         std::any_of(changes.begin(), changes.end(), [](const Change& c) { return c.fails; });
}

std::vector<Change> AcceptedComparison::of(const std::string& scenario) const {
  std::vector<Change> all;
  std::copy_if(changes.begin(), changes.end(), std::back_inserter(all),
               [&](const Change& c) { return c.scenario == scenario; });
  return all;
}

AcceptedComparison compare(std::vector<ScenarioResult>& all, const std::vector<std::string>& paths,
                           const AcceptedResults& accepted) {
  AcceptedComparison result;
  for (ScenarioResult& one : all) {
    if (!one.completed()) continue;
    const auto found = accepted.scenarios.find(name_below(accepted.root, one.path));
    if (found == accepted.scenarios.end()) {
      result.missing.push_back(one.name);
      for (RequirementResult& r : one.judged) r.worse = "there is no accepted result";
      continue;
    }
    const AcceptedScenario& before = found->second;
    const auto note = [&](const std::string& name, const auto& numbers, const AcceptedNumber& now) {
      const auto was = numbers.find(name);
      if (was == numbers.end()) {
        result.missing.push_back(fmt::format("{}: {}", one.name, name));
        return std::string("there is no accepted result");
      }
      auto change = change_of(accepted, was->second, now);
      if (!change) return std::string();
      change->scenario = one.name, change->name = name;
      result.changes.push_back(*change);
      return change->fails ? change->text() : std::string();
    };
    for (RequirementResult& r : one.judged) r.worse = note(r.name, before.requirements, of(r));
    for (const auto& was : before.requirements)
      if (std::none_of(one.judged.begin(), one.judged.end(),
                       [&](const auto& r) { return r.name == was.first; }))
        result.gone.push_back(fmt::format("{}: {}", one.name, was.first));
    for (const KeyFigure& k : kKeyFigures) note(k.name, before.key_figures, of(k, one.record.figures));
  }
  for (const auto& [name, scenario] : accepted.scenarios) {
    std::error_code error;
    const fs::path file = accepted.root / name;
    const bool asked = std::any_of(paths.begin(), paths.end(),
                                   [&](const std::string& path) { return !name_below(path, file).empty(); });
    if (asked && !fs::exists(file, error)) result.gone.push_back(name);
  }
  return result;
}

}  // namespace duskline::harness
