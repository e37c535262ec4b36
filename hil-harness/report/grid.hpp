/// The instants at which a page shows a run, and the values of a signal at them.
///
/// A short run is shown row by row. A long one is cut into buckets of equally many rows, two instants each;
/// a signal then shows the least and the largest value of the bucket, in the order in which they occurred,
/// so that no peak is lost. Values are at most one bucket away from where they occurred. A signal of another
/// run is interpolated, or, where it is denser than the grid, reduced in the same way.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace duskline::harness {

class Grid {
 public:
  /// All of `times` (rising) when they are few, else about `most` instants.
  explicit Grid(std::span<const double> times, std::size_t most = 2400);

  const std::vector<double>& times() const { return times_; }

  /// Values of one place of a signal: `values` holds `width` numbers for each time.
  std::vector<double> show(std::span<const double> times, std::span<const double> values,
                           std::size_t width = 1, std::size_t place = 0) const;

  /// The least, or the greatest, value of each bucket, at both of its instants.
  std::vector<double> least(std::span<const double> times, std::span<const double> values,
                            std::size_t width = 1, std::size_t place = 0) const;
  std::vector<double> greatest(std::span<const double> times, std::span<const double> values,
                               std::size_t width = 1, std::size_t place = 0) const;

 private:
  std::vector<double> times_;
  std::vector<double> edges_;  ///< of the buckets; empty when every row is shown
};

}  // namespace duskline::harness
