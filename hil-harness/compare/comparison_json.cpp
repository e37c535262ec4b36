#include <nlohmann/json.hpp>

#include "hil-harness/compare/comparison.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

Json value_of(const std::optional<double>& value, const std::string& words) {
  return value ? Json(*value) : words.empty() ? Json(nullptr) : Json(words);
}

Json number_of(const std::optional<double>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json difference(const std::optional<double>& a, const std::optional<double>& b) {
  return a && b ? Json(*b - *a) : Json(nullptr);
}

Json facts(const ComparedRun& run) {
  const SummaryView& s = run.summary;
  return {{"name", run.name}, {"title", s.title},     {"law", s.law}, {"plant", s.plant},
          {"seed", s.seed},   {"version", s.version}, {"end", s.end}, {"end_time", number_of(s.end_time)}};
}

}  // namespace

std::string comparison_json(const ComparedRun& a, const ComparedRun& b, const Comparison& c) {
  Json j;
  j["format"] = "duskline-comparison/1";
  j["a"] = facts(a);
  j["b"] = facts(b);
  j["notes"] = c.notes;
  j["lost"] = lost_requirements(c);
  for (const char* part : {"requirements", "figures", "events", "signals"}) j[part] = Json::array();
  for (const VerdictPair& p : c.verdicts)
    j["requirements"].push_back({{"name", p.name},
                                 {"a", p.a.empty() ? Json(nullptr) : Json(p.a)},
                                 {"b", p.b.empty() ? Json(nullptr) : Json(p.b)},
                                 {"margin_a", number_of(p.margin_a)},
                                 {"margin_b", number_of(p.margin_b)},
                                 {"difference", difference(p.margin_a, p.margin_b)},
                                 {"unit", p.unit}});
  for (const FigurePair& p : c.figures)
    j["figures"].push_back({{"text", p.text},
                            {"a", value_of(p.a, p.words_a)},
                            {"b", value_of(p.b, p.words_b)},
                            {"difference", difference(p.a, p.b)},
                            {"unit", p.unit}});
  for (const EventPair& p : c.events)
    j["events"].push_back(
        {{"kind", p.kind}, {"text", p.text}, {"time_a", number_of(p.a)}, {"time_b", number_of(p.b)}});
  j["events_alike"] = c.events_alike;
  for (const SignalPair& p : c.signals)
    j["signals"].push_back({{"name", p.name},
                            {"largest_difference", p.largest},
                            {"unit", p.unit},
                            {"time", p.time},
                            {"place", p.place == 0 ? Json(nullptr) : Json(p.place)},
                            {"share_of_range", p.share}});
  j["signals_only_in_a"] = c.only_a;
  j["signals_only_in_b"] = c.only_b;
  return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace duskline::harness
