/// The control laws: one row each, one signature. Words and meanings: CTL_LAW_LIST.
///
/// What it is   the table and the call of the law in force
/// Validity     a law is called by the row whose number it has; the walk over the rows is unrolled when it is
///              compiled, so that no call goes through a pointer (the depth of the stack stays known)
#pragma once

#include "controller/laws/adaptive.hpp"
#include "controller/laws/fixed.hpp"

namespace duskline::controller {

struct LawRow {
  uint32_t law;  // ctl_law, the place in the table
  LawOutput (*act)(LawMemory&, const LawInput&);
  bool adapts;  // the estimates move its set-points
  bool blind;   // it sees no measurement: the recycle valve stands still, no margin interlock acts
};

// clang-format off
inline constexpr LawRow kLaws[] = {
    // law              act           adapts blind
    {CTL_LAW_FIXED,    fixed_law,    false, true},
    {CTL_LAW_CASCADE,  cascade_law,  false, false},
    {CTL_LAW_ADAPTIVE, adaptive_law, true,  false},
};
// clang-format on

constexpr bool laws_complete() {
  if (sizeof kLaws / sizeof *kLaws != CTL_LAWS) return false;
  for (uint32_t n = 0; n < CTL_LAWS; ++n)
    if (kLaws[n].law != n) return false;
  return true;
}
static_assert(laws_complete(), "one row a law of CTL_LAW_LIST in its order");

template <uint32_t n = 0>
inline LawOutput run_law(uint32_t law, LawMemory& m, const LawInput& in) {
  if constexpr (n + 1 < CTL_LAWS) {
    if (law != n) return run_law<n + 1>(law, m, in);
  }
  return kLaws[n].act(m, in);
}

}  // namespace duskline::controller
