/// Judges a requirement while the samples arrive, and keeps no more of them than its windows reach.
///
/// What it is   the extrema of a sentence as folds, each over what has bounded reach: `always`, `never`, `eventually`
///              and what holds at one instant, after a time, after an event, or whenever a condition holds; truths of
///              them
/// Equation     verdict, margin, instant and stretch are those of judge() of the whole trace, exactly: a block of
///              rows is evaluated by the same Monitor, over a window that reaches `back` before and `ahead` beyond it
/// Symbols      back, ahead [s] sums of the bounds of windows within each other; rows are counted from the first
///              sample of the run
/// Validity     rows of rising time, none left out; memory grows with the bounds of the windows, not with the run
/// Left out     windows without an end within others (but `always` after an event or whenever), `until`, `since`, `past`
///              without a time: those need the whole trace (judge)
#pragma once

#include <initializer_list>
#include <optional>

#include "scenarios/requirements/keeper.hpp"
#include "scenarios/requirements/monitor.hpp"

namespace duskline::scenarios {

/// The row at which a window begins that opens a time after another one began, and so on.
class Onset {
 public:
  explicit Onset(std::vector<double> waits = {}) : waits_(std::move(waits)) {}
  void begin(double t) { stage_ = 0, base_ = origin_ = t; }
  /// Rows come in turn, with the time of the next one, NaN for the last; true from the row of the beginning on.
  bool reached(double t, double next) {
    for (; stage_ < waits_.size(); ++stage_) {
      const double begins = base_ + waits_[stage_];
      if (std::isnan(next) ? begins > t + kSame : next <= begins + kSame) return false;
      origin_ = base_, base_ = t;
    }
    return true;
  }
  /// No row before `t` is the beginning.
  bool later_than(double t) const { return stage_ < waits_.size() && t <= base_ + waits_[stage_] + kSame; }
  /// Windows that have not begun.
  std::size_t missing() const { return waits_.size() - stage_; }
  double origin() const { return origin_; }  ///< s, from which the last wait is counted
  void keep(Keeper& k) {
    auto& [waits, stage, base, origin] = *this;
    k(waits, stage, base, origin);
  }

 private:
  std::vector<double> waits_;
  std::size_t stage_ = 0;
  double base_ = 0.0, origin_ = 0.0;
};

class Stream {
 public:
  /// Nothing when the sentence needs the whole trace. The requirement must outlive it.
  static std::optional<Stream> of(const Requirement& requirement);

  /// Works off what can be decided. `window` holds the rows from number `base` on; more will follow.
  void advance(const TraceSamples& window, std::size_t base);
  /// The first row that must be there next time.
  std::size_t needs() const { return needs_; }
  /// The verdict if no more rows follow. At least one row has been there.
  Verdict verdict(const TraceSamples& window, std::size_t base) const;
  /// What it knows so far; it is read back into the stream of the same requirement.
  void keep(Keeper& k) {
    auto& [requirement, parts, folds, sides, reach, next, needs, mark] = *this;
    k(folds, sides, next, needs, mark);
  }

 private:
  /// How far the truth of a part looks.
  struct Reach {
    double ahead = 0.0, back = 0.0;
    std::size_t rows = 0;  ///< back, beyond the time
    bool bounded() const { return std::isfinite(ahead) && std::isfinite(back); }
    void widen(const Reach& other);
  };
  /// The extremum of a part from one instant on.
  struct Fold {
    int node = 0;
    bool positive = true, least = true;
    Onset onset{};         ///< from the first row of the run
    bool opens = false;    ///< the last wait is the beginning of a window without an end
    double to = 0.0;       ///< s, end of the window, from onset.origin()
    int stretch = -1;      ///< node: only in the stretches in which its condition holds
    Onset within{};        ///< from the first row of a stretch
    int event = -1;        ///< node: only from its first occurrence on
    bool closed = false;   ///< no further row counts
    bool decided = false;  ///< `best` is of a row
    Decided best{};
    std::size_t seen = 0;  ///< the rows before it have been looked at for the stretch around `best`
    bool lasts = false;    ///< that stretch goes on
    bool inside = false, occurred = false;
    void keep(Keeper& k) {
      auto& [n, p, l, o, open, end, s, w, e, c, d, b, rows, last, in, was] = *this;
      k(n, p, l, o, open, end, s, w, e, c, d, b, rows, last, in, was);
    }
  };
  struct Part {
    logic::Kind kind{};
    int a = -1, b = -1;  ///< parts; of a fold: its place
  };
  /// A comparison at the row `mark_`: on which side it is, and since when.
  struct Side {
    std::uint32_t who = 0;
    bool negative = false;
    double from = 0.0;
  };
  struct Rows {
    const TraceSamples& window;
    std::size_t base, front, begin,
        end;  ///< window rows: first kept, first new one, end of what can be decided
    bool last, beyond_is_bad;
  };

  explicit Stream(const Requirement& requirement) : q_(&requirement) {}
  const logic::Node& node(int i) const { return q_->nodes[static_cast<std::size_t>(i)]; }
  Reach reach(int i) const;
  std::optional<int> plan(int i, bool positive, std::vector<double> waits);
  std::optional<int> plan_window(int i, bool positive, std::vector<double> waits);
  std::optional<int> plan_stretch(int i, std::vector<double> waits);
  int fold(Fold f, std::vector<double> waits, std::initializer_list<Reach> reaches);
  std::size_t front_of(const TraceSamples& window, std::size_t begin) const;
  void mark(const TraceSamples& window, std::size_t base, std::size_t to);
  void work(std::vector<Fold>& folds, const Rows& rows) const;
  void describe(Fold& f, Monitor& monitor, const Track& track, std::size_t row, const Rows& rows) const;
  void follow(Fold& f, const Rows& rows) const;
  Decided result(const std::vector<Fold>& folds, int part, double end, bool bad) const;

  const Requirement* q_;
  std::vector<Part> parts_;
  std::vector<Fold> folds_;
  std::vector<Side> sides_;
  Reach reach_;
  std::size_t next_ = 0, needs_ = 0, mark_ = 0;  ///< rows
};

}  // namespace duskline::scenarios
