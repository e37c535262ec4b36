/// Substitution: a suspect or lost measurement is replaced by what the others say it should be.
///
/// What it is   the step between reading and estimating; a replaced value counts as present
/// Equation     y_i = estimate_i of the tick before
/// Symbols      as in detect.hpp
/// Validity     only with detection = 2 and an estimate that is usable; otherwise the reading stays
/// Left out     how much less the estimate is worth than a reading: the response level answers that
#pragma once

#include "controller/detect/detect.hpp"

namespace duskline::controller {

inline Signals substitute(const Detection& d, const ctl_params& p, const Signals& raw) {
  Signals y = raw;
  if (p.detection < 1.5f) return y;
  for (uint32_t word = 0; word < 2; ++word)
    each_bit(d.suspect[word] & d.usable[word], 32 * word, [&](uint32_t i) {
      y.value[i] = d.estimate[i];
      y.lost &= ~bit_of(i);
    });
  return y;
}

}  // namespace duskline::controller
