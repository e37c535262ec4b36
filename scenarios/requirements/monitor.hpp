/// Robustness of every part of a requirement at every sample of a stretch of a trace.
///
/// What it is   one evaluation over the rows first to last, with what lies beyond the last taken as bad (or good) for
///              the requirement
/// Equation     requirement.hpp
/// Symbols      indices of rows; `at` and `who` name the row and the comparison that decided
/// Validity     rows whose windows reach neither before the first row nor beyond the last one come out as of the whole
///              trace
/// Left out     verdicts: judge.cpp of the whole trace, stream.hpp while the samples arrive
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <utility>

#include "scenarios/requirements/requirement.hpp"
#include "scenarios/requirements/sliding.hpp"

namespace duskline::scenarios {

inline constexpr std::uint32_t kNobody = 0xffffffffU;
inline constexpr double kSame = 1e-6;  ///< s, instants that differ by rounding only

/// Robustness at each sample, with the sample and the comparison that decided it.
struct Track {
  std::vector<double> r;
  std::vector<std::uint32_t> at, who;
  explicit Track(std::size_t n = 0) : r(n), at(n, kNobody), who(n, kNobody) {}
  void copy(std::size_t i, const Track& from, std::size_t j) {
    r[i] = from.r[j], at[i] = from.at[j], who[i] = from.who[j];
  }
};

/// What decided an evaluation: the robustness, the comparison, its instant, what the robustness was divided by, and the
/// stretch around that instant in which the comparison stays on one side.
struct Decided {
  double r = 0.0;
  std::uint32_t who = kNobody;
  double time = 0.0, scale = 1.0, from = 0.0, to = 0.0;  ///< s, 1, s, s
  bool negative = false;                                 ///< the side
};

/// Whether a robustness decides over another: it is less (or greater), or as much and a comparison stands behind it while
/// none stands behind the other, as where words are compared and where nothing is asked.
constexpr bool decides(double r, std::uint32_t who, double than, std::uint32_t than_who, bool least) {
  return (least ? r < than : r > than) || (r == than && who != kNobody && than_who == kNobody);
}

/// Of two sides of `and` (or `or`): the same, but where either side alone would do, one of which nothing is asked does.
constexpr bool decides_side(double r, std::uint32_t who, double than, std::uint32_t than_who, bool both) {
  if (!both && r == than && r == std::numeric_limits<double>::infinity())
    return who == kNobody && than_who != kNobody;
  return decides(r, who, than, than_who, both);
}

/// The verdict, with what lies beyond the end of the trace taken as bad and as good.
Verdict verdict_of(const Requirement& requirement, const Decided& bad, const Decided& good);

/// One evaluation: samples first to last, what lies beyond the end taken as bad (or good) for the requirement.
class Monitor {
 public:
  using Kind = logic::Kind;
  using Node = logic::Node;

  Monitor(const Requirement& q, const TraceSamples& trace, bool beyond_is_bad)
      : Monitor(q, trace, beyond_is_bad, 0, trace.times.size()) {}
  Monitor(const Requirement& q, const TraceSamples& trace, bool beyond_is_bad, std::size_t first,
          std::size_t last)
      : q_(q), trace_(trace), beyond_is_bad_(beyond_is_bad), first_(first), last_(last) {}

  Track truth(int i, bool positive) {
    const Node& n = q_.nodes[static_cast<std::size_t>(i)];
    switch (n.kind) {
      case Kind::above:
      case Kind::near:
      case Kind::is_word:
      case Kind::has_word:
        return comparison(n, static_cast<std::uint32_t>(i), positive);
      case Kind::negation: {
        Track t = truth(n.a, !positive);
        for (double& r : t.r) r = -r;
        return t;
      }
      case Kind::both:
      case Kind::either: {
        Track t = truth(n.a, positive);
        const Track other = truth(n.b, positive);
        for (std::size_t k = 0; k < t.r.size(); ++k)
          if (decides_side(other.r[k], other.who[k], t.r[k], t.who[k], n.kind == Kind::both))
            t.copy(k, other, k);
        return t;
      }
      case Kind::becomes: {
        Track t = truth(n.a, positive);
        bool before = true;
        for (std::size_t k = 0; k < t.r.size(); ++k) {
          const bool now = t.r[k] > 0.0;
          t.r[k] = now && !before ? kForever : -kForever;
          t.at[k] = t.who[k] = kNobody;
          before = now;
        }
        return t;
      }
      case Kind::always:
      case Kind::eventually:
        return ahead(n, truth(n.a, positive), positive);
      case Kind::past_always:
      case Kind::past_once:
        return behind(n, truth(n.a, positive));
      case Kind::until:
      case Kind::since:
        return lasting(n, positive);
      case Kind::stretch:
        return stretches(n, positive);
      default:
        return Track(size());
    }
  }

  bool cut() const { return cut_; }

