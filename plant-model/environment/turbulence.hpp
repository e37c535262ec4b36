/// Fluctuations of temperature, pressure and wind within a sol: a fast and a slow random process each.
/// dx = -x dt/T + sqrt(2/T) dW, T = 20 s and 300 s (Ornstein-Uhlenbeck), exact at steps of 1 and 15 s.
/// x: in units of its standard deviation; the fast temperature has exponential-like tails (kurtosis about 6).
/// Valid as one-point statistics at 1 Hz; amplitudes are the caller's.
/// Source: 1 Hz records at 18 N reduced for this project; tails after de la Torre Juarez (abstract only).
/// Left out: spectrum above 0.5 Hz, links between the quantities, skewness.
///
/// Each hour of a process is drawn as one block between two independent end points (a bridge), so that its
/// value is a pure function of time: a run restarted at any tick meets the same air.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "plant-model/random/noise.hpp"

namespace duskline::plant {

/// An Ornstein-Uhlenbeck process of unit variance on a regular grid, one block of N steps at a time.
template <std::size_t N>
class BridgedNoise {
 public:
  /// `innovations` has unit variance; `ends` are the values at both ends of the block.
  void fill(double correlation, const std::array<double, N>& innovations, double first, double last);
  /// Value at `step` in [0, N], linear between grid points.
  double operator()(double step) const {
    const auto i = static_cast<std::size_t>(step);
    const double f = step - static_cast<double>(i);
    return value_[i] + f * (value_[i + 1] - value_[i]);
  }

 private:
  std::array<double, N + 2> value_{};
};

class Turbulence {
 public:
  static constexpr double kFastTime = 20.0, kSlowTime = 300.0;  ///< s
  static constexpr double kBlock = 3600.0;                      ///< s
  static constexpr std::size_t kFastSteps = 3600, kSlowSteps = 240;

  struct Sample {
    double temperature_fast, temperature_slow, pressure_fast, pressure_slow, wind_fast, wind_slow;
  };

  explicit Turbulence(std::uint64_t seed);
  Sample at(double t);

 private:
  void draw(std::int64_t block);

  NoiseStream fast_words_, slow_words_, ends_;
  std::int64_t block_ = INT64_MIN;
  std::array<BridgedNoise<kFastSteps>, 3> fast_;
  std::array<BridgedNoise<kSlowSteps>, 3> slow_;
};

}  // namespace duskline::plant
