/// First step of a tick: what the instruments say.
///
/// What it is   readings checked, corrected and replaced where they are suspect; temperatures of the zones; at
///              the first tick a running plant is taken over
/// Symbols      as in controller/include/controller.h
/// Validity     any input
#pragma once

#include "controller/takeover.hpp"

namespace duskline::controller {

struct Measured {
  Signals raw;   // corrected, not substituted
  Signals y;     // substituted
  Signals seen;  // as y, what is replaced counts as missing
  Thermal thermal;
  float current;    // A of the stack; the command where the meter is lost
  bool first;       // tick after the start
  bool taken_over;  // a running plant was found
};

/// Where several modules share a bus no meter shows what one of them draws: the sum of its parts does.
inline void power_by_parts(const Memory& m, const ctl_params& p, Measured& s) {
  const float stack = max_of(0.0f, s.y[in_stack_current] * stack_voltage(p, s.y)) / p.stack_converter;
  s.y.value[in_bus_power] = s.seen.value[in_bus_power] = stack + m.heat.power / p.heater_converter;
  s.y.lost &= ~bit_of(in_bus_power);
  s.seen.lost &= ~bit_of(in_bus_power);
}

inline Measured measure(Memory& m, const ctl_params& p, const ctl_inputs& in) {
  Measured s;
  if (calibrated(m.calibration, in.clear_corrections)) {
    m.calibration = Calibration{};
    m.detection = with_new_readings(m.detection);
    m.thermal = ThermalMemory{};
    for (float& left : m.alarms.again) left = 0.0f;
  }
  s.raw = read_signals(m.signals, p, in);
  correct(m.calibration, p, s.raw);
  s.first = m.started == 0;
  if (s.first) zero_at_start(m.calibration, p, s.raw);
  s.y = substitute(m.detection, p, s.raw);
  s.seen = trusted(m.detection, p, s.raw, s.y);
  if (!fitted(p, in_bus_power)) power_by_parts(m, p, s);
  const Signals& y = s.y;
  s.thermal = estimate_thermal(m.thermal, p, y);
  s.taken_over = s.first && m.mode.mode != CTL_SAFE && take_over(m, p, y, s.thermal, in.requested_mode);
  m.started = 1;
  if (y.has(in_feed_flow))
    m.feed_flow = low_pass(m.feed_flow, max_of(0.0f, y[in_feed_flow]), p.period, p.flow_filter);
  s.current = y.has(in_stack_current) ? y[in_stack_current] : m.applied_current;
  return s;
}

}  // namespace duskline::controller
