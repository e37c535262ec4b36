#include "hil-harness/verify/judge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "hil-harness/loop/signals.hpp"
#include "scenarios/reader/units.hpp"
#include "scenarios/requirements/stream.hpp"

namespace duskline::harness {
namespace {

struct Scale {
  std::string_view unit, shown;
  double factor;
};
constexpr Scale kShown[] = {{"V", "mV", 1e3}, {"kg s-1", "g/h", 3.6e6},    {"kg/s", "g/h", 3.6e6},
                            {"kg", "g", 1e3}, {"ohm m2", "mohm cm2", 1e7}, {"rad s-1 s-1", "rad/s2", 1.0}};

}  // namespace

namespace {

constexpr std::size_t kBlock = 256;  // ticks between two looks at what can be decided

}  // namespace

struct Watcher::Content {
  struct Open {  // a requirement whose verdict is being worked out
    std::string name;
    std::shared_ptr<const scenarios::Requirement> requirement;
    std::optional<scenarios::Stream> stream;  // nothing: judged on all rows
  };
  std::vector<Open> judged;
  SignalRows latest, all;  // what streams still need; what needs the whole run
  std::size_t ticks = 0;
};

Watcher::Watcher(const scenarios::Scenario& scenario, std::span<const scenarios::Objective> objectives)
    : content_(std::make_unique<Content>()) {
  Content& c = *content_;
  for (const auto& statement : scenario.requirements) {
    auto requirement = statement.parsed;
    if (!requirement) {
      auto parsed = scenarios::parse_requirement(statement.must, requirement_signals());
      if (!parsed.problems.empty()) continue;
      requirement = std::make_shared<scenarios::Requirement>(std::move(parsed.requirement));
    }
    auto stream = scenarios::Stream::of(*requirement);
    for (const std::size_t i : requirement->signals) (stream ? c.latest : c.all).want(i);
    c.judged.push_back({statement.name, std::move(requirement), std::move(stream)});
  }
  for (const auto& o : objectives)
    for (const std::size_t i : o.requirement.signals) c.all.want(i);
  c.latest.settle();
  c.all.settle();
}

Watcher::~Watcher() = default;

void Watcher::release() {
  content_.reset();
}

void Watcher::keep(scenarios::Keeper& k) {
  auto& [judged, latest, all, ticks] = *content_;
  for (Content::Open& j : judged)
    if (j.stream) k(*j.stream);
  k(latest, all, ticks);
}

bool Watcher::empty() const {
  return content_->judged.empty();
}

void Watcher::watch(const Snapshot& s) {
  Content& c = *content_;
  c.latest.add(s);
  c.all.add(s);
  if (++c.ticks % kBlock != 0 || c.latest.size() == 0) return;
  const scenarios::TraceSamples window = c.latest.samples();
  std::size_t needed = c.latest.base() + c.latest.size() - 1;  // the last row is always there
  for (Content::Open& j : c.judged) {
    if (!j.stream) continue;
    j.stream->advance(window, c.latest.base());
    needed = std::min(needed, j.stream->needs());
  }
  c.latest.forget(needed);
}

std::vector<RequirementResult> Watcher::judge() const {
  const Content& c = *content_;
  std::vector<RequirementResult> all;
  if (c.ticks == 0) return all;
  const scenarios::TraceSamples window = c.latest.samples(), whole = c.all.samples();
  for (const Content::Open& j : c.judged)
    all.push_back(
        {j.name,
         j.requirement->text,
         j.stream ? j.stream->verdict(window, c.latest.base()) : scenarios::judge(*j.requirement, whole),
         {}});
  return all;
}

scenarios::TraceSamples Watcher::samples() const {
  return content_->all.samples();
}

bool all_hold(const std::vector<RequirementResult>& judged) {
  return std::all_of(judged.begin(), judged.end(), [](const RequirementResult& j) {
    return j.verdict.outcome == scenarios::Outcome::satisfied ||
           j.verdict.outcome == scenarios::Outcome::not_exercised;
  });
}

std::string judged_text(const std::vector<RequirementResult>& judged) {
  std::string text;
  for (const RequirementResult& j : judged)
    text += fmt::format("  {:<16} {}, margin {} at {:.0f} s: {}\n", word(j.verdict.outcome), j.name,
                        margin_words(j.verdict), j.verdict.time, j.must);
  return text;
}

std::string_view word(scenarios::Outcome outcome) {
  switch (outcome) {
    case scenarios::Outcome::satisfied:
      return "satisfied";
    case scenarios::Outcome::violated:
      return "violated";
    case scenarios::Outcome::undecided:
      return "undecided";
    case scenarios::Outcome::not_exercised:
      break;
  }
  return "not exercised";
}

ReadUnit read_unit(std::string_view unit) {
  for (const Scale& s : kShown)
    if (unit == s.unit) return {s.factor, std::string(s.shown)};
  return {1.0, unit == "1" ? "" : std::string(unit)};
}

Shown shown_margin(const scenarios::Verdict& v) {
  if (!v.typed.empty() && v.typed != "1") {
    const scenarios::Conversion how = scenarios::conversion(v.typed, v.unit);
    // a margin is a difference: a thermometer scale gives none
    if (how.fit == scenarios::UnitFit::fits && how.offset == 0.0)
      return {scenarios::convert_back(v.margin, how), v.typed};
  }
  const ReadUnit as = read_unit(v.unit);
  return {v.margin * as.factor, as.unit};
}

std::string margin_words(const scenarios::Verdict& v) {
  if (!std::isfinite(v.margin)) return "-";
  const Shown shown = shown_margin(v);
  return fmt::format("{:+.4g}{}{}", shown.value, shown.unit.empty() ? "" : " ", shown.unit);
}

}  // namespace duskline::harness
