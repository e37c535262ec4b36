#include "hil-harness/campaign/statistics.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

/// Ranks from 1; equal values share the mean of theirs.
std::vector<double> ranks_of(const std::vector<double>& values) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  std::vector<double> ranks(values.size());
  for (std::size_t i = 0; i < order.size();) {
    std::size_t end = i + 1;
    while (end < order.size() && values[order[end]] == values[order[i]]) ++end;
    for (std::size_t k = i; k < end; ++k) ranks[order[k]] = 0.5 * static_cast<double>(i + end + 1);
    i = end;
  }
  return ranks;
}

struct Indices {
  double first, total;
};

/// Of one factor, over the blocks with these numbers.
Indices indices_of(const std::vector<SensitivityBlock>& blocks, const std::vector<std::size_t>& chosen,
                   std::size_t factor) {
  const auto n = static_cast<double>(chosen.size());
  double sum = 0.0, squares = 0.0, first = 0.0, total = 0.0;
  for (const std::size_t k : chosen) sum += blocks[k][0] + blocks[k][1];
  const double middle = sum / (2.0 * n);
  for (const std::size_t k : chosen) {
    const double a = blocks[k][0] - middle, b = blocks[k][1] - middle, mixed = blocks[k][factor + 2] - middle;
    squares += a * a + b * b;
    first += b * (mixed - a);
    total += (a - mixed) * (a - mixed);
  }
  const double variance = squares / (2.0 * n);
  return {first / n / variance, total / (2.0 * n) / variance};
}

}  // namespace

double quantile(std::vector<double> values, double p) {
  std::erase_if(values, [](double v) { return std::isnan(v); });
  if (values.empty()) return std::nan("");
  std::sort(values.begin(), values.end());
  const double place = p * static_cast<double>(values.size() - 1);
  const auto below = std::min(static_cast<std::size_t>(place), values.size() - 1);
  const std::size_t above = std::min(below + 1, values.size() - 1);
  return values[below] + (place - static_cast<double>(below)) * (values[above] - values[below]);
}

double mean(std::span<const double> values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

double rank_correlation(std::span<const double> x, std::span<const double> y) {
  std::vector<double> a, b;
  for (std::size_t i = 0; i < x.size(); ++i)
    if (!std::isnan(x[i]) && !std::isnan(y[i])) a.push_back(x[i]), b.push_back(y[i]);
  if (a.empty()) return std::nan("");
  a = ranks_of(a);
  b = ranks_of(b);
  const double middle = 0.5 * static_cast<double>(a.size() + 1);
  double both = 0.0, of_a = 0.0, of_b = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    both += (a[i] - middle) * (b[i] - middle);
    of_a += (a[i] - middle) * (a[i] - middle);
    of_b += (b[i] - middle) * (b[i] - middle);
  }
  return both / std::sqrt(of_a * of_b);
}

std::vector<Sensitivity> sensitivities(const std::vector<SensitivityBlock>& blocks, double confidence,
                                       std::size_t resamples) {
  if (blocks.empty()) return {};
  std::vector<Sensitivity> all(blocks.front().size() - 2);
  std::vector<std::size_t> every(blocks.size()), chosen(blocks.size());
  std::iota(every.begin(), every.end(), std::size_t{0});
  const plant::NoiseStream stream(1, "campaign/again");
  const double tail = 0.5 * (1.0 - confidence);
  for (std::size_t i = 0; i < all.size(); ++i) {
    std::vector<double> first, total;
    std::int64_t drawn = 0;  // the same draws for every factor
    for (std::size_t k = 0; k < resamples; ++k) {
      for (std::size_t& block : chosen)
        block = std::min(blocks.size() - 1, static_cast<std::size_t>(stream.uniform(drawn++) *
                                                                     static_cast<double>(blocks.size())));
      const Indices one = indices_of(blocks, chosen, i);
      first.push_back(one.first);
      total.push_back(one.total);
    }
    const Indices best = indices_of(blocks, every, i);
    all[i] = {best.first, quantile(first, tail), quantile(first, 1.0 - tail),
              best.total, quantile(total, tail), quantile(total, 1.0 - tail)};
  }
  return all;
}

}  // namespace duskline::harness
