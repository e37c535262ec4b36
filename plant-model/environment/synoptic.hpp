/// What differs from one sol to the next: warm and cold sols, and pressure waves that travel past.
/// T' = s(h) x(sol), x seeded normal, joined smoothly; p' = A [cos(2 pi n/2.5 + a) + 0.8 cos(2 pi n/7 + b)]
/// s: scatter by hour, K; n: sols since the start; A: Pa; a, b: seeded phases.
/// Valid as a stand-in for scatter: temperature and pressure are not linked as in real fronts.
/// Source: scatter of composites.hpp; periods, 4 Pa: Forget et al., EPSC2021-273; amplitude at 44 N guessed.
/// Left out: change of the waves with season, wind shifts.
#pragma once

#include <cmath>
#include <cstdint>

#include "plant-model/environment/composites.hpp"
#include "plant-model/environment/periodic_spline.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "plant-model/random/noise.hpp"

namespace duskline::plant {

class SynopticWeather {
 public:
  explicit SynopticWeather(std::uint64_t seed)
      : sols_(seed, "environment/sol-to-sol"), scatter_(kCompositeHours, 24.0, kCompositeScatter) {
    const NoiseStream phases(seed, "environment/travelling-waves");
    first_phase_ = kTurn * phases.uniform(0);
    second_phase_ = kTurn * phases.uniform(1);
  }
  /// K; `sols` is the unwrapped local time.
  double temperature(double sols) const {
    const double whole = std::floor(sols), x = sols - whole;
    const auto n = static_cast<std::int64_t>(whole);
    // A cosine blend from sol to sol, scaled to unit variance at every instant.
    const double b = 0.5 - 0.5 * std::cos(0.5 * kTurn * x), a = 1.0 - b;
    const double blend = (a * sols_.normal(n) + b * sols_.normal(n + 1)) / std::sqrt(a * a + b * b);
    return scatter_(24.0 * x) * blend;
  }
  /// Pa
  double pressure(double sols, double amplitude) const {
    return amplitude *
           (std::cos(kTurn * sols / 2.5 + first_phase_) + 0.8 * std::cos(kTurn * sols / 7.0 + second_phase_));
  }

 private:
  NoiseStream sols_;
  PeriodicSpline<12> scatter_;
  double first_phase_{}, second_phase_{};
};

}  // namespace duskline::plant