  /// What the robustness of comparison `i` was divided by at a row of the trace.
  double scale_at(std::uint32_t i, std::size_t row) const {
    const Node& n = q_.nodes[i];
    return n.relative ? scale(n, value(n.a)[row - first_], value(n.b)[row - first_]) : n.scale;
  }

  /// The body of `n` at each instant of each stretch in which its condition holds; elsewhere nothing is asked.
  /// `inside` tells where it holds.
  Track each_stretch(const Node& n, int body_of, bool positive, std::vector<bool>& inside) {
    const Track condition = truth(n.a, false);
    Track t(size());
    std::fill(t.r.begin(), t.r.end(), positive ? kForever : -kForever);
    inside.assign(size(), false);
    const std::size_t first = first_, last = last_;
    for (std::size_t k = 0; k < condition.r.size();) {
      if (!(condition.r[k] > 0.0)) {
        ++k;
        continue;
      }
      std::size_t end = k;
      while (end < condition.r.size() && condition.r[end] > 0.0) inside[end++] = true;
      first_ = first + k, last_ = first + end;
      const bool outer = std::exchange(in_stretch_, true);
      const Track body = truth(body_of, positive);
      in_stretch_ = outer;
      first_ = first, last_ = last;
      for (std::size_t i = 0; i < body.r.size(); ++i) t.copy(k + i, body, i);
      k = end;
    }
    return t;
  }

  std::vector<double> value(int i) const {
    const Node& n = q_.nodes[static_cast<std::size_t>(i)];
    std::vector<double> v(size());
    switch (n.kind) {
      case Kind::number:
        std::fill(v.begin(), v.end(), n.number);
        return v;
      case Kind::signal:
      case Kind::least:
      case Kind::greatest:
      case Kind::mean:
        return samples(n);
      case Kind::magnitude:
      case Kind::scaled: {
        v = value(n.a);
        for (double& x : v) x = n.kind == Kind::scaled ? n.number * x : std::abs(x);
        return v;
      }
      case Kind::sum:
      case Kind::difference: {
        v = value(n.a);
        const auto other = value(n.b);
        for (std::size_t k = 0; k < v.size(); ++k) v[k] += n.kind == Kind::sum ? other[k] : -other[k];
        return v;
      }
      case Kind::rate: {
        const auto x = value(n.a);
        for (std::size_t k = 0; k < v.size(); ++k)
          v[k] = k == 0 ? std::nan("") : (x[k] - x[k - 1]) / (time(k) - time(k - 1));
        return v;
      }
      default:
        return v;
    }
  }

 private:
  static constexpr double kForever = std::numeric_limits<double>::infinity();

  std::size_t size() const { return last_ - first_; }
  double time(std::size_t k) const { return trace_.times[first_ + k]; }

  /// Of a share of a signal: the share; of two signals: the larger; so that units can be compared.
  static double scale(const Node& n, double a, double b) {
    if (!n.relative) return n.scale;
    const double size = n.kind == Kind::near ? n.number * std::abs(b) : std::max(std::abs(a), std::abs(b));
    return size > 0.0 ? size : 1.0;
  }

  std::vector<double> samples(const Node& n) const {
    const auto column = trace_.column(n.signal);
    const std::size_t rows = trace_.times.size(), width = rows == 0 ? 1 : column.size() / rows;
    std::vector<double> v(size());
    for (std::size_t k = 0; k < v.size(); ++k) {
      const double* row = column.data() + (first_ + k) * width;
      if (n.kind == Kind::signal) {
        v[k] = row[n.item];
        continue;
      }
      double best = std::nan(""), sum = 0.0;
      for (std::size_t w = 0; w < width; ++w) {
        sum += row[w];
        if (std::isnan(row[w])) continue;
        if (std::isnan(best) || (n.kind == Kind::greatest ? row[w] > best : row[w] < best)) best = row[w];
      }
      v[k] = n.kind == Kind::mean ? sum / static_cast<double>(width) : best;
    }
    return v;
  }

  Track comparison(const Node& n, std::uint32_t self, bool positive) const {
    Track t(size());
    const auto a = value(n.a);
    const auto b = n.b >= 0 ? value(n.b) : std::vector<double>(size());
    for (std::size_t k = 0; k < t.r.size(); ++k) {
      double r = 0.0;
      switch (n.kind) {
        case Kind::above:
          r = (a[k] - b[k]) / scale(n, a[k], b[k]);
          break;
        case Kind::near: {
          const double tolerance = n.relative ? n.number * std::abs(b[k]) : n.number;
          r = (tolerance - std::abs(a[k] - b[k])) / scale(n, a[k], b[k]);
          break;
        }
        case Kind::is_word:
          r = a[k] == static_cast<double>(n.item) ? kForever : -kForever;
          break;
        default:
          r = (static_cast<std::uint64_t>(std::max(0.0, a[k])) >> n.item & 1U) != 0 ? kForever : -kForever;
      }
      // without a value nothing is held against the requirement
      t.r[k] = std::isnan(a[k]) || std::isnan(b[k]) || std::isnan(r) ? (positive ? kForever : -kForever) : r;
      if (std::isnan(a[k]) || std::isnan(b[k])) continue;
      t.at[k] = static_cast<std::uint32_t>(first_ + k);
      t.who[k] = self;
    }
    return t;
  }

