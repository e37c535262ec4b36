/// A controller's memory and inputs, moved one number after another: what a tick makes of each.
///
/// What it is   central differences of one tick, in the mean over the cases (the latest ticks), for every source and for
///              every word of the memory that a source reaches
/// Equation     column = (tick(up) - tick(down)) / width; a wide move that rounding does not blur, a narrow one that stays
///              within the noise, where no gate against outliers and no clamp is in the way; the wide one counts where
///              both agree
/// Validity     `Asked` is a controller that can be asked:
///                Case            with moment.before.words; a copy is a memory of its own
///                kWords, kOut    words of the memory, commands
///                words(), number(word, bits), moves(word)
///                tick(case)      -> TickOf<kWords, kOut>
///                sources(), source(case, k) -> float&, source_moves(case, k)
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <deque>
#include <vector>

#include "hil-harness/linearize/state_space.hpp"
#include "plant-model/instruments/sensor.hpp"

namespace duskline::harness {

inline constexpr double kWide = 1.0 / 512.0;          // of a float's own size
inline constexpr double kWideReading = 1.0 / 8192.0;  // of an instrument's span
inline constexpr double kNarrow = 0.25;  // of what a float or a reading varies by from tick to tick
inline constexpr double kLeastMove = 1.0 / 262144.0;  // of a float's own size: 32 of its last digits
inline constexpr double kAgree = 0.002;               // share by which the two may differ

/// By how much something is moved to either side.
struct Moves {
  double wide, narrow;
};

/// What one tick made of a memory.
template <std::size_t Words, std::size_t Out>
struct TickOf {
  std::array<std::uint32_t, Words> after{};
  std::array<double, Out> u{};
  std::uint32_t mode = 0, limiter = 0;
  bool well = false;
};

inline double value(std::uint32_t word) {
  return static_cast<double>(std::bit_cast<float>(word));
}

/// Of a reading of this size.
inline Moves reading_moves(const plant::SensorSpec& spec, double size) {
  return {(spec.upper - spec.lower) * kWideReading, std::max(kNarrow * spec.noise, kLeastMove * size)};
}

template <std::size_t Out>
struct ColumnOf {
  std::vector<std::pair<std::size_t, double>> words;  ///< word, change per unit
  std::array<double, Out> u{};
};

/// All columns that have been looked at, and which words they reach.
template <class Asked>
class Differences {
  static constexpr std::size_t kWords = Asked::kWords, kOut = Asked::kOut;
  using Case = typename Asked::Case;
  using Tick = TickOf<kWords, kOut>;
  using Column = ColumnOf<kOut>;

 public:
  Differences(const Asked& controller, std::vector<Case> cases)
      : controller_(&controller), cases_(std::move(cases)) {
    for (std::size_t w = 0; w < controller_->words(); ++w) {
      double last = 0.0, moved = 0.0;
      for (std::size_t n = 0; n < cases_.size(); ++n) {
        const std::uint32_t bits = cases_[n].moment.before.words[w];
        if (!controller_->number(w, bits)) continue;
        size_[w] = std::max(size_[w], std::abs(value(bits)));
        if (n > 0) moved += std::abs(value(bits) - last);
        last = value(bits);
      }
      varies_[w] = moved / static_cast<double>(cases_.size());
    }
  }

  void run() {
    for (std::size_t k = 0; k < controller_->sources(); ++k) {
      const Moves moves = controller_->source_moves(cases_.back(), k);
      sources_.push_back(best(moves, [&](Case& c, double by) {
        float& place = controller_->source(c, k);
        const float before = place;
        place += static_cast<float>(by);
        return static_cast<double>(place) - static_cast<double>(before);
      }));
      note(sources_.back(), moves.wide / kWideReading);
    }
    while (!waiting_.empty()) {
      const std::size_t w = waiting_.front();
      waiting_.pop_front();
      const Moves moves{size_[w] * kWide, std::max(kNarrow * varies_[w], kLeastMove * size_[w])};
      column_[w] = best(moves, [&](Case& c, double by) {
        std::uint32_t& word = c.moment.before.words[w];
        if (!controller_->number(w, word)) return 0.0;
        const float before = std::bit_cast<float>(word);
        word = std::bit_cast<std::uint32_t>(before + static_cast<float>(by));
        return value(word) - static_cast<double>(before);
      });
      note(column_[w], size_[w]);
    }
  }

  const std::vector<Column>& sources() const { return sources_; }
  const Column& column(std::size_t word) const { return column_[word]; }
  double size(std::size_t word) const { return size_[word]; }

  /// Words that sources reach and that reach a command, in order.
  std::vector<std::size_t> kept() const {
    std::array<bool, kWords> useful{};
    for (std::size_t w = 0; w < controller_->words(); ++w)
      useful[w] = reached_[w] &&
                  std::any_of(column_[w].u.begin(), column_[w].u.end(), [](double u) { return u != 0.0; });
    for (bool grown = true; grown;) {
      grown = false;
      for (std::size_t w = 0; w < controller_->words(); ++w) {
        if (!reached_[w] || useful[w]) continue;
        useful[w] = std::any_of(column_[w].words.begin(), column_[w].words.end(),
                                [&](const auto& entry) { return entry.first != w && useful[entry.first]; });
        grown = grown || useful[w];
      }
    }
    std::vector<std::size_t> words;
    for (std::size_t w = 0; w < controller_->words(); ++w)
      if (useful[w]) words.push_back(w);
    return words;
  }

