/// All signals of a run in memory, for trends: rows at equal spacing, with the least and the greatest value between.
///
/// Validity     spacing is chosen so that a run has at most kHistoryRows rows; single precision. What did not reach the
///              operators is marked, and left out of what they are given
#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace duskline::harness {

inline constexpr std::int64_t kHistoryRows = 20000;

class SignalHistory {
 public:
  SignalHistory(std::size_t width, std::int64_t ticks);
  /// The values of the next tick; `arrives`: operators get them.
  void add(double time, std::span<const double> values, bool arrives = true);

  /// Samples of one signal from `from` to `to`, at most `points`: time, latest value, least, greatest.
  struct Samples {
    std::vector<double> time, value, least, greatest;
  };
  /// With `arrived` alone, NaN where nothing arrived.
  Samples samples(std::size_t signal, double from, double to, std::size_t points, bool arrived = false) const;
  std::size_t rows() const { return times_.size(); }
  double time(std::size_t row) const { return times_[row]; }
  bool arrived(std::size_t row) const { return arrived_[row]; }
  double value(std::size_t row, std::size_t signal) const {
    return static_cast<double>(last_[row * width_ + signal]);
  }

 private:
  std::size_t width_;
  std::int64_t stride_, ticks_{};
  std::vector<double> times_;
  std::vector<bool> arrived_;  ///< all ticks of the row
  std::vector<float> last_, least_,
      greatest_;  ///< row after row; the last two only where rows hold several ticks
};

}  // namespace duskline::harness
