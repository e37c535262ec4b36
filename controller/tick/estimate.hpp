/// Second step of a tick: what no instrument says.
///
/// What it is   gas, density, coke margin and wear; what is wrong with the plant; corrections of the instruments
/// Symbols      as in the parts
/// Validity     any measurement
#pragma once

#include "controller/tick/measure.hpp"

namespace duskline::controller {

struct Estimates {
  Gas gas;
  Density density;
  Coke coke;
  Health health;
};

inline Estimates estimate(Memory& m, const ctl_params& p, const ctl_inputs& in, const Measured& s) {
  const Signals& y = s.y;
  const Thermal& t = s.thermal;
  Estimates e;
  Signals balanced = s.seen;  // the recycled share is learnt from analyser and feed together
  if (!balanced.has(in_feed_flow)) balanced.lost |= bit_of(in_outlet_co_fraction);
  e.gas = estimate_gas(m.gas, p, balanced, m.feed_flow, s.current, m.applied_opening, in.inlet_co_fraction);
  widen(e.gas, s.seen);
  e.density = estimate_density(m.density, p, s.seen, e.gas);
  e.coke =
      estimate_coke(m.coke, p, s.seen, e.gas, t.zone, s.current, above_tap(m.detection, p, y), m.consistency);
  e.health = estimate_health(m.health, p, s.seen, e.gas, e.density);
  note(m.consistency, e.density.ambient, p.consistency_memory);
  note(m.consistency, e.density.machine, p.consistency_memory);

  const Relations relations = detect(m.detection, {.params = p,
                                                   .in = in,
                                                   .signals = m.signals,
                                                   .raw = s.raw,
                                                   .y = y,
                                                   .gas = e.gas,
                                                   .zone = t.zone,
                                                   .mean = t.mean,
                                                   .added_resistance = e.coke.added_resistance,
                                                   .voltage_sigma = e.coke.voltage_sigma,
                                                   .mode = m.mode.mode});
  m.diagnosed = m.detection.diagnosed;
  m.response = p.detection < 1.5f ? uint32_t{CTL_RESPOND_NONE} : m.detection.response;
  calibrate(m.calibration, {.params = p,
                            .y = y,
                            .relations = relations,
                            .detection = m.detection,
                            .gas = e.gas,
                            .zone = t.zone,
                            .feed_flow = m.feed_flow,
                            .clear_corrections = in.clear_corrections});
  return e;
}

}  // namespace duskline::controller
