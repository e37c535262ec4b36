#include "plant-model/integrate/stage_sums.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace duskline::plant {

void first_stage(std::size_t n, const double* __restrict x, double h, const double* __restrict k1,
                 double* __restrict x1) {
  for (std::size_t i = 0; i < n; ++i) x1[i] = x[i] + h * k1[i];
}

void second_right_side(std::size_t n, const double* __restrict k1, double* __restrict f1) {
  for (std::size_t i = 0; i < n; ++i) f1[i] -= 2 * k1[i];
}

void combine_stages(std::size_t n, const double* __restrict x, double h, const double* __restrict k1,
                    double* __restrict k2, double* __restrict next) {
  for (std::size_t i = 0; i < n; ++i) {
    next[i] = x[i] + h * (1.5 * k1[i] + 0.5 * k2[i]);
    k2[i] = 0.5 * h * (k1[i] + k2[i]);
  }
}

double scaled_error(std::size_t n, const double* __restrict absolute, double relative,
                    const double* __restrict x0, const double* __restrict x1, const double* __restrict error,
                    double* __restrict ratio) {
  for (std::size_t i = 0; i < n; ++i) {
    const double a = std::abs(x0[i]);
    const double b = std::abs(x1[i]);
    ratio[i] = std::abs(error[i]) / (absolute[i] + relative * (a > b ? a : b));
  }
  constexpr std::size_t kLanes = 8;  // running maxima and sums, side by side
  std::array<double, kLanes> largest{};
  std::array<double, kLanes> sum{};
  std::size_t i = 0;
  for (; i + kLanes <= n; i += kLanes) {
    for (std::size_t lane = 0; lane < kLanes; ++lane) {
      const double value = ratio[i + lane];
      largest[lane] = value > largest[lane] ? value : largest[lane];
      sum[lane] += value;
    }
  }
  for (std::size_t lane = 0; i < n; ++i, ++lane) {
    const double value = ratio[i];
    largest[lane] = value > largest[lane] ? value : largest[lane];
    sum[lane] += value;
  }
  double total = 0;
  for (const double value : sum) total += value;
  return std::isfinite(total) ? *std::max_element(largest.begin(), largest.end()) : total;
}

}  // namespace duskline::plant
