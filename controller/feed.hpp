/// What gives the module its feed: a compressor of its own, or a valve behind a header that several modules share.
///
/// What it is   one row a device: its reading, its limits, what belongs to it, and the curve between command and flow
/// Equation     compressor F = rho V eta omega/2pi; valve F = F_open R^(y - 1), F_open = K A Y sqrt(x p1 rho1),
///              Y = 1 - x/(3 F_k x_T), x = (p1 - p2)/p1, at most F_k x_T, F_k = k/1.40
/// Symbols      F [kg/s], omega [rad/s], y [1] opening, R [1] rangeability, p1, p2 [Pa] header and cathode, K [m3/h]
///              capacity, A = 2.776532e-5 m2, x_T [1] choke ratio
/// Validity     compressor: as estimate/density.hpp; valve: equal percentage above its seat, gas of k = 1.3
/// Source       IEC 60534-2-1 (gas), 60534-2-4 (characteristic)
/// Left out     leakage of a shut valve; dead band
#pragma once

#include "controller/estimate/density.hpp"

namespace duskline::controller {

struct FeedRow {
  uint32_t device;                              // ctl_feed_device, the place in the table
  uint32_t reading;                             // Input that shows where it stands; kInputs: none
  bool compressor;                              // machine and recycle valve are the module's own
  float ctl_params::*least, ctl_params::*most;  // command with flow
  float ctl_params::*rate, ctl_params::*step;   // fastest and smallest change of it
  float more;  // unit/s, by which it rises for a current that hangs (design: a fifth of the flow in 30 s)
};

// clang-format off
inline constexpr FeedRow kFeeds[] = {
    {CTL_FEED_COMPRESSOR, in_compressor_speed, true, &ctl_params::speed_min, &ctl_params::speed_max,
     &ctl_params::speed_rate, &ctl_params::speed_step, 2.0f},
    {CTL_FEED_VALVE, kInputs, false, &ctl_params::valve_min, &ctl_params::valve_max,
     &ctl_params::valve_rate, &ctl_params::valve_step, 0.002f},
};
// clang-format on

constexpr bool feeds_complete() {
  if (sizeof kFeeds / sizeof *kFeeds != CTL_FEED_DEVICES) return false;
  for (uint32_t n = 0; n < CTL_FEED_DEVICES; ++n)
    if (kFeeds[n].device != n || kFeeds[n].least == nullptr || kFeeds[n].most == nullptr ||
        kFeeds[n].rate == nullptr || kFeeds[n].step == nullptr)
      return false;
  return true;
}
static_assert(feeds_complete(), "one row a device of CTL_FEED_DEVICE_LIST in its order, whole");

constexpr const FeedRow& feed_row(const ctl_params& p) {
  return kFeeds[p.feed_device];
}

/// Between command and flow at this tick. In proportion, or by a constant factor a step of travel.
struct FeedCurve {
  float open;        // kg/s per unit of command; of a valve kg/s when it is open
  float percentage;  // ln of the rangeability; 0: in proportion

  float flow(float command) const {
    if (percentage == 0.0f) return command * open;
    return command > 0.0f ? open * exponential(percentage * (command - 1.0f)) : 0.0f;
  }
  float command(float flow) const {
    if (percentage == 0.0f) return flow / open;
    return flow > 0.0f ? max_of(0.0f, 1.0f + logarithm(flow / open) / percentage) : 0.0f;
  }
};

/// Flow through the open valve between header and cathode, kg/s.
inline float open_valve(const ctl_params& p, const Signals& y, float molar_mass) {
  constexpr float kAreaPerCapacity = 2.776532e-5f, kExponent = 1.3f, kLeastDrop = 0.01f;
  const float choked = kExponent / 1.40f * p.valve_choke;
  const float upstream = max_of(1000.0f, y[in_plenum_pressure]);
  const float drop = clamp(1.0f - y[in_cathode_pressure] / upstream, kLeastDrop, choked);
  const float density = upstream * molar_mass / (kGasConstant * max_of(100.0f, y[in_plenum_temperature]));
  return kAreaPerCapacity * p.valve_capacity * (1.0f - drop / (3.0f * choked)) *
         square_root(drop * upstream * density);
}

inline FeedCurve feed_curve(const ctl_params& p, const Signals& y, float molar_mass, float density) {
  switch (static_cast<ctl_feed_device>(p.feed_device)) {
    case CTL_FEED_VALVE:
      return {open_valve(p, y, molar_mass), logarithm(p.valve_rangeability)};
    default:
      return {flow_per_speed(p, density), 0.0f};
  }
}

/// Nothing turns, as far as this module has something that could.
inline bool feed_stands(const ctl_params& p, const Signals& y) {
  const uint32_t reading = feed_row(p).reading;
  return reading == kInputs || (y.has(reading) && abs_of(y[reading]) < 5.0f);
}

}  // namespace duskline::controller
