#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "hil-harness/batch/identity.hpp"
#include "hil-harness/batch/json_number.hpp"
#include "hil-harness/falsify/falsify.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kFormat = "duskline-falsification/1";

// a requirement of words is endlessly far from being broken, or that far beyond
Json number(double v) {
  return json_number(v);
}
double number_of(const Json& j) {
  return number_in(j);
}

Json json_of(const scenarios::Case& base, const Attempt& a, std::size_t i) {
  Json j;
  j["run"] = i + 1;
  j["chosen"] = a.drawn ? "at random" : "by the search";
  const auto& vary = base.scenario.falsify.vary;
  Json& values = j["values"] = Json::object();
  for (std::size_t k = 0; k < vary.size(); ++k) values[vary[k].set] = number(a.values[k]);
  j["shares"] = a.at;
  j["requirement"] = a.requirement;
  j["outcome"] = std::string(word(a.verdict.outcome));
  j["margin"] = number(a.verdict.margin);
  j["unit"] = a.verdict.unit;
  j["typed_unit"] = a.verdict.typed;
  j["relative"] = number(a.verdict.relative);
  j["time"] = a.verdict.time;
  j["end"] = {{"reason", std::string(plant::word(a.end.reason))}, {"time", a.end.time}, {"who", a.end.who}};
  return j;
}

std::optional<Attempt> attempt_of(const Json& j, const std::vector<scenarios::Variation>& vary) {
  if (!j.is_object()) return std::nullopt;
  Attempt a;
  a.drawn = j.value("chosen", "") == "at random";
  a.at = j.value("shares", Point{});
  if (a.at.size() != vary.size()) return std::nullopt;
  for (const double share : a.at)
    if (!(share >= 0.0 && share <= 1.0)) return std::nullopt;
  for (std::size_t k = 0; k < vary.size(); ++k) a.values.push_back(value_at(vary[k], a.at[k]));
  a.requirement = j.value("requirement", "");
  for (const auto outcome : {scenarios::Outcome::satisfied, scenarios::Outcome::violated,
                             scenarios::Outcome::undecided, scenarios::Outcome::not_exercised})
    if (word(outcome) == j.value("outcome", "")) a.verdict.outcome = outcome;
  a.verdict.margin = number_of(j.value("margin", Json()));
  a.verdict.relative = number_of(j.value("relative", Json()));
  a.verdict.unit = j.value("unit", "");
  a.verdict.typed = j.value("typed_unit", "");
  a.verdict.time = number_of(j.value("time", Json()));
  const Json end = j.value("end", Json::object());
  for (const auto& entry : plant::kRunEnds)
    if (entry.word == end.value("reason", "")) a.end.reason = entry.reason;
  a.end.time = number_of(end.value("time", Json()));
  a.end.who = end.value("who", "");
  return a;
}

/// Tells one search from another: everything that the points and the runs depend on, but the program.
std::string fingerprint(const scenarios::Case& base, const FalsifyOptions& options) {
  return fmt::format("{:016x}", plant::stream_hash(identity_of(base) + std::to_string(options.seed) +
                                                   joined(options.links)));
}

}  // namespace

std::string falsified_json(const scenarios::Case& base, const Falsified& found, const FalsifyOptions& options,
                           bool with_attempts) {
  const auto& wanted = base.scenario.falsify;
  Json j;
  j["format"] = kFormat;
  j["scenario"] = base.scenario.title;
  j["fingerprint"] = fingerprint(base, options);
  j["requirement"] = wanted.requirement.empty() ? Json(nullptr) : Json(wanted.requirement);
  j["seed"] = options.seed;
  j["runs_allowed"] = wanted.runs;
  j["runs"] = found.attempts.size();
  j["interrupted"] = found.interrupted;
  Json& varied = j["varied"] = Json::array();
  for (const auto& v : wanted.vary)
    varied.push_back({{"set", v.set},
                      {"from", v.from},
                      {"to", v.to},
                      {"unit", std::string(v.unit)},
                      {"scale", v.scale == scenarios::Spacing::linear ? "linear" : "log"}});
  const auto first = found.first_violation();
  j["first_violation"] = first ? Json(*first + 1) : Json(nullptr);
  j["cut_short"] = found.cut_short();
  const auto closest = found.closest();
  j["closest"] = closest ? json_of(base, found.attempts[*closest], *closest) : Json(nullptr);
  j["at_random"] = {{"runs", found.draws},
                    {"violated", found.draws_violated()},
                    {"ended_early", found.draws_cut_short()},
                    {"confidence", kConfidence},
                    {"share_that_violates_at_most", number(share_that_violates(base, found))}};
  if (with_attempts) {
    Json& attempts = j["attempts"] = Json::array();
    for (std::size_t i = 0; i < found.attempts.size(); ++i)
      attempts.push_back(json_of(base, found.attempts[i], i));
  }
  return j.dump(1) + "\n";
}

scenarios::Result<std::vector<Attempt>> earlier_attempts(const std::string& json, const std::string& name,
                                                         const scenarios::Case& base,
                                                         const FalsifyOptions& options) {
  const auto refuse = [&](std::string why) {
    return scenarios::Result<std::vector<Attempt>>{std::nullopt, {{name, 1, 1, "", std::move(why)}}};
  };
  const Json j = Json::parse(json, nullptr, false);
  const auto is = [&](const char* key, const std::string& text) { return j.contains(key) && j[key] == text; };
  if (!j.is_object() || !is("format", kFormat) || !j.contains("attempts") || !j["attempts"].is_array())
    return refuse(fmt::format("is not a search that can be resumed ({})", kFormat));
  if (!is("fingerprint", fingerprint(base, options)))
    return refuse("is another search: scenario, plant, settings, runs or seed differ; --force starts over");
  std::vector<Attempt> attempts;
  for (const Json& entry : j["attempts"]) {
    std::optional<Attempt> attempt;
    try {
      attempt = attempt_of(entry, base.scenario.falsify.vary);
    } catch (const Json::exception&) {  // a member of another type than ours
    }
    if (!attempt) return refuse(fmt::format("attempt {} cannot be read", attempts.size() + 1));
    attempts.push_back(std::move(*attempt));
  }
  return {std::move(attempts), {}};
}

}  // namespace duskline::harness
