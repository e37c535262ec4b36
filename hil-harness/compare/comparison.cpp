#include "hil-harness/compare/comparison.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace duskline::harness {
namespace {

/// Nobody reads a difference of one in ten thousand.
bool alike(double a, double b) {
  return std::abs(b - a) <= 1e-4 * std::max(std::abs(a), std::abs(b));
}

std::vector<FigurePair> figure_pairs(const SummaryView& a, const SummaryView& b) {
  std::vector<FigurePair> pairs;
  for (const FigureEntry& f : a.figures) pairs.push_back({f.text, f.unit, f.value, {}, f.words, ""});
  for (const FigureEntry& f : b.figures) {
    auto at = std::find_if(pairs.begin(), pairs.end(),
                           [&](const FigurePair& p) { return p.text == f.text && p.unit == f.unit; });
    if (at == pairs.end()) at = pairs.insert(pairs.end(), {f.text, f.unit, {}, {}, "", ""});
    at->b = f.value;
    at->words_b = f.words;
  }
  for (FigurePair& pair : pairs) pair.shown = !pair.same() && !(pair.a && pair.b && alike(*pair.a, *pair.b));
  return pairs;
}

std::vector<VerdictPair> verdict_pairs(const SummaryView& a, const SummaryView& b) {
  std::vector<VerdictPair> pairs;
  for (const RequirementEntry& r : a.requirements) {
    VerdictPair pair;
    pair.name = r.name;
    pair.unit = r.unit;
    pair.a = word(r.verdict_class);
    pair.margin_a = r.margin;
    pairs.push_back(pair);
  }
  for (const RequirementEntry& r : b.requirements) {
    auto at =
        std::find_if(pairs.begin(), pairs.end(), [&](const VerdictPair& p) { return p.name == r.name; });
    if (at == pairs.end()) {
      at = pairs.insert(pairs.end(), VerdictPair{});
      at->name = r.name;
      at->unit = r.unit;
    }
    at->b = word(r.verdict_class);
    at->margin_b = r.margin;
  }
  for (VerdictPair& pair : pairs) {
    pair.shown = pair.changed();
    pair.lost = pair.a == word(VerdictClass::satisfied) && pair.b == word(VerdictClass::violated);
  }
  return pairs;
}

void pair_events(const SummaryView& a, const SummaryView& b, Comparison& c) {
  std::map<std::pair<std::string, std::string>, std::pair<std::vector<double>, std::vector<double>>> all;
  for (const EventEntry& e : a.events) all[{e.kind, e.text}].first.push_back(e.time);
  for (const EventEntry& e : b.events) all[{e.kind, e.text}].second.push_back(e.time);
  for (const auto& [key, times] : all)
    for (std::size_t i = 0; i < std::max(times.first.size(), times.second.size()); ++i) {
      EventPair pair{key.first, key.second, {}, {}};
      if (i < times.first.size()) pair.a = times.first[i];
      if (i < times.second.size()) pair.b = times.second[i];
      if (pair.a && pair.b && std::abs(*pair.a - *pair.b) <= kSameInstant)
        ++c.events_alike;
      else
        c.events.push_back(std::move(pair));
    }
  const auto first = [](const EventPair& p) { return p.a && p.b ? std::min(*p.a, *p.b) : p.a ? *p.a : *p.b; };
  std::stable_sort(c.events.begin(), c.events.end(),
                   [&](const EventPair& x, const EventPair& y) { return first(x) < first(y); });
}

/// Largest difference of one signal over the time that both runs cover.
class Difference {
 public:
  Difference(const TraceReader& a, const TraceReader& b, const SignalInfo& signal)
      : a_(a), b_(b), signal_(signal), in_a_(a.column(signal.name)), in_b_(b.column(signal.name)) {}

  std::optional<SignalPair> find() {
    const std::size_t width = signal_.width;
    if (in_a_.size() != a_.rows() * width || in_b_.size() != b_.rows() * width) return std::nullopt;
    SignalPair pair;
    pair.name = signal_.name;
    pair.unit = signal_.unit;
    pair.controller = signal_.group == "control";
    std::size_t after = 0;
    for (std::size_t row = 0; row < a_.rows(); ++row) {
      const double time = a_.times()[row];
      while (after < b_.rows() && b_.times()[after] < time) ++after;
      if (after == b_.rows()) break;
      if (after == 0 && b_.times()[0] > time) continue;
      for (std::size_t place = 0; place < width; ++place) take(pair, row, after, place, time);
    }
    if (pair.largest == 0.0) return std::nullopt;
    pair.share = signal_.flags.empty() ? pair.largest / (high_ - low_)
                                       : static_cast<double>(unlike_) / static_cast<double>(taken_);
    return pair;
  }

