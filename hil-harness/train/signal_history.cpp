#include "hil-harness/train/signal_history.hpp"

#include <algorithm>
#include <cmath>

namespace duskline::harness {

SignalHistory::SignalHistory(std::size_t width, std::int64_t ticks)
    : width_(width), stride_(std::max<std::int64_t>(1, (ticks + kHistoryRows - 1) / kHistoryRows)) {}

void SignalHistory::add(double time, std::span<const double> values, bool arrives) {
  const bool begins = ticks_++ % stride_ == 0;
  if (begins) {
    times_.push_back(time);
    arrived_.push_back(arrives);
    for (auto* column : {&last_, &least_, &greatest_})
      if (column == &last_ || stride_ > 1)
        for (const double value : values) column->push_back(static_cast<float>(value));
    return;
  }
  times_.back() = time;
  arrived_.back() = arrived_.back() && arrives;
  const std::size_t row = (times_.size() - 1) * width_;
  for (std::size_t i = 0; i < width_; ++i) {
    const auto value = static_cast<float>(values[i]);
    last_[row + i] = value;
    least_[row + i] = std::fmin(least_[row + i], value);
    greatest_[row + i] = std::fmax(greatest_[row + i], value);
  }
}

SignalHistory::Samples SignalHistory::samples(std::size_t signal, double from, double to, std::size_t points,
                                              bool arrived) const {
  Samples all;
  const auto begin =
      static_cast<std::size_t>(std::lower_bound(times_.begin(), times_.end(), from) - times_.begin());
  const auto end =
      static_cast<std::size_t>(std::upper_bound(times_.begin(), times_.end(), to) - times_.begin());
  if (begin >= end || points == 0) return all;
  const std::size_t step = (end - begin + points - 1) / points;
  const std::vector<float>& low = stride_ > 1 ? least_ : last_;
  const std::vector<float>& high = stride_ > 1 ? greatest_ : last_;
  for (std::size_t row = begin; row < end; row += step) {
    const std::size_t until = std::min(end, row + step);
    float least = NAN, greatest = NAN;
    const auto given = [&](std::size_t k) { return !arrived || arrived_[k]; };
    for (std::size_t k = row; k < until; ++k) {
      if (!given(k)) continue;
      least = std::fmin(least, low[k * width_ + signal]);
      greatest = std::fmax(greatest, high[k * width_ + signal]);
    }
    all.time.push_back(times_[until - 1]);
    all.value.push_back(given(until - 1) ? value(until - 1, signal) : std::nan(""));
    all.least.push_back(static_cast<double>(least));
    all.greatest.push_back(static_cast<double>(greatest));
  }
  return all;
}

}  // namespace duskline::harness
