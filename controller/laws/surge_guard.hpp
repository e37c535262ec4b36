/// Surge guard of a turbo compressor: opens the recycle before the flow falls to surge, and knows when it has surged.
///
/// What it is   PI on the surge margin, an open line below it, slow closing; a count of surges moves the line and trips
/// Equation     SM = (phi - phi_surge)/phi_surge; opening = PI(line + shift - SM); 1 where SM < open line;
///              it opens at once and closes at most by 1/close_time
/// Symbols      SM [1] of the stage that is nearest to surge, opening [1] of the recycle valve, phi [1] flow coefficient
/// Validity     ticks short against the time in which the flow can fall from the control line to surge
/// Source       common practice: control line at 8 to 12 %, open line at 3 to 5 %, closing in 20 to 60 s, trip after two
///              surges, line further out after each (from memory); PI: pi.hpp
/// Left out     estimate of SM from the instruments, sharing between parallel machines, decoupling of the speed loop
#pragma once

#include "controller/laws/pi.hpp"

namespace duskline::controller {

struct SurgeGuardSettings {
  float control_line = 0.10f;  ///< 1, SM that the valve holds
  float open_line = 0.04f;     ///< 1, SM below which it opens fully
  float gain = 5.0f;           ///< 1, opening per SM
  float integral_time = 5.0f;  ///< s
  float close_time = 30.0f;    ///< s
  float rate_time = 0.0f;      ///< s, by which a falling margin is taken ahead
  float rate_filter = 2.0f;    ///< s, of its rate
  float open_step = 1.0f;      ///< 1, by which it opens in a tick below the open line
  float shift = 0.02f;         ///< 1, by which a surge moves the lines
  float shift_max = 0.06f;     ///< 1
  float window = 300.0f;       ///< s, within which surges count together: a few cycles of the plant
  uint32_t surges_to_trip = 2;
};

struct SurgeGuard {
  Pi pi{};
  float opening{};
  float shift{};
  float since{};  ///< s, since the first surge that counts
  uint32_t surges{};
  float before{};    ///< 1, margin of the last tick
  float rate{};      ///< 1/s, of the margin
  uint32_t seen{};   ///< 1: there was a margin at the last tick
  uint32_t below{};  ///< 1: in a surge
  uint32_t trip{};   ///< 1: the machine has to stop
};

/// A surge is a margin that falls below half of the way to no flow, and comes back above zero.
constexpr void count_surges(SurgeGuard& g, const SurgeGuardSettings& s, float margin, float period) {
  g.since += period;
  if (g.since > s.window) g.surges = 0;
  if (g.below == 0 && margin < -0.5f) {
    if (g.surges++ == 0) g.since = 0.0f;
    g.shift = min_of(g.shift + s.shift, s.shift_max);
    if (g.surges >= s.surges_to_trip) g.trip = 1;
    g.below = 1;
  }
  if (margin > 0.0f) g.below = 0;
}

/// The margin, ahead by rate_time while it falls.
constexpr float margin_ahead(SurgeGuard& g, const SurgeGuardSettings& s, float margin, float period) {
  const float rate = g.seen != 0 ? (margin - g.before) / period : 0.0f;
  g.rate += (rate - g.rate) * period / (period + s.rate_filter);
  g.before = margin;
  g.seen = 1;
  return margin + s.rate_time * min_of(0.0f, g.rate);
}

constexpr PiGains guard_gains(const SurgeGuardSettings& s) {
  return {s.gain, s.integral_time, s.integral_time, 1.0f};
}

/// Takes over a valve that stands at an opening, with its margin and the opening that the flows ask for.
constexpr void take_guard_over(SurgeGuard& g, const SurgeGuardSettings& s, float margin, float ahead,
                               float opening) {
  g.opening = opening;
  g.before = margin;
  g.seen = 1;
  pi_align(g.pi, guard_gains(s), -margin, -s.control_line - g.shift, ahead, opening);
}

/// One tick; the opening to command. `ahead` is the opening that the flows ask for. Without a margin, or after a trip, the
/// valve is open.
constexpr float guard_surge(SurgeGuard& g, const SurgeGuardSettings& s, float margin, float ahead,
                            float period) {
  const PiGains gains = guard_gains(s);
  const bool known = is_finite(margin);
  if (known) count_surges(g, s, margin, period);
  const float expected = known ? margin_ahead(g, s, margin, period) : 0.0f;
  if (!known) g.seen = 0;
  const float line = s.control_line + g.shift;
  // margin and line with their signs turned: a valve opens when the margin is too small
  const float asked = known ? pi_output(g.pi, gains, -expected, -line, ahead) : pi_open(g.pi, ahead);
  if (!known || g.trip != 0)
    g.opening = 1.0f;
  else if (margin < s.open_line + g.shift)
    g.opening = min_of(1.0f, max_of(asked, g.opening + s.open_step));
  else
    g.opening = max_of(clamp(asked, 0.0f, 1.0f), g.opening - period / s.close_time);
  pi_track(g.pi, gains, period, g.opening);
  return g.opening;
}

}  // namespace duskline::controller
