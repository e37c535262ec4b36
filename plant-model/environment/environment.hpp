/// The air around the plant, tick by tick: smooth climate plus fluctuations, vortices and gusts.
/// value(t) = cubic through the climate at 60 s steps + amplitude(C, U) * turbulence(t) + sum of events
/// C: convection, 1 at noon under a high sun, 0 at night; U: mean wind, m/s; amplitudes: add_turbulence.
/// Valid at control periods of 0.1 s and longer; amplitudes as measured at 18 N at noon and at night.
/// Source: climate.hpp, turbulence.hpp, vortices.hpp.
/// Left out: links between gusts and temperature, dust lifted by gusts.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "plant-model/environment/ambient.hpp"
#include "plant-model/environment/climate.hpp"
#include "plant-model/environment/turbulence.hpp"
#include "plant-model/environment/vortices.hpp"

namespace duskline::plant {

class Environment {
 public:
  Environment(const EnvironmentSettings& settings, double period);

  /// What the plant meets at t = tick * period. A pure function of (settings, period, tick), whatever was
  /// asked before: only speed profits from ticks in sequence.
  Ambient at(std::int64_t tick);
  /// The smooth part, straight from the climate: no turbulence, vortices or gusts.
  Ambient mean_at(double t) const { return climate_.at(t).ambient; }
  /// Random and scheduled vortices whose closest approach falls in [from, to), by time.
  std::vector<VortexEvent> vortices_between(double from, double to) const;
  /// Time in seconds after the start at which local true solar time, counted in sols from the midnight before
  /// the start, reaches `sols`; time_at(1.25) is 6 h on the second sol.
  double time_at(double sols) const { return climate_.time_at(sols); }

  static constexpr double kKnotSpacing = 60.0;  ///< s

 private:
  enum Channel : std::size_t {
    kPressure,
    kTemperature,
    kWind,
    kSky,
    kGround,
    kDepth,
    kDust,
    kElevation,
    kLongitude,
    kSols,
    kConvection,
    kCarbonMonoxide,
    kOxygen,
    kNitrogen,
    kArgon,
    kSpare,
    kChannels
  };
  struct alignas(64) Knot {
    std::array<double, kChannels> value;
  };

  Knot knot(std::int64_t index) const;
  void move_to(std::int64_t interval);
  void add_turbulence(Ambient& a, double convection, double t);
  void add_events(Ambient& a, double t) const;
  std::vector<VortexEvent> random_vortices(std::int64_t sol) const;

  Climate climate_;
  double period_;
  Turbulence turbulence_;
  NoiseStream vortex_draws_;
  std::int64_t interval_ = INT64_MIN;
  std::array<Knot, 4> knots_{};
  std::int64_t sol_of_vortices_ = INT64_MIN;
  std::vector<VortexEvent> sol_vortices_;   ///< the random ones of the present sol
  std::vector<VortexEvent> near_vortices_;  ///< those felt somewhere in the present interval
  std::vector<GustEvent> near_gusts_;
};

}  // namespace duskline::plant
