/// Recycle valve: enough CO at the inlet to keep the nickel metallic.
///
/// What it is   opening from the estimated recycle balance, trimmed by a PI on the estimated inlet CO
/// Equation     x = r/(1 - r) dx solved for r = x/(x + dx); a = r/(share of the open valve) + PI
/// Symbols      x [1] wanted mole fraction of CO at the inlet, dx [1] made by the cells, r [1] recycled share
/// Validity     flow on; without flow the valve is shut; the fixed law holds a fixed opening
/// Source       mole balance of estimate/composition.hpp; tuning SIMC (Skogestad 2003)
/// Left out     nickel limit that moves with temperature (the set-point has room for it)
#pragma once

#include "controller/estimate/composition.hpp"
#include "controller/laws/pi.hpp"

namespace duskline::controller {

/// Opening that holds the inlet CO where it is wanted, at the conversion of this tick: x = r/(1 - r) dx
/// solved for r.
inline float recycle_feed_forward(const ctl_params& p, const Gas& g) {
  const float share = p.inlet_co_setpoint / (p.inlet_co_setpoint + g.conversion + 1e-3f);
  return clamp(share / max_of(g.full_share, 1e-3f), p.recycle_min, p.recycle_max);
}

inline float recycle_loop(Pi& loop, const ctl_params& p, const Gas& g, float applied, bool flow, bool fixed) {
  if (!flow) {
    loop = Pi{};
    return 0.0f;
  }
  const PiGains gains{p.recycle_gain, p.recycle_time, p.recycle_time, 1.0f};
  const float output = pi_output(loop, gains, p.inlet_co_setpoint, g.inlet_co, recycle_feed_forward(p, g));
  float opening = fixed ? p.recycle_opening : clamp(output, p.recycle_min, p.recycle_max);
  if (!fixed && applied > 0.0f && abs_of(opening - applied) < p.recycle_step) opening = applied;
  pi_track(loop, gains, p.period, opening);
  return opening;
}

}  // namespace duskline::controller
