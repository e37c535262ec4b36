#include "scenarios/requirements/stream.hpp"

#include <utility>

namespace duskline::scenarios {
namespace {

using logic::Kind;
using logic::Node;

constexpr double kEndless = std::numeric_limits<double>::infinity();
constexpr double kSlack = 1e-3;      // s, more than rounding and kSame of all windows within each other
constexpr std::size_t kLeast = 512;  // rows worth a step
constexpr std::size_t kNoPick = ~std::size_t{0};

bool is_comparison(const Node& n) {
  return n.kind == Kind::above || n.kind == Kind::near || n.kind == Kind::is_word || n.kind == Kind::has_word;
}
bool is_window(const Node& n) {
  return n.kind == Kind::always || n.kind == Kind::eventually;
}
/// A window of one instant: what it holds is asked there.
bool is_instant(const Node& n) {
  return is_window(n) && n.from == n.to;
}

}  // namespace

void Stream::Reach::widen(const Reach& other) {
  ahead = std::max(ahead, other.ahead);
  back = std::max(back, other.back);
  rows = std::max(rows, other.rows);
}

Stream::Reach Stream::reach(int i) const {
  if (i < 0) return {};
  const Node& n = node(i);
  Reach r = reach(n.a);
  r.widen(reach(n.b));
  switch (n.kind) {
    case Kind::rate:
    case Kind::becomes:
      ++r.rows;
      break;
    case Kind::always:
    case Kind::eventually:
      r.ahead += n.to;
      break;
    case Kind::past_always:
    case Kind::past_once:
      r.back += n.to;
      ++r.rows;
      break;
    case Kind::until:
    case Kind::since:
    case Kind::stretch:
      r.ahead = r.back = kEndless;
      break;
    default:
      break;
  }
  return r;
}

std::optional<Stream> Stream::of(const Requirement& requirement) {
  Stream s(requirement);
  if (!s.plan(static_cast<int>(requirement.nodes.size()) - 1, true, {})) return std::nullopt;
  for (std::size_t i = 0; i < requirement.nodes.size(); ++i)
    if (is_comparison(requirement.nodes[i])) s.sides_.push_back({static_cast<std::uint32_t>(i), false, 0.0});
  return s;
}

int Stream::fold(Fold f, std::vector<double> waits, std::initializer_list<Reach> reaches) {
  Reach sum;
  for (const Reach& r : reaches) sum.ahead += r.ahead, sum.back += r.back, sum.rows += r.rows;
  reach_.widen(sum);
  f.onset = Onset(std::move(waits));
  folds_.push_back(std::move(f));
  parts_.push_back({Kind::number, static_cast<int>(folds_.size()) - 1, -1});
  return static_cast<int>(parts_.size()) - 1;
}

/// The part that stands for node `i` at the instant that the waits lead to.
std::optional<int> Stream::plan(int i, bool positive, std::vector<double> waits) {
  const Node& n = node(i);
  if (is_window(n)) return plan_window(i, positive, std::move(waits));
  if (n.kind == Kind::stretch) return plan_stretch(i, std::move(waits));
  if (n.kind == Kind::negation || n.kind == Kind::both || n.kind == Kind::either) {
    const bool pair = n.kind != Kind::negation;
    const auto a = plan(n.a, pair == positive, waits);
    const auto b = pair ? plan(n.b, positive, waits) : std::optional<int>(-1);
    if (!a || !b) return std::nullopt;
    parts_.push_back({n.kind, *a, *b});
    return static_cast<int>(parts_.size()) - 1;
  }
  if (!reach(i).bounded()) return std::nullopt;
  waits.push_back(0.0);
  return fold({.node = i, .positive = positive}, std::move(waits), {reach(i)});
}

std::optional<int> Stream::plan_window(int i, bool positive, std::vector<double> waits) {
  const Node& n = node(i);
  waits.push_back(n.from);
  if (is_instant(n)) return plan(n.a, positive, std::move(waits));
  Fold f{.node = n.a,
         .positive = positive,
         .least = n.kind == Kind::always,
         .opens = std::isinf(n.to),
         .to = n.to};
  if (reach(n.a).bounded()) return fold(std::move(f), std::move(waits), {reach(n.a)});
  // after an event: always, from then on: the first occurrence asks for the most
  const Node& each = node(n.a);
  if (n.kind != Kind::always || !f.opens || !positive || each.kind != Kind::either) return std::nullopt;
  const Node& no_event = node(each.a);
  const Node& then = node(each.b);
  if (no_event.kind != Kind::negation || node(no_event.a).kind != Kind::becomes) return std::nullopt;
  if (then.kind != Kind::always || then.from != 0.0 || std::isfinite(then.to)) return std::nullopt;
  if (!reach(no_event.a).bounded() || !reach(then.a).bounded()) return std::nullopt;
  f.event = no_event.a;
  f.node = then.a;
  return fold(std::move(f), std::move(waits), {reach(no_event.a), reach(then.a)});
}

std::optional<int> Stream::plan_stretch(int i, std::vector<double> waits) {
  const Node& n = node(i);
  if (!reach(n.a).bounded()) return std::nullopt;
  Fold f{.node = n.b, .to = kEndless, .stretch = i};
  if (reach(n.b).bounded()) return fold(std::move(f), std::move(waits), {reach(n.a), reach(n.b)});
  // always, from a time after the beginning of the stretch on: its first instant asks for the most
  std::vector<double> within;
  int body = n.b;
  for (; is_instant(node(body)); body = node(body).a) within.push_back(node(body).from);
  const Node& all = node(body);
  if (all.kind != Kind::always || std::isfinite(all.to) || !reach(all.a).bounded()) return std::nullopt;
  within.push_back(all.from);
  f.node = all.a;
  f.within = Onset(std::move(within));
  return fold(std::move(f), std::move(waits), {reach(n.a), reach(all.a)});
}

/// The first row that an evaluation from row `begin` on looks at.
std::size_t Stream::front_of(const TraceSamples& window, std::size_t begin) const {
  const double earliest = window.times[begin] - reach_.back - kSlack;
  const auto later =
      std::upper_bound(window.times.begin(), window.times.begin() + static_cast<long>(begin), earliest);
  const auto before = static_cast<std::size_t>(later - window.times.begin());
  const std::size_t more = reach_.rows + 3;
  return before > more ? before - more : 0;
}

/// Follows the sides of the comparisons up to the row `to` of the window.
void Stream::mark(const TraceSamples& window, std::size_t base, std::size_t to) {
  const bool first = needs_ == 0 && mark_ == 0;
  if (base + to <= mark_ && !first) return;
  const std::size_t begin = first ? 0 : mark_ - base - 1;
  for (Side& side : sides_) {
    const Track t = Monitor(*q_, window, true, begin, to + 1).truth(static_cast<int>(side.who), true);
    if (first) side.negative = t.r[0] < 0.0, side.from = window.times[0];
    for (std::size_t row = first ? 1 : begin + 2; row <= to; ++row) {
      const bool negative = t.r[row - begin] < 0.0;
      if (negative != side.negative) side.negative = negative, side.from = window.times[row];
    }
  }
  mark_ = base + to;
}

void Stream::advance(const TraceSamples& window, std::size_t base) {
  const std::size_t n = window.times.size();
  if (n == 0 || needs_ == kNoPick) return;
  const std::size_t begin = next_ - base;
  // the last row of which everything is known
  const double latest = window.times[n - 1] - reach_.ahead - kSlack;
  const auto unknown =
      std::lower_bound(window.times.begin(), window.times.end(), latest) - window.times.begin();
  const std::size_t valid = std::max(begin + 1, static_cast<std::size_t>(unknown)) - 1;
  const std::size_t front = front_of(window, begin);
  if (valid < begin + std::max(kLeast, (n - valid) + (begin - front))) return;
  if (next_ == 0)
    for (Fold& f : folds_) f.onset.begin(window.times[0]);
  work(folds_, {window, base, front, begin, valid, false, true});
  next_ = base + valid;
  const std::size_t kept = front_of(window, valid);
  if (kept > 0) mark(window, base, kept + 1);
  needs_ = base + kept;
  const bool over = std::all_of(folds_.begin(), folds_.end(),
                                [](const Fold& f) { return f.closed && !(f.decided && f.lasts); });
  if (over) needs_ = kNoPick;
}

void Stream::work(std::vector<Fold>& folds, const Rows& rows) const {
  const auto& times = rows.window.times;
  const std::size_t n = times.size();
  constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
  for (Fold& f : folds) {
    if (f.decided && f.lasts) follow(f, rows);
    if (f.closed || rows.begin >= rows.end || (!rows.last && f.onset.later_than(times[rows.end]))) continue;
    Monitor monitor(*q_, rows.window, rows.beyond_is_bad, rows.front, n);
    std::vector<bool> inside;
    const Track track = f.stretch < 0 ? monitor.truth(f.node, f.positive)
                                      : monitor.each_stretch(node(f.stretch), f.node, f.positive, inside);
    const Track events = f.event < 0 ? Track() : monitor.truth(f.event, !f.positive);
    std::size_t pick = kNoPick;
    for (std::size_t row = rows.begin; row < rows.end; ++row) {
      const std::size_t k = row - rows.front;
      const bool more = row + 1 < n;
      if (!f.onset.reached(times[row], more ? times[row + 1] : kNone)) continue;
      if (times[row] > f.onset.origin() + f.to + kSame) {
        f.closed = true;
        break;
      }
      if (f.stretch >= 0) {
        if (inside[k] && !f.inside) f.within.begin(times[row]);
        f.inside = inside[k];
        const bool goes_on = f.inside && more && inside[k + 1];
        if (!f.inside || !f.within.reached(times[row], goes_on ? times[row + 1] : kNone)) {
          // nothing is asked here: as good as can be
          if (!f.decided && !goes_on) f.decided = true, f.best = {kEndless};
          continue;
        }
      }
      if (f.event >= 0 && !f.occurred) {
        f.occurred = events.r[k] > 0.0;
        if (!f.occurred) continue;
      }
      const double r = track.r[k];
      if (f.decided && !decides(r, track.who[k], f.best.r, f.best.who, f.least)) continue;
      f.decided = true;
      f.best.r = r, f.best.who = track.who[k];
      pick = row;
    }
    if (pick != kNoPick) describe(f, monitor, track, pick, rows);
  }
}

/// What decided at a row, and the stretch around it in which that comparison stays on the same side.
void Stream::describe(Fold& f, Monitor& monitor, const Track& track, std::size_t row,
                      const Rows& rows) const {
  const std::size_t k = row - rows.front;
  f.best = {track.r[k], track.who[k]};
  f.lasts = false;
  if (f.best.who == kNobody) return;
  const std::size_t at = track.at[k];
  f.best.time = rows.window.times[at];
  if (std::isfinite(f.best.r)) f.best.scale = monitor.scale_at(f.best.who, at);
  if (!(f.positive ? f.best.r < 0.0 : f.best.r > 0.0)) return;  // that is no violation
  const Track side = monitor.truth(static_cast<int>(f.best.who), true);
  const bool negative = side.r[at - rows.front] < 0.0;
  const std::size_t marked = mark_ > rows.base ? mark_ - rows.base : 0;
  std::size_t from = at;
  while (from > marked && (side.r[from - 1 - rows.front] < 0.0) == negative) --from;
  f.best.from = rows.window.times[from];
  if (from == marked && mark_ > 0)
    for (const Side& s : sides_)
      if (s.who == f.best.who) f.best.from = s.from;
  f.best.negative = negative;
  f.seen = rows.base + at;
  f.lasts = true;
  follow(f, rows);
}

void Stream::follow(Fold& f, const Rows& rows) const {
  const std::size_t n = rows.window.times.size();
  std::size_t row = f.seen - rows.base;
  if (row >= n) return;
  const std::size_t first = row > rows.front ? row - 1 : row;
  const Track side = Monitor(*q_, rows.window, true, first, n).truth(static_cast<int>(f.best.who), true);
  for (; row < n && f.lasts; ++row) {
    f.lasts = (side.r[row - first] < 0.0) == f.best.negative;
    if (f.lasts) f.best.to = rows.window.times[row];
  }
  f.seen = rows.base + n;
}

Decided Stream::result(const std::vector<Fold>& folds, int part, double end, bool bad) const {
  const Part& p = parts_[static_cast<std::size_t>(part)];
  if (p.kind == Kind::negation || p.kind == Kind::both || p.kind == Kind::either) {
    Decided d = result(folds, p.a, end, bad);
    if (p.kind == Kind::negation) {
      d.r = -d.r;
      return d;
    }
    const Decided other = result(folds, p.b, end, bad);
    return decides_side(other.r, other.who, d.r, d.who, p.kind == Kind::both) ? other : d;
  }
  const Fold& f = folds[static_cast<std::size_t>(p.a)];
  const double beyond = bad == f.positive ? -kEndless : kEndless;
  if (const std::size_t missing = f.onset.missing(); missing > 0) {
    if (missing == 1 && f.opens) return {f.least ? kEndless : -kEndless};
    return {beyond};
  }
  Decided d = f.decided ? f.best : Decided{kEndless};
  const bool cut = std::isfinite(f.to) && f.onset.origin() + f.to > end + kSame;
  if (cut && (f.least ? beyond < d.r : beyond > d.r)) d = {beyond};
  return d;
}

Verdict Stream::verdict(const TraceSamples& window, std::size_t base) const {
  const auto decide = [&](bool bad) {
    std::vector<Fold> folds = folds_;
    const double end = window.times.back();
    if (needs_ != kNoPick) {
      if (next_ == 0)
        for (Fold& f : folds) f.onset.begin(window.times[0]);
      const std::size_t begin = next_ - base;
      work(folds, {window, base, front_of(window, begin), begin, window.times.size(), true, bad});
    }
    return result(folds, static_cast<int>(parts_.size()) - 1, end, bad);
  };
  const Decided bad = decide(true);
  return verdict_of(*q_, bad, bad.r < 0.0 ? decide(false) : bad);
}

}  // namespace duskline::scenarios
