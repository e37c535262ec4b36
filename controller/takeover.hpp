/// Taking over a plant that runs already: the first tick after power-up finds it hot, with flow and current.
///
/// What it is   the state is set from what is measured, so that no command jumps; from rest nothing is done
/// Equation     x_in = x_outlet - dx; recycle valve where the balance of estimate/composition.hpp puts it
/// Symbols      x [1] mole fraction of CO, dx [1] made by the cells
/// Validity     flow, current and the sensors that watch them present; every interlock acts in the same tick
/// Source       bumpless transfer of the textbooks
/// Left out     the opening of the valve and the heater powers are not measured: they start from the
///              feed-forwards; reasons of a trip before the power went are not kept
#pragma once

#include "controller/memory.hpp"
#include "controller/recycle.hpp"

namespace duskline::controller {

/// The mode in which the plant seems to be.
constexpr uint32_t mode_found(const ctl_params& p, const Thermal& t, float current, uint32_t requested) {
  const bool hot = t.coldest >= p.stack_setpoint - p.standby_band;
  if (hot && requested == CTL_PRODUCTION && current > 1.5f * p.protective_current) return CTL_PRODUCTION;
  if (requested == CTL_COOL_DOWN || requested == CTL_OFF) return CTL_COOL_DOWN;
  return hot ? CTL_STANDBY : CTL_WARM_UP;
}

/// At the first tick; true when a running plant was taken over.
inline bool take_over(Memory& m, const ctl_params& p, const Signals& y, const Thermal& t,
                      uint32_t requested) {
  const float current = y[in_stack_current], flow = y[in_feed_flow];
  if (!current_sensors(y) || !heat_sensors(y)) return false;
  const FeedRow& feed = feed_row(p);
  if (feed.reading != kInputs && !y.has(feed.reading)) return false;
  if (t.coldest < p.protection_temperature || flow < p.flow_min || current < 0.5f * p.protective_current)
    return false;
  m.mode.mode = mode_found(p, t, current, requested);
  m.warm = 1;
  m.flow_integral_time = p.priming_time;
  m.feed_flow = m.law.feed_setpoint = flow;
  // where the device stands shows on its reading, or else by what flows
  const float stands = feed.reading != kInputs
                           ? y[feed.reading]
                           : feed_curve(p, y, p.air_molar_mass, kLeastDensity).command(flow);
  m.applied_feed = clamp(stands, p.*feed.least, p.*feed.most);
  m.applied_current = clamp(current, 0.0f, p.current_max);
  if (y.has(in_outlet_co_fraction)) {
    GasMemory probe = initial_gas();
    const Gas g = estimate_gas(probe, p, y, flow, current, 0.0f);
    m.gas.analyser = y[in_outlet_co_fraction];
    m.gas.inlet_co = clamp(m.gas.analyser - g.conversion, 0.0f, 0.5f);
  }
  GasMemory probe = m.gas;
  if (feed.compressor)
    m.applied_opening = recycle_feed_forward(p, estimate_gas(probe, p, y, flow, current, 0.0f));
  return true;
}

}  // namespace duskline::controller
