/// Dust in the air: optical depth by season, storms on top of it, and the mass that reaches the intake.
/// tau = tau(Ls) + sum (peak - tau(Ls)) f(t), f: 3x^2 - 2x^3, then e^(-t/decay); c = 4 rho r tau/(3 Q H)
/// tau: 1, at 880 nm; c: kg/m3; grains r 1.5 um, rho 2700 kg/m3; extinction Q 2.6; scale height H 11.6 km.
/// Valid for tau 0.1-10; a great storm peaks at 8-10, rises in 10 sols and decays in 30-50.
/// Source: r, H: Lemmon et al., Science 306 (2004) 1753; haze 9e-8 kg/m3: Metzger et al., GRL 26 (1999) 2781.
/// Left out: change within a sol, fall-out on surfaces.
#pragma once

#include <span>

#include "plant-model/environment/periodic_spline.hpp"
#include "plant-model/environment/site.hpp"

namespace duskline::plant {

inline constexpr double kDustPerOpticalDepth = 1.75e-7;  ///< kg/m3

/// A dust storm that lifts the optical depth to `peak`.
struct StormEvent {
  double start{};  ///< s after the start of the run
  double peak{};   ///< 1, total optical depth at the height of the storm
  double rise{};   ///< s from the start to the peak
  double decay{};  ///< s, e-folding time after the peak
};

/// How far the storm has come, 0 before it, 1 at its peak.
double storm_progress(const StormEvent& storm, double t);

class OpticalDepth {
 public:
  OpticalDepth();
  double seasonal(const Site& site, double ls) const;
  static double with_storms(double seasonal_depth, std::span<const StormEvent> storms, double t);

 private:
  PeriodicSpline<12> season_;
};

}  // namespace duskline::plant
