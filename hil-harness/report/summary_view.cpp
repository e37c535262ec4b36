#include "hil-harness/report/summary_view.hpp"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

namespace duskline::harness {
namespace {

using nlohmann::json;

constexpr std::string_view kOver = ", is over";

std::string text_of(const json& object, const char* key) {
  const auto at = object.find(key);
  if (at == object.end()) return {};
  return at->is_string() ? at->get<std::string>() : at->is_number() ? at->dump() : std::string{};
}

std::optional<double> number_of(const json& object, const char* key) {
  const auto at = object.find(key);
  if (at == object.end() || !at->is_number()) return std::nullopt;
  return at->get<double>();
}

/// The objects of a list; none when it is absent or no list.
std::vector<json> objects(const json& summary, const char* key) {
  std::vector<json> all;
  const auto at = summary.find(key);
  if (at == summary.end() || !at->is_array()) return all;
  for (const json& entry : *at)
    if (entry.is_object()) all.push_back(entry);
  return all;
}

FigureEntry figure_of(const json& entry) {
  FigureEntry figure;
  figure.text = text_of(entry, "text");
  figure.value = number_of(entry, "value");
  if (!figure.value) figure.words = text_of(entry, "value");
  figure.unit = text_of(entry, "unit");
  figure.note = text_of(entry, "note");
  figure.verdict = text_of(entry, "verdict");
  return figure;
}

RequirementEntry requirement_of(const json& entry) {
  RequirementEntry r;
  r.name = text_of(entry, "name");
  if (r.name.empty()) r.name = text_of(entry, "text");
  r.must = text_of(entry, "must");
  r.verdict = text_of(entry, "verdict");
  r.verdict_class = verdict_class(r.verdict);
  r.margin = number_of(entry, "margin");
  r.unit = text_of(entry, "unit");
  r.time = number_of(entry, "time");
  r.violated_from = number_of(entry, "violated_from").value_or(r.time.value_or(0.0));
  r.violated_to = number_of(entry, "violated_to").value_or(r.violated_from);
  return r;
}

EventEntry event_of(const json& entry, double time) {
  EventEntry event{time, text_of(entry, "kind"), text_of(entry, "text")};
  event.subject = text_of(entry, "subject");
  event.count = static_cast<std::size_t>(std::max(1.0, number_of(entry, "count").value_or(1.0)));
  const auto begins = entry.find("begins");
  event.begins =
      begins != entry.end() && begins->is_boolean() ? begins->get<bool>() : !event.text.ends_with(kOver);
  return event;
}

void read_end(const json& summary, SummaryView& view) {
  const auto end = summary.find("end");
  if (end == summary.end() || !end->is_object()) return;
  view.end = text_of(*end, "reason");
  view.who = text_of(*end, "who");
  const auto time = end->find("time");
  if (time != end->end() && time->is_object()) view.end_time = number_of(*time, "value");
}

}  // namespace

std::string subject_of(const EventEntry& event) {
  if (!event.subject.empty()) return event.subject;
  return event.text.ends_with(kOver) ? event.text.substr(0, event.text.size() - kOver.size()) : event.text;
}

std::string_view word(VerdictClass c) {
  static constexpr std::array<std::string_view, 4> words{"satisfied", "violated", "undecided",
                                                         "not exercised"};
  return words[static_cast<std::size_t>(c)];
}

VerdictClass verdict_class(std::string_view word) {
  if (word == "satisfied" || word == "good") return VerdictClass::satisfied;
  if (word == "violated" || word == "bad") return VerdictClass::violated;
  if (word == "not exercised") return VerdictClass::not_exercised;
  return VerdictClass::undecided;
}

std::optional<SummaryView> read_summary(std::string_view text, std::string& problem) {
  const json summary = json::parse(text, nullptr, false);
  if (summary.is_discarded() || !summary.is_object()) {
    problem = "the summary is not a JSON object";
    return std::nullopt;
  }
  SummaryView view;
  view.title = text_of(summary, "title");
  view.plant = text_of(summary, "plant");
  view.law = text_of(summary, "law");
  view.seed = text_of(summary, "seed");
  view.version = text_of(summary, "version");
  read_end(summary, view);
  for (const json& entry : objects(summary, "figures")) view.figures.push_back(figure_of(entry));
  for (const json& entry : objects(summary, "requirements"))
    view.requirements.push_back(requirement_of(entry));
  for (const json& entry : objects(summary, "events"))
    if (const auto time = number_of(entry, "time")) view.events.push_back(event_of(entry, *time));
  std::stable_sort(view.events.begin(), view.events.end(),
                   [](const EventEntry& a, const EventEntry& b) { return a.time < b.time; });
  view.events_left_out = static_cast<std::size_t>(number_of(summary, "events_left_out").value_or(0.0));
  return view;
}

}  // namespace duskline::harness