 private:
  /// A column as dense numbers, words, then commands: the mean over the cases, and how well it is known.
  struct Dense {
    std::array<double, kWords + kOut> mean{}, error{};
  };

  /// Central differences by a move that says what it really moved. Where the two sides take different branches (a
  /// counter, a mask or a word differs: an outlier on one side, a limit on the other) the case is left out.
  template <class Move>
  Dense differ(double by, Move move) const {
    Dense d;
    double count = 0.0;
    const auto add = [&d](std::size_t k, double slope) {
      d.mean[k] += slope;
      d.error[k] += slope * slope;
    };
    for (const Case& c : cases_) {
      Case up = c, down = c;
      const double width = move(up, by) - move(down, -by);
      if (!(width > 0.0)) continue;
      const Tick a = controller_->tick(up), b = controller_->tick(down);
      if (!same_branch(a, b)) continue;
      count += 1.0;
      for (std::size_t w = 0; w < controller_->words(); ++w)
        if (a.after[w] != b.after[w] && controller_->moves(w))
          add(w, (value(a.after[w]) - value(b.after[w])) / width);
      for (std::size_t k = 0; k < kOut; ++k) add(kWords + k, (a.u[k] - b.u[k]) / width);
    }
    if (count == 0.0) return {};
    for (std::size_t k = 0; k < d.mean.size(); ++k) {
      d.mean[k] /= count;
      d.error[k] = std::sqrt(std::max(0.0, d.error[k] / count - d.mean[k] * d.mean[k]) / count);
    }
    return d;
  }

  bool same_branch(const Tick& a, const Tick& b) const {
    if (!a.well || !b.well || a.mode != b.mode || a.limiter != b.limiter) return false;
    for (std::size_t w = 0; w < controller_->words(); ++w)
      if (a.after[w] != b.after[w] &&
          !(controller_->number(w, a.after[w]) && controller_->number(w, b.after[w])))
        return false;
    return true;
  }

  template <class Move>
  Column best(const Moves& moves, Move move) const {
    const Dense wide = differ(moves.wide, move);
    const Dense narrow = moves.narrow < moves.wide ? differ(moves.narrow, move) : wide;
    const auto chosen = [&](std::size_t k) {
      const double apart = std::abs(wide.mean[k] - narrow.mean[k]);
      const bool agree = apart <= std::max(kAgree * std::abs(wide.mean[k]), 2.0 * narrow.error[k]);
      return agree && wide.mean[k] != 0.0 ? wide.mean[k] : narrow.mean[k];
    };
    Column column;
    for (std::size_t w = 0; w < controller_->words(); ++w)
      if (const double slope = chosen(w); slope != 0.0) column.words.emplace_back(w, slope);
    for (std::size_t k = 0; k < kOut; ++k) column.u[k] = chosen(kWords + k);
    return column;
  }

  /// Words that are reached for the first time wait for their turn; one that stands at zero is as large as what
  /// its source, of the size given, makes of it.
  void note(const Column& column, double size) {
    for (const auto& [w, slope] : column.words) {
      size_[w] = std::max(size_[w], 1e-3 * std::abs(slope) * size);
      if (reached_[w]) continue;
      reached_[w] = true;
      waiting_.push_back(w);
    }
  }

  const Asked* controller_;
  std::vector<Case> cases_;
  std::array<double, kWords> size_{}, varies_{};
  std::array<bool, kWords> reached_{};
  std::deque<std::size_t> waiting_;
  std::vector<Column> sources_;
  std::array<Column, kWords> column_{};
};

/// A, B, C and D of what has been looked at, with the names of the states; inputs, outputs and step are left to the
/// caller.
template <class Asked>
StateSpace matrices_of(const Asked& controller, const Differences<Asked>& d) {
  using Eigen::Index;
  const std::vector<std::size_t> words = d.kept();
  std::array<Index, Asked::kWords> place;
  place.fill(-1);
  for (std::size_t k = 0; k < words.size(); ++k) place[words[k]] = static_cast<Index>(k);
  const auto n = static_cast<Index>(words.size()), sources = static_cast<Index>(controller.sources());
  StateSpace s;
  s.a = Eigen::MatrixXd::Zero(n, n);
  s.b = Eigen::MatrixXd::Zero(n, sources);
  s.c = Eigen::MatrixXd::Zero(Asked::kOut, n);
  s.d = Eigen::MatrixXd::Zero(Asked::kOut, sources);
  s.state_scale.resize(n);
  const auto put = [&](const ColumnOf<Asked::kOut>& column, Eigen::MatrixXd& states, Eigen::MatrixXd& outputs,
                       Index at) {
    for (const auto& [word, slope] : column.words)
      if (place[word] >= 0) states(place[word], at) = slope;
    for (std::size_t k = 0; k < Asked::kOut; ++k) outputs(static_cast<Index>(k), at) = column.u[k];
  };
  for (Index k = 0; k < n; ++k) {
    const std::size_t word = words[static_cast<std::size_t>(k)];
    put(d.column(word), s.a, s.c, k);
    s.state_scale[k] = d.size(word);
    s.states.push_back(controller.channel(word));
  }
  for (Index k = 0; k < sources; ++k) put(d.sources()[static_cast<std::size_t>(k)], s.b, s.d, k);
  return s;
}

}  // namespace duskline::harness
