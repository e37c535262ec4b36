/// How long things took in a paced run: counts in bins, percentiles, and what was late.
///
/// What it is   a histogram of fixed size, so that a run of any length needs no memory while it goes
/// Equation     bin k holds lengths from 1e-7 s * 10^(k/50) to 1e-7 s * 10^((k+1)/50); a percentile is the upper edge of
///              the bin that holds it, the greatest length at most: at most 4.8 % above the true one
/// Symbols      lengths in s
/// Validity     up to 100 s; what is shorter or longer is counted in the first or the last bin
/// Left out     which tick it was
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>

namespace duskline::harness {

class Durations {
 public:
  static constexpr int kPerDecade = 50, kDecades = 9;
  static constexpr double kShortest = 1e-7;  ///< s

  void add(double seconds);
  std::uint64_t count() const { return count_; }
  double greatest() const { return greatest_; }
  double mean() const { return count_ == 0 ? 0.0 : sum_ / static_cast<double>(count_); }
  /// The length that a share of all does not exceed, 0 to 1; 0 when there are none.
  double percentile(double share) const;

  /// Bins with something in them, `together` of the fine ones in one; f(from, to, count) with edges in s.
  template <class F>
  void each_bin(std::size_t together, F f) const {
    for (std::size_t k = 0; k < bins_.size(); k += together) {
      std::uint64_t count = 0;
      for (std::size_t i = k; i < k + together && i < bins_.size(); ++i) count += bins_[i];
      if (count > 0) f(edge(k), edge(k + together), count);
    }
  }

 private:
  static double edge(std::size_t bin);

  std::array<std::uint64_t, std::size_t{kPerDecade} * kDecades> bins_{};
  std::uint64_t count_{};
  double greatest_{}, sum_{};
};

/// What a paced run leaves beside its trace.
struct Timing {
  double period{}, speed{};  ///< s of plant; s of plant in a second of the clock
  std::int64_t ticks{};
  std::int64_t overruns{};              ///< ticks that were still at work when the next one was due
  std::int64_t late{};                  ///< answers that took longer than the period
  std::int64_t lost{};                  ///< requests that had to be sent again
  double behind{};                      ///< s, furthest behind the clock
  Durations begin, step, answer, work;  ///< beginning late; period's error; time to the answer; whole tick
  std::string scheduling, memory;       ///< what the operating system granted, and why not
};

/// The whole as JSON; it is measured and never the same twice.
std::string timing_json(const Timing& timing);
/// A few lines for the terminal.
std::string timing_text(const Timing& timing);

}  // namespace duskline::harness
