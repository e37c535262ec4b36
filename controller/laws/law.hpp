/// What every control law sees and answers.
///
/// What it is   the common signature LawOutput law(LawMemory&, const LawInput&); later stages may cut the
///              output and law_applied() gives every loop what was applied; the laws stand in table.hpp
/// Symbols      feed: command of the feed device (feed.hpp); current [A], flow [kg/s], power [W]
/// Validity     as the law
/// Left out     heat and recycle, which are the same under every law (heat.hpp, recycle.hpp)
#pragma once

#include "controller/estimate/coke.hpp"
#include "controller/feed.hpp"
#include "controller/laws/pi.hpp"

namespace duskline::controller {

struct LawMemory {
  Pi flow;                   // in units of flow, so density schedules it by itself
  Pi margin;                 // override: coke margin
  Pi voltage;                // override: highest cell voltage
  Pi power;                  // override: bus power
  float flow_reference;      // kg/s, set-point seen by the flow loop, lagged
  float utilisation_relief;  // fall of the utilisation set-point; a rise, below 0, under the adaptive law
  float feed_setpoint;       // kg/s
  float saturated;           // 1 when the feed device was held at its most at the last tick
};

struct LawInput {
  const ctl_params& params;
  const Signals& signals;
  const Gas& gas;
  const Coke& coke;
  float temperature;                // K, mean of the zones
  FeedCurve feed;                   // of the feed device at this tick
  float feed_flow;                  // kg/s, filtered
  float wanted_current;             // A: demand, protective current or none
  uint32_t wanted_by;               // ctl_limiter to report when nothing holds the wanted current down
  float applied_current;            // A at the last tick
  float applied_feed;               // command of the feed device at the last tick, in its unit
  float power_ceiling;              // W, NaN without one
  bool unprotected;                 // the inlet lacks CO and only a protective current flows
  float elapsed;                    // s since the start of the run
  uint32_t active_limiter;          // ctl_limiter that the law selected at the last tick
  bool adapts = false;              // as the row of the law in table.hpp says
  float coke_sigma = 0.0f;          // V, standard deviation of the coke margin; 0 unknown
  float added_margin = 0.0f;        // V, on all margins while a diagnosis derates
  bool from_rest = false;           // the feed begins at this tick
  bool takes_over = false;          // another law, or nobody, had the feed until now
  bool takes_over_current = false;  // nobody had the current until now
};

struct LawOutput {
  float feed;  // command of the feed device, in its unit
  float current;
  uint32_t limiter;
};

}  // namespace duskline::controller
