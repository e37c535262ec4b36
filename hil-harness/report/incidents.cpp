#include "hil-harness/report/incidents.hpp"

#include <algorithm>
#include <limits>

#include "hil-harness/report/event_kinds.hpp"

namespace duskline::harness {
namespace {

constexpr std::size_t kFirst = 2, kLast = 4;  ///< steps kept of a long chain

struct Cause {
  double from, to;  ///< s; acting from, to
};

ChainPart part_of(const EventEntry& event) {
  const EventKind* kind = find_event_kind(event.kind);
  return kind == nullptr ? ChainPart::none : kind->part;
}

/// Causes with the time in which they act: a fault until its event says that it is over, others at their instant.
std::vector<Cause> causes_of(const std::vector<EventEntry>& events) {
  std::vector<Cause> causes;
  for (std::size_t i = 0; i < events.size(); ++i) {
    if (part_of(events[i]) != ChainPart::cause || !events[i].begins) continue;
    Cause cause{events[i].time, events[i].time};
    if (events[i].kind == "fault") {
      const std::string subject = subject_of(events[i]);
      const auto end = std::find_if(
          events.begin() + static_cast<std::ptrdiff_t>(i), events.end(),
          [&](const EventEntry& e) { return e.kind == "fault" && !e.begins && subject_of(e) == subject; });
      cause.to = end == events.end() ? std::numeric_limits<double>::infinity() : end->time;
    }
    causes.push_back(cause);
  }
  return causes;
}

/// Equal events become one step with a count; the ends of a long chain are kept.
void set_chain(Incident& incident, const std::vector<EventEntry>& events, double from, double until) {
  std::vector<ChainStep>& chain = incident.chain;
  for (const EventEntry& event : events) {
    if (event.time < from || event.time > until || part_of(event) == ChainPart::none) continue;
    const auto same = std::find_if(chain.begin(), chain.end(), [&](const ChainStep& step) {
      return step.kind == event.kind && step.text == event.text;
    });
    if (same != chain.end())
      same->count += event.count;
    else
      chain.push_back({event.time, event.kind, event.text, event.count});
  }
  if (chain.size() <= kFirst + kLast) return;
  incident.left_out = chain.size() - kFirst - kLast;
  chain.erase(chain.begin() + kFirst, chain.end() - kLast);
}

void explain(Incident& incident, const std::vector<EventEntry>& events, const std::vector<Cause>& causes) {
  double first = std::numeric_limits<double>::infinity();
  for (const Cause& cause : causes)
    if (cause.from <= incident.from && cause.to + kAfterEffect >= incident.from)
      first = std::min(first, cause.from);
  incident.cause_logged = first <= incident.from;
  set_chain(incident, events, incident.cause_logged ? first : incident.from - kLookBack, incident.from);
}

/// A formula that must hold throughout is violated where it says so; one about an instant, where its margin is least.
bool holds_throughout(const std::string& must) {
  return must.starts_with("always") || must.starts_with("never") || must.starts_with("whenever");
}

}  // namespace

std::vector<Incident> incidents(const std::vector<RequirementEntry>& requirements,
                                const std::vector<EventEntry>& events) {
  const std::vector<Cause> causes = causes_of(events);
  std::vector<Incident> all;
  for (const RequirementEntry& r : requirements) {
    if (r.verdict_class != VerdictClass::violated) continue;
    Incident incident;
    incident.title = r.name;
    incident.must = r.must;
    incident.verdict = r.verdict;
    incident.margin = r.margin;
    incident.unit = r.unit;
    incident.from = r.violated_from;
    incident.to = r.violated_to;
    if (!holds_throughout(r.must) && r.time) incident.from = *r.time;
    incident.to = std::max(incident.to, incident.from);
    explain(incident, events, causes);
    all.push_back(std::move(incident));
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const Incident& a, const Incident& b) { return a.from < b.from; });
  const std::size_t of_requirements = all.size();
  for (const EventEntry& event : events) {
    if (event.kind != "interlock") continue;
    const auto reported = std::any_of(
        all.begin(), all.begin() + static_cast<std::ptrdiff_t>(of_requirements),
        [&](const Incident& incident) {
          return std::any_of(incident.chain.begin(), incident.chain.end(), [&](const ChainStep& step) {
            return step.kind == "interlock" && step.text == event.text;
          });
        });
    if (reported) continue;
    Incident incident;
    incident.title = event.text;
    incident.from = incident.to = event.time;
    explain(incident, events, causes);
    std::erase_if(incident.chain,
                  [&](const ChainStep& step) { return step.kind == "interlock" && step.text == event.text; });
    all.push_back(std::move(incident));
  }
  return all;
}

}  // namespace duskline::harness
