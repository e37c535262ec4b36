#include "hil-harness/verify/judge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/loop/signals.hpp"
#include "scenarios/reader/units.hpp"

namespace duskline::harness {
namespace {

std::vector<scenarios::TraceSignal> make_signals() {
  std::vector<scenarios::TraceSignal> list;
  for (const Signal& s : signal_table())
    list.push_back({s.info.name, s.info.unit, s.info.width, s.info.flags, s.info.masks});
  return list;
}

struct Scale {
  std::string_view unit, shown;
  double factor;
};
constexpr Scale kShown[] = {{"V", "mV", 1e3}, {"kg s-1", "g/h", 3.6e6},    {"kg/s", "g/h", 3.6e6},
                            {"kg", "g", 1e3}, {"ohm m2", "mohm cm2", 1e7}, {"rad s-1 s-1", "rad/s2", 1.0}};

}  // namespace

const std::vector<scenarios::TraceSignal>& requirement_signals() {
  static const std::vector<scenarios::TraceSignal> list = make_signals();
  return list;
}

struct Watcher::Content {
  std::vector<std::string> names;
  std::vector<scenarios::Requirement> requirements;
  std::vector<std::size_t> used;             // signals that are kept
  std::vector<std::vector<double>> columns;  // one for each of the dictionary; empty when not used
  std::vector<double> times;
};

Watcher::Watcher(const scenarios::Scenario& scenario, std::span<const scenarios::Objective> objectives)
    : content_(std::make_unique<Content>()) {
  Content& c = *content_;
  c.columns.resize(requirement_signals().size());
  std::vector<bool> wanted(c.columns.size());
  for (const auto& statement : scenario.requirements) {
    auto parsed = scenarios::parse_requirement(statement.must, requirement_signals());
    if (!parsed.problems.empty()) continue;
    for (const std::size_t i : parsed.requirement.signals) wanted[i] = true;
    c.names.push_back(statement.name);
    c.requirements.push_back(std::move(parsed.requirement));
  }
  for (const auto& o : objectives)
    for (const std::size_t i : o.requirement.signals) wanted[i] = true;
  // room for the whole run, so that nothing is copied while it grows
  const auto ticks = static_cast<std::size_t>(std::min<std::uint64_t>(scenarios::periods(scenario), 4000000));
  for (std::size_t i = 0; i < wanted.size(); ++i)
    if (wanted[i]) {
      c.used.push_back(i);
      c.columns[i].reserve(ticks * requirement_signals()[i].width);
    }
  if (!c.used.empty()) c.times.reserve(ticks);
}

Watcher::~Watcher() = default;

void Watcher::release() {
  content_.reset();
}

bool Watcher::empty() const {
  return content_->requirements.empty();
}

void Watcher::watch(const Snapshot& s) {
  Content& c = *content_;
  if (c.used.empty()) return;
  c.times.push_back(s.time);
  for (const std::size_t i : c.used) {
    const Signal& signal = signal_table()[i];
    auto& column = c.columns[i];
    const std::size_t end = column.size();
    column.resize(end + signal.info.width);
    signal.read(s, &column[end]);
  }
}

std::vector<RequirementResult> Watcher::judge() const {
  const Content& c = *content_;
  std::vector<RequirementResult> all;
  if (c.times.empty()) return all;
  for (std::size_t i = 0; i < c.requirements.size(); ++i)
    all.push_back({c.names[i], c.requirements[i].text, scenarios::judge(c.requirements[i], samples()), {}});
  return all;
}

scenarios::TraceSamples Watcher::samples() const {
  const Content& c = *content_;
  return {c.times, [&c](std::size_t i) { return std::span<const double>(c.columns[i]); }};
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
