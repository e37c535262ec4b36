/// The control laws: one row each, one signature. Words and meanings: CTL_LAW_LIST.
///
/// What it is   the table, the law that can be in force and the call of it
/// Validity     a law is called by the row whose number it has; the walk over the rows is unrolled when it is
///              compiled, so that no call goes through a pointer (the depth of the stack stays known)
#pragma once

#include "controller/laws/fixed.hpp"
#include "controller/laws/predictive.hpp"

namespace duskline::controller {

struct LawRow {
  uint32_t law;  // ctl_law, the place in the table
  LawOutput (*act)(LawMemory&, const LawInput&);
  /// Whether it can be in force at this tick; ceiling [W], whether the model is suspect.
  bool (*ready)(LawMemory&, const ctl_params&, const Signals&, float power_ceiling, bool suspect);
  uint32_t fallback;  // ctl_law that stands in while it cannot
  bool adapts;        // the estimates move its set-points
  bool plans;         // a plan keeps the coke margin, the overrides of the cascade stand guard below it
  bool blind;         // it sees no measurement: the recycle valve stands still, no margin interlock acts
};

inline bool always_ready(LawMemory&, const ctl_params&, const Signals&, float, bool) {
  return true;
}

// clang-format off
inline constexpr LawRow kLaws[] = {
    // law                act             ready         fallback            adapts plans  blind
    {CTL_LAW_FIXED,      fixed_law,      always_ready, CTL_LAW_FIXED,      false, false, true},
    {CTL_LAW_CASCADE,    cascade_law,    always_ready, CTL_LAW_CASCADE,    false, false, false},
    {CTL_LAW_ADAPTIVE,   adaptive_law,   always_ready, CTL_LAW_ADAPTIVE,   true,  false, false},
    {CTL_LAW_PREDICTIVE, predictive_law, plan_ready,   CTL_LAW_ADAPTIVE,   true,  true,  false},
};
// clang-format on

constexpr bool laws_complete() {
  if (sizeof kLaws / sizeof *kLaws != CTL_LAWS) return false;
  for (uint32_t n = 0; n < CTL_LAWS; ++n)
    if (kLaws[n].law != n || kLaws[kLaws[n].fallback].ready != always_ready) return false;
  return true;
}
static_assert(laws_complete(),
              "one row a law of CTL_LAW_LIST in its order; a fallback never falls back itself");

/// The law in force at this tick: the one asked for, or what stands in for it.
template <uint32_t n = 0>
inline uint32_t select_law(LawMemory& m, const ctl_params& p, const Signals& y, float power_ceiling,
                           bool suspect) {
  if constexpr (n + 1 < CTL_LAWS) {
    if (p.law != n) return select_law<n + 1>(m, p, y, power_ceiling, suspect);
  }
  return kLaws[n].ready(m, p, y, power_ceiling, suspect) ? n : kLaws[n].fallback;
}

template <uint32_t n = 0>
inline LawOutput run_law(uint32_t law, LawMemory& m, const LawInput& in) {
  if constexpr (n + 1 < CTL_LAWS) {
    if (law != n) return run_law<n + 1>(law, m, in);
  }
  return kLaws[n].act(m, in);
}

}  // namespace duskline::controller
