/// What all cells share and nobody measures: resistance beyond the model, exchange currents, diffusion in the electrode,
/// and the errors that act alike on all cells.
///
/// What it is   states, prior, process noise and row of one Kalman filter; the residual is that of the mean cell voltage
/// Equation     nu = <i> dR + (dV/dln i_c) ln f_c + (dV/dln i_a) ln f_a + (dV/dd) dd + (dV/dT) dT + (dV/dln n) ln f_n
///              + b; at another working point b begins anew and every variance has grown by a share; f_c, f_a, d, dT
///              and f_n return to their priors with time constants of their own
/// Symbols      R [ohm m2]; f_c, f_a [1] exchange currents over those of the parameters; d [m2/A]; T [K] and f_n [1]
///              common errors of thermocouples and feed; b [V] what the model misses at this working point
/// Validity     as column.hpp; slopes stand while the working point does (resistance.hpp)
/// Source       priors: controller_parameters.h (ranges of the plant file); R drifts as a random walk; a
///              constant that does not return drifts along what one working point does not show: with a random
///              walk the margin was estimated 30 mV too high after 250 sols (mars-year)
/// Left out     activation energies (the stack stands within 20 K of the temperature of the constants); the share of
///              the cathode's overpotential that drives coke: no voltage shows it, and all of it is taken to
#pragma once

#include "controller/estimate/column.hpp"
#include "controller/estimate/kalman.hpp"

namespace duskline::controller {

enum CommonState : uint32_t {
  common_added,        // ohm m2
  common_growth,       // ohm m2/s
  common_cathode,      // ln(1)
  common_anode,        // ln(1)
  common_diffusion,    // m2/A
  common_temperature,  // K, true less measured
  common_flow,         // ln(1), true over measured
  common_point,        // V
  kCommonStates
};
static_assert(uint32_t{common_cathode} + constant_diffusion == common_diffusion, "in the order of Constant");

inline constexpr float kMostFactor = 1.2f;     // ln, a third to three times
inline constexpr float kPointForgets = 0.05f;  // of each variance, at another working point
inline constexpr float kMostGrowth = 1e-9f;    // ohm m2/s
// Time in which what was learnt counts for 1/e, days. Estimates: electrodes age over thousands of hours, the references
// of instruments and the way the feed is shared over weeks.
inline constexpr float kConstantDays = 100.0f;
inline constexpr float kSharedErrorDays = 40.0f;

constexpr void common_variances(const ctl_params& p, float (&v)[kCommonStates]) {
  v[common_added] = p.mean_resistance_prior_sigma * p.mean_resistance_prior_sigma;
  v[common_growth] = p.growth_prior_sigma * p.growth_prior_sigma;
  v[common_cathode] = p.cathode_prior_sigma * p.cathode_prior_sigma;
  v[common_anode] = p.anode_prior_sigma * p.anode_prior_sigma;
  v[common_diffusion] = p.diffusion_prior_sigma * p.diffusion_prior_sigma;
  v[common_temperature] = p.zone_sigma * p.zone_sigma;
  v[common_flow] = 0.25f * p.flow_class * p.flow_class;
  v[common_point] = p.point_sigma * p.point_sigma;
}

/// Outliers in a row may widen what can change at any hour; the range of a constant stays what it is.
constexpr bool widens(uint32_t state) {
  return state == common_added || state == common_growth || state == common_point;
}

/// What time does to what is known; `day` in days, `prior` from common_variances().
constexpr void age(Kalman<kCommonStates>& f, const ctl_params& p, const float (&prior)[kCommonStates],
                   float day) {
  const auto widen = [&](uint32_t i, float sigma) { f.p[i][i] += sigma * sigma * day; };
  widen(common_added, p.resistance_process_noise);
  widen(common_growth, p.growth_process_noise);
  const auto lead_back = [&](uint32_t i, float days) { return_to_prior(f, i, day / days, prior[i]); };
  for (uint32_t j = 0; j < kConstants; ++j) lead_back(common_cathode + j, kConstantDays);
  lead_back(common_temperature, kSharedErrorDays);
  lead_back(common_flow, kSharedErrorDays);
}

/// The error of the model at another operating point is not that at the last one, and what was learnt there
/// counts a little less.
constexpr void begin_point(Kalman<kCommonStates>& f, const ctl_params& p) {
  for (uint32_t i = 0; i < kCommonStates; ++i) f.p[i][common_point] = f.p[common_point][i] = 0.0f;
  f.p[common_point][common_point] = p.point_sigma * p.point_sigma;
  f.x[common_point] = 0.0f;
  for (uint32_t j = 0; j < kConstants; ++j)
    f.p[common_cathode + j][common_cathode + j] *= 1.0f + kPointForgets;
}

constexpr void common_row(float (&h)[kCommonStates], float density, const float (&constant)[kConstants],
                          float by_temperature, float by_share) {
  h[common_added] = density;
  for (uint32_t j = 0; j < kConstants; ++j) h[common_cathode + j] = constant[j];
  h[common_temperature] = by_temperature;
  h[common_flow] = by_share;
  h[common_point] = 1.0f;
}

constexpr void hold_states(Kalman<kCommonStates>& f, const ctl_params& p) {
  const auto hold = [&](uint32_t i, float lower, float upper) { f.x[i] = clamp(f.x[i], lower, upper); };
  hold(common_added, -p.resistance_max, p.resistance_max);
  hold(common_growth, -kMostGrowth, kMostGrowth);
  hold(common_cathode, -kMostFactor, kMostFactor);
  hold(common_anode, -kMostFactor, kMostFactor);
  hold(common_diffusion, -p.electrode_diffusion, 1e-4f);
  hold(common_temperature, -3.0f * p.zone_sigma, 3.0f * p.zone_sigma);
  hold(common_flow, -1.5f * p.flow_class, 1.5f * p.flow_class);
  hold(common_point, -0.1f, 0.1f);
}

/// The constants as identified.
constexpr CellConstants cell_constants(const Kalman<kCommonStates>& f) {
  return {exponential(f.x[common_cathode]), exponential(f.x[common_anode]), f.x[common_diffusion]};
}

}  // namespace duskline::controller
