/// What many runs say together.
///
/// What it is   quantiles, rank correlation, sensitivities of the scheme of two points and their mixtures
/// Equation     quantile: linear between order statistics at (n - 1) p; rank correlation: that of ranks, equal values
///              sharing theirs; S_i = mean(y_B (y_Ai - y_A))/V, T_i = mean((y_A - y_Ai)^2)/(2 V), V the variance of
///              y_A and y_B together
/// Symbols      y_A, y_B values at independent points, y_Ai at A with factor i taken from B; S_i the share of the
///              variance that factor i explains alone, T_i with all that it interacts with
/// Validity     factors independent of each other; intervals: percentiles over blocks drawn again with replacement
/// Source       R. J. Hyndman, Y. Fan, Am. Stat. 50 (1996) 361, type 7; A. Saltelli et al., Comput. Phys. Commun. 181
///              (2010) 259 (S); M. J. W. Jansen, Comput. Phys. Commun. 117 (1999) 35 (T); B. Efron, Ann. Stat. 7 (1979) 1
/// Left out     interactions of pairs by themselves
#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace duskline::harness {

/// Values that are not a number are left out; none: not a number.
double quantile(std::vector<double> values, double p);
double mean(std::span<const double> values);

/// Over the pairs of which both are numbers; not a number when one of them never changes.
double rank_correlation(std::span<const double> x, std::span<const double> y);

struct Sensitivity {
  double first{}, first_low{}, first_high{};  ///< S and its interval
  double total{}, total_low{}, total_high{};  ///< T and its interval
};
/// A block of the scheme: values at A, at B, and at A with each factor from B.
using SensitivityBlock = std::vector<double>;
/// One for each factor; `confidence` of the intervals, from `resamples` draws of the blocks.
std::vector<Sensitivity> sensitivities(const std::vector<SensitivityBlock>& blocks, double confidence = 0.95,
                                       std::size_t resamples = 500);

}  // namespace duskline::harness