 private:
  void take(SignalPair& pair, std::size_t row, std::size_t after, std::size_t place, double time) {
    const double x = in_a_[row * signal_.width + place];
    const double y = at(after, place, time);
    if (!std::isfinite(x) || !std::isfinite(y)) return;
    low_ = std::min({low_, x, y});
    high_ = std::max({high_, x, y});
    ++taken_;
    unlike_ += x == y ? 0 : 1;
    const double gap = signal_.flags.empty() ? std::abs(y - x) : x == y ? 0.0 : 1.0;
    if (gap <= pair.largest) return;
    pair.largest = gap;
    pair.time = time;
    pair.place = signal_.width > 1 ? place + 1 : 0;
  }

  double at(std::size_t after, std::size_t place, double time) const {
    const double next = in_b_[after * signal_.width + place];
    if (b_.times()[after] == time || after == 0) return next;
    const double before = in_b_[(after - 1) * signal_.width + place];
    if (!signal_.flags.empty()) return before;
    const double share = (time - b_.times()[after - 1]) / (b_.times()[after] - b_.times()[after - 1]);
    return (1.0 - share) * before + share * next;
  }

  const TraceReader &a_, &b_;
  const SignalInfo& signal_;
  std::vector<double> in_a_, in_b_;
  std::size_t taken_ = 0, unlike_ = 0;
  double low_ = std::numeric_limits<double>::infinity(), high_ = -low_;
};

void compare_signals(const TraceReader& a, const TraceReader& b, Comparison& c) {
  for (const SignalInfo& signal : a.signals()) {
    const SignalInfo* other = b.find(signal.name);
    if (other == nullptr || other->width != signal.width || other->unit != signal.unit ||
        other->flags != signal.flags) {
      c.only_a.push_back(signal.name);
      if (other != nullptr) c.only_b.push_back(signal.name);
      continue;
    }
    if (auto pair = Difference(a, b, signal).find()) c.signals.push_back(std::move(*pair));
  }
  for (const SignalInfo& signal : b.signals())
    if (a.find(signal.name) == nullptr) c.only_b.push_back(signal.name);
  std::stable_sort(c.signals.begin(), c.signals.end(), [](const SignalPair& x, const SignalPair& y) {
    return x.controller != y.controller ? y.controller : x.share > y.share;
  });
}

double period(const TraceReader& trace) {
  return trace.rows() > 1 ? trace.times()[1] - trace.times()[0] : 0.0;
}

std::vector<std::string> notes_on(const ComparedRun& a, const ComparedRun& b) {
  std::vector<std::string> notes;
  const SummaryView &x = a.summary, &y = b.summary;
  const auto unlike = [&](const char* what, const std::string& p, const std::string& q) {
    if (p != q)
      notes.push_back(
          fmt::format("{}: {} in A, {} in B", what, p.empty() ? "none" : p, q.empty() ? "none" : q));
  };
  unlike("scenario", x.title, y.title);
  unlike("plant", x.plant, y.plant);
  unlike("seed", x.seed, y.seed);
  unlike("version", x.version, y.version);
  unlike("end", x.end, y.end);
  if (x.end_time && y.end_time && *x.end_time != *y.end_time)
    notes.push_back(
        fmt::format("length: {:g} s in A, {:g} s in B; signals are compared in the time that both cover",
                    *x.end_time, *y.end_time));
  if (a.trace && b.trace && a.trace->rows() > 1 && b.trace->rows() > 1 &&
      period(*a.trace) != period(*b.trace))
    notes.push_back(
        fmt::format("period of the trace: {:g} s in A, {:g} s in B", period(*a.trace), period(*b.trace)));
  for (const auto* run : {&a, &b})
    if (!run->trace) notes.push_back(fmt::format("{} has no trace: signals are not compared", run->name));
  return notes;
}

Finding finding_of(const Comparison& c) {
  if (c.verdicts.empty()) return {"", "No requirement was checked."};
  const auto lost = lost_requirements(c);
  if (lost.empty()) return {"good", "No requirement that A satisfies is violated in B."};
  return {"bad", fmt::format("Violated in B, satisfied in A: {}", fmt::join(lost, "; "))};
}

}  // namespace

std::optional<ComparedRun> read_compared(const std::string& name, const std::string& trace_path,
                                         const std::string& summary, std::string& problem) {
  auto view = read_summary(summary, problem);
  if (!view) return std::nullopt;
  ComparedRun run{name, std::move(*view), std::nullopt};
  if (!trace_path.empty()) {
    run.trace = TraceReader::open(trace_path, problem);
    if (!run.trace) return std::nullopt;
  }
  return run;
}

Comparison compare(const ComparedRun& a, const ComparedRun& b) {
  Comparison c;
  c.notes = notes_on(a, b);
  c.figures = figure_pairs(a.summary, b.summary);
  c.verdicts = verdict_pairs(a.summary, b.summary);
  pair_events(a.summary, b.summary, c);
  if (a.trace && b.trace) compare_signals(*a.trace, *b.trace, c);
  c.finding = finding_of(c);
  return c;
}

std::vector<std::string> lost_requirements(const Comparison& comparison) {
  std::vector<std::string> names;
  for (const VerdictPair& pair : comparison.verdicts)
    if (pair.lost) names.push_back(pair.name);
  return names;
}

}  // namespace duskline::harness
