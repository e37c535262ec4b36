#include "plant-model/environment/weather_series.hpp"

#include <algorithm>
#include <cmath>

namespace duskline::plant {
namespace {

constexpr double kNearlyOneSol =
    0.9;  // a stretch this long is closed to a whole sol with its own first value

double median_spacing(const std::vector<double>& sols) {
  if (sols.size() < 2) return 1.0;
  std::vector<double> steps(sols.size() - 1);
  for (std::size_t i = 0; i < steps.size(); ++i) steps[i] = sols[i + 1] - sols[i];
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

}  // namespace

void WeatherChannel::assign(std::vector<double> sols, std::vector<double> values, double repeat,
                            bool by_hour) {
  sols_ = std::move(sols);
  values_ = std::move(values);
  gaps_.clear();
  stretches_.clear();
  if (sols_.empty()) return;
  spacing_ = median_spacing(sols_);
  daily_ = spacing_ >= kDailySpacing;
  by_hour_ = by_hour && !daily_;
  for (std::size_t i = 0; i + 1 < sols_.size(); ++i) {
    const double step = sols_[i + 1] - sols_[i];
    if (step > 1.5 * spacing_) gaps_.push_back({sols_[i], sols_[i + 1], by_hour_ && step > kLongGap});
  }
  if (repeat > 0.0) {  // the first sol is copied behind the end, so that the end joins the beginning
    const double first = sols_[0];
    const std::size_t count = sols_.size();
    for (std::size_t i = 0; i < count && (i == 0 || sols_[i] < first + 1.0); ++i) {
      if (sols_[i] + repeat <= sols_.back()) continue;
      sols_.push_back(sols_[i] + repeat);
      values_.push_back(values_[i]);
    }
  }
  find_stretches();
}

void WeatherChannel::find_stretches() {
  if (!by_hour_) {
    stretches_ = {{0, sols_.size() - 1}};
    return;
  }
  std::vector<double> sols, values;
  std::size_t begin = 0;
  for (std::size_t i = 0; i < sols_.size(); ++i) {
    if (i + 1 < sols_.size() && sols_[i + 1] - sols_[i] <= kLongGap) continue;
    const std::size_t first = sols.size();
    sols.insert(sols.end(), sols_.begin() + static_cast<std::ptrdiff_t>(begin),
                sols_.begin() + static_cast<std::ptrdiff_t>(i + 1));
    values.insert(values.end(), values_.begin() + static_cast<std::ptrdiff_t>(begin),
                  values_.begin() + static_cast<std::ptrdiff_t>(i + 1));
    const double span = sols.back() - sols[first];
    const double closing = sols[first] + 1.0;
    if (span >= kNearlyOneSol && span < 1.0 && (i + 1 == sols_.size() || closing < sols_[i + 1])) {
      sols.push_back(closing);
      values.push_back(values[first]);
    }
    stretches_.push_back({first, sols.size() - 1});
    begin = i + 1;
  }
  sols_ = std::move(sols);
  values_ = std::move(values);
}

bool WeatherChannel::joined(std::size_t left) const {
  return !by_hour_ || sols_[left + 1] - sols_[left] <= kLongGap;
}

double WeatherChannel::slope(std::size_t i) const {
  if (i == 0 || i + 1 == sols_.size() || !joined(i - 1) || !joined(i)) return 0.0;
  const double h0 = sols_[i] - sols_[i - 1], h1 = sols_[i + 1] - sols_[i];
  const double d0 = (values_[i] - values_[i - 1]) / h0, d1 = (values_[i + 1] - values_[i]) / h1;
  if (d0 * d1 <= 0.0) return 0.0;
  const double w0 = 2.0 * h1 + h0, w1 = h1 + 2.0 * h0;
  return (w0 + w1) / (w0 / d0 + w1 / d1);
}

double WeatherChannel::inside(double sol, std::size_t left) const {
  const double h = sols_[left + 1] - sols_[left];
  const double x = (sol - sols_[left]) / h;
  const double y0 = values_[left], y1 = values_[left + 1];
  const double m0 = h * slope(left), m1 = h * slope(left + 1);
  const double a = 2.0 * (y0 - y1) + m0 + m1, b = 3.0 * (y1 - y0) - 2.0 * m0 - m1;
  return ((a * x + b) * x + m0) * x + y0;
}

/// Value inside a stretch, held at the ends of the whole series.
double WeatherChannel::within(double sol) const {
  if (sol <= sols_.front()) return values_.front();
  if (sol >= sols_.back()) return values_.back();
  const auto above = std::upper_bound(sols_.begin(), sols_.end(), sol);
  return inside(sol, static_cast<std::size_t>(above - sols_.begin()) - 1);
}

/// The last (or first) sol of a stretch repeated at the local hour of `sol`, without a jump where it repeats.
double WeatherChannel::repeated(double sol, const Stretch& stretch, bool stretch_is_before) const {
  if (stretch_is_before) {
    const double end = sols_[stretch.last], begin = end - 1.0;
    const double at = sol - std::ceil(sol - end);
    const double miss = values_[stretch.last] - within(begin);
    return within(at) + miss * (1.0 - (at - begin));
  }
  const double begin = sols_[stretch.first], end = begin + 1.0;
  const double at = sol + std::ceil(begin - sol);
  const double miss = values_[stretch.first] - within(end);
  return within(at) + miss * (at - begin);
}

double WeatherChannel::fill(double sol, const Stretch* before, const Stretch* after) const {
  // Rounding may leave a closed sol a hair shorter than one.
  const auto whole_sol = [this](const Stretch* s) {
    return s != nullptr && by_hour_ && sols_[s->last] - sols_[s->first] >= 1.0 - 1e-9;
  };
  const bool a = whole_sol(before), b = whole_sol(after);
  const double left = before == nullptr ? 0.0 : (a ? repeated(sol, *before, true) : values_[before->last]);
  const double right = after == nullptr ? 0.0 : (b ? repeated(sol, *after, false) : values_[after->first]);
  if (before == nullptr) return right;
  if (after == nullptr) return left;
  const double x = (sol - sols_[before->last]) / (sols_[after->first] - sols_[before->last]);
  return (1.0 - x) * left + x * right;
}

double WeatherChannel::at(double sol) const {
  if (sol < sols_.front()) return fill(sol, nullptr, &stretches_.front());
  if (sol >= sols_.back()) return fill(sol, &stretches_.back(), nullptr);
  const auto above = std::upper_bound(sols_.begin(), sols_.end(), sol);
  const std::size_t left = static_cast<std::size_t>(above - sols_.begin()) - 1;
  if (joined(left)) return inside(sol, left);
  const auto after = std::partition_point(stretches_.begin(), stretches_.end(),
                                          [left](const Stretch& s) { return s.first <= left; });
  return fill(sol, &*(after - 1), &*after);
}

double WeatherSeries::at(WeatherQuantity q, double sol) const {
  if (repeat > 0.0) sol -= repeat * std::floor((sol - first_sol) / repeat);
  return (*this)[q].at(sol);
}

}  // namespace duskline::plant