  /// What lies beyond the end of the trace; beyond the end of a stretch nothing is asked.
  double beyond_end(bool positive) const {
    const bool bad = beyond_is_bad_ && !in_stretch_;
    return bad == positive ? -kForever : kForever;
  }

  Track ahead(const Node& n, const Track& of, bool positive) {
    Track t(size());
    const bool least = n.kind == Kind::always;
    const double beyond = beyond_end(positive);
    const double end = size() > 0 ? time(size() - 1) : 0.0;
    std::size_t from = 0, to = 0;
    const auto first = [&](std::size_t i) {
      // a sample holds until the next: the window begins with the one that holds at its beginning
      while (from + 1 < size() && time(from + 1) <= time(i) + n.from + kSame) ++from;
      return time(i) + n.from > end + kSame ? size() : from;
    };
    const auto last = [&](std::size_t i) {
      while (to < size() && time(to) <= time(i) + n.to + kSame) ++to;
      return to;
    };
    slide(
        size(), size(), first, last,
        [&](std::size_t a, std::size_t b) { return !decides(of.r[b], of.who[b], of.r[a], of.who[a], least); },
        [&](std::size_t i, std::size_t best) {
          if (best < size())
            t.copy(i, of, best);
          else
            t.r[i] = std::isinf(n.to) ? (least ? kForever : -kForever) : beyond;
          const bool short_of_end = std::isfinite(n.to) && time(i) + n.to > end + kSame;
          if (!short_of_end) return;
          cut_ = cut_ || !in_stretch_;
          if (least ? beyond < t.r[i] : beyond > t.r[i]) {
            t.r[i] = beyond;
            t.at[i] = t.who[i] = kNobody;
          }
        });
    return t;
  }

  Track behind(const Node& n, const Track& of) const {
    Track t(size());
    const bool least = n.kind == Kind::past_always;
    std::size_t from = 0;
    const auto first = [&](std::size_t i) {
      while (from + 1 < size() && time(from + 1) <= time(i) - n.to + kSame) ++from;
      return from;
    };
    slide(
        size(), size(), first, [](std::size_t i) { return i + 1; },
        [&](std::size_t a, std::size_t b) { return !decides(of.r[b], of.who[b], of.r[a], of.who[a], least); },
        [&](std::size_t i, std::size_t best) { t.copy(i, of, best); });
    return t;
  }

  /// a until b, within `to`: the unbounded one and "b within to" together; since is the same backwards.
  Track lasting(const Node& n, bool positive) {
    const Track a = truth(n.a, positive), b = truth(n.b, positive);
    Track t(size());
    const bool forward = n.kind == Kind::until;
    for (std::size_t step = 0; step < size(); ++step) {
      const std::size_t k = forward ? size() - 1 - step : step;
      t.copy(k, b, k);
      if (step == 0) {
        // within a time that ends later, a may hold on and b come beyond the end
        const double later = std::min(a.r[k], beyond_end(positive));
        if (forward && std::isfinite(n.to) && later > t.r[k]) t.copy(k, a, k);
        continue;
      }
      const std::size_t other = forward ? k + 1 : k - 1;
      const bool held = a.r[k] < t.r[other];
      const double through = held ? a.r[k] : t.r[other];
      if (through <= t.r[k]) continue;
      if (held)
        t.copy(k, a, k);
      else
        t.copy(k, t, other);
    }
    if (std::isinf(n.to)) return t;
    Node soon = n;
    soon.kind = forward ? Kind::eventually : Kind::past_once;
    const Track in_time = forward ? ahead(soon, b, positive) : behind(soon, b);
    for (std::size_t k = 0; k < size(); ++k)
      if (in_time.r[k] < t.r[k]) t.copy(k, in_time, k);
    return t;
  }

  /// The body over the stretches, as a whole.
  Track stretches(const Node& n, bool positive) {
    std::vector<bool> inside;
    Track t = each_stretch(n, n.b, positive, inside);
    // as a whole: the least over the rest of the trace
    for (std::size_t k = t.r.size(); k-- > 1;)
      if (decides(t.r[k], t.who[k], t.r[k - 1], t.who[k - 1], true)) t.copy(k - 1, t, k);
    return t;
  }

  const Requirement& q_;
  const TraceSamples& trace_;
  bool beyond_is_bad_;
  std::size_t first_, last_;
  bool cut_ = false, in_stretch_ = false;
};

}  // namespace duskline::scenarios
