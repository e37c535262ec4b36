#include <cmath>

#include "scenarios/requirements/monitor.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {
namespace {

/// What decided at the first row.
Decided decided(const Requirement& q, const TraceSamples& trace, const Monitor& monitor, const Track& t) {
  Decided d{t.r[0], t.who[0]};
  if (d.who == kNobody) return d;
  const std::size_t at = t.at[0];
  d.time = trace.times[at];
  if (std::isfinite(d.r)) d.scale = monitor.scale_at(d.who, at);
  if (!(d.r < 0.0)) return d;
  const Track side = Monitor(q, trace, true).truth(static_cast<int>(d.who), true);
  d.negative = side.r[at] < 0.0;
  std::size_t from = at, to = at;
  while (from > 0 && (side.r[from - 1] < 0.0) == d.negative) --from;
  while (to + 1 < side.r.size() && (side.r[to + 1] < 0.0) == d.negative) ++to;
  d.from = trace.times[from], d.to = trace.times[to];
  return d;
}

}  // namespace

std::vector<double> value_of(const Requirement& q, int root, const TraceSamples& trace) {
  return Monitor(q, trace, true).value(root);
}

Verdict verdict_of(const Requirement& q, const Decided& bad, const Decided& good) {
  const Decided& d = bad.r < 0.0 ? good : bad;
  Verdict v;
  v.relative = v.margin = d.r;
  v.outcome = d.r < 0.0 ? Outcome::violated : bad.r < 0.0 ? Outcome::undecided : Outcome::satisfied;
  if (v.outcome == Outcome::satisfied && d.who == kNobody) v.outcome = Outcome::not_exercised;
  if (d.who == kNobody) return v;
  const logic::Node& comparison = q.nodes[d.who];
  v.unit = comparison.unit;
  v.typed = comparison.typed;
  if (std::isfinite(d.r)) v.margin = d.r * d.scale;
  v.time = d.time;
  v.begin = comparison.begin, v.end = comparison.end;
  if (v.outcome == Outcome::violated) v.violated_from = d.from, v.violated_to = d.to;
  return v;
}

Verdict judge(const Requirement& q, const TraceSamples& trace) {
  const int whole = static_cast<int>(q.nodes.size()) - 1;
  Monitor bad(q, trace, true), good(q, trace, false);
  const Decided worst = decided(q, trace, bad, bad.truth(whole, true));
  if (!(worst.r < 0.0) || !bad.cut()) return verdict_of(q, worst, worst);
  return verdict_of(q, worst, decided(q, trace, good, good.truth(whole, true)));
}

}  // namespace duskline::scenarios
