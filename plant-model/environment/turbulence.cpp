#include "plant-model/environment/turbulence.hpp"

#include <cmath>

namespace duskline::plant {
namespace {

/// Uniform deviate of zero mean and unit variance. Innovations need not be normal: a value of the process
/// sums tens of them, and its kurtosis differs from 3 by less than 0.07.
double unit_variance(std::uint32_t word) {
  constexpr double kRootTwelve = 3.4641016151377544;
  return ((static_cast<double>(word) + 0.5) * 0x1p-32 - 0.5) * kRootTwelve;
}

/// Maps a standard normal to unit variance and kurtosis 5.9 (that of a Laplace variable is 6).
double heavy_tailed(double x) {
  constexpr double c = 0.085;
  constexpr double kScale = 0.7862;  // 1/sqrt(1 + 6 c + 15 c^2)
  return kScale * x * (1.0 + c * x * x);
}

/// Draws three processes of N steps from one generator block a step.
template <std::size_t N>
void draw_three(std::array<BridgedNoise<N>, 3>& processes, const NoiseStream& stream, std::int64_t block,
                double correlation, const std::array<double, 3>& first, const std::array<double, 3>& last) {
  std::array<std::array<double, N>, 3> innovations;
  for (std::size_t i = 0; i < N; ++i) {
    const PhiloxCounter words =
        stream.words(block * static_cast<std::int64_t>(N) + static_cast<std::int64_t>(i));
    for (std::size_t k = 0; k < 3; ++k) innovations[k][i] = unit_variance(words[k]);
  }
  for (std::size_t k = 0; k < 3; ++k) processes[k].fill(correlation, innovations[k], first[k], last[k]);
}

}  // namespace

template <std::size_t N>
void BridgedNoise<N>::fill(double correlation, const std::array<double, N>& innovations, double first,
                           double last) {
  const double gain = std::sqrt(1.0 - correlation * correlation);
  double x = first;
  value_[0] = x;
  for (std::size_t i = 0; i < N; ++i) {
    x = correlation * x + gain * innovations[i];
    value_[i + 1] = x;
  }
  // Conditioning on the value at the far end: the miss there is taken out with the covariance to it.
  const double miss = last - x;
  double weight = 1.0;
  for (std::size_t i = N; i > 0 && weight > 1e-18; --i) {
    value_[i] += weight * miss;
    weight *= correlation;
  }
  value_[N + 1] = value_[N];
}

Turbulence::Turbulence(std::uint64_t seed)
    : fast_words_(seed, "environment/turbulence-20s"),
      slow_words_(seed, "environment/turbulence-300s"),
      ends_(seed, "environment/turbulence-ends") {}

void Turbulence::draw(std::int64_t block) {
  const std::array<double, 4> a = ends_.normals(2 * block), b = ends_.normals(2 * block + 1);
  const std::array<double, 4> c = ends_.normals(2 * block + 2), d = ends_.normals(2 * block + 3);
  draw_three(fast_, fast_words_, block, std::exp(-kBlock / kFastSteps / kFastTime), {a[0], a[1], a[2]},
             {c[0], c[1], c[2]});
  draw_three(slow_, slow_words_, block, std::exp(-kBlock / kSlowSteps / kSlowTime), {b[0], b[1], b[2]},
             {d[0], d[1], d[2]});
  block_ = block;
}

Turbulence::Sample Turbulence::at(double t) {
  const double whole = std::floor(t / kBlock);
  const auto block = static_cast<std::int64_t>(whole);
  if (block != block_) draw(block);
  const double inside = t - whole * kBlock;
  const double fast = inside * (kFastSteps / kBlock), slow = inside * (kSlowSteps / kBlock);
  return {heavy_tailed(fast_[0](fast)),
          slow_[0](slow),
          fast_[1](fast),
          slow_[1](slow),
          fast_[2](fast),
          slow_[2](slow)};
}

template class BridgedNoise<Turbulence::kFastSteps>;
template class BridgedNoise<Turbulence::kSlowSteps>;

}  // namespace duskline::plant
