#include "hil-harness/report/grid.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace duskline::harness {
namespace {

constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();

struct Column {
  std::span<const double> times;
  std::span<const double> values;
  std::size_t width;
  std::size_t place;

  double at(std::size_t row) const { return values[row * width + place]; }
  std::size_t row_from(double time) const {
    return static_cast<std::size_t>(std::lower_bound(times.begin(), times.end(), time) - times.begin());
  }
};

double interpolate(const Column& column, double time) {
  const std::size_t after = column.row_from(time);
  if (after == column.times.size()) return kUnknown;
  if (column.times[after] == time) return column.at(after);
  if (after == 0) return kUnknown;
  const double from = column.times[after - 1];
  const double share = (time - from) / (column.times[after] - from);
  return (1.0 - share) * column.at(after - 1) + share * column.at(after);
}

/// Least and largest value of the rows [begin, end), in the order in which they occur.
void extremes(const Column& column, std::size_t begin, std::size_t end, double& first, double& second) {
  std::size_t low = end;
  std::size_t high = end;
  for (std::size_t row = begin; row < end; ++row) {
    const double value = column.at(row);
    if (!std::isfinite(value)) continue;
    if (low == end || value < column.at(low)) low = row;
    if (high == end || value > column.at(high)) high = row;
  }
  first = low == end ? kUnknown : column.at(std::min(low, high));
  second = low == end ? kUnknown : column.at(std::max(low, high));
}

}  // namespace

Grid::Grid(std::span<const double> times, std::size_t most) {
  if (times.size() <= most + most / 4) {
    times_.assign(times.begin(), times.end());
    return;
  }
  const std::size_t buckets = std::max<std::size_t>(most / 2, 1);
  for (std::size_t b = 0; b < buckets; ++b) edges_.push_back(times[b * times.size() / buckets]);
  edges_.push_back(times.back());
  for (std::size_t b = 0; b < buckets; ++b) {
    const double length = edges_[b + 1] - edges_[b];
    times_.push_back(edges_[b] + 0.25 * length);
    times_.push_back(edges_[b] + 0.75 * length);
  }
  times_.front() = times.front();
  times_.back() = times.back();
}

std::vector<double> Grid::show(std::span<const double> times, std::span<const double> values,
                               std::size_t width, std::size_t place) const {
  const Column column{times, values, width, place};
  std::vector<double> shown(times_.size(), kUnknown);
  if (values.size() != times.size() * width) return shown;
  if (edges_.empty()) {
    for (std::size_t i = 0; i < shown.size(); ++i) shown[i] = interpolate(column, times_[i]);
    return shown;
  }
  for (std::size_t b = 0; b + 1 < edges_.size(); ++b) {
    const std::size_t begin = column.row_from(edges_[b]);
    const bool last = b + 2 == edges_.size();
    const std::size_t end = last ? column.times.size() : column.row_from(edges_[b + 1]);
    if (end >= begin + 2) {
      extremes(column, begin, end, shown[2 * b], shown[2 * b + 1]);
    } else {
      shown[2 * b] = interpolate(column, times_[2 * b]);
      shown[2 * b + 1] = interpolate(column, times_[2 * b + 1]);
    }
  }
  return shown;
}

std::vector<double> Grid::least(std::span<const double> times, std::span<const double> values,
                                std::size_t width, std::size_t place) const {
  std::vector<double> shown = show(times, values, width, place);
  for (std::size_t b = 0; b + 1 < edges_.size(); ++b)
    shown[2 * b] = shown[2 * b + 1] = std::fmin(shown[2 * b], shown[2 * b + 1]);
  return shown;
}

std::vector<double> Grid::greatest(std::span<const double> times, std::span<const double> values,
                                   std::size_t width, std::size_t place) const {
  std::vector<double> shown = show(times, values, width, place);
  for (std::size_t b = 0; b + 1 < edges_.size(); ++b)
    shown[2 * b] = shown[2 * b + 1] = std::fmax(shown[2 * b], shown[2 * b + 1]);
  return shown;
}

}  // namespace duskline::harness
