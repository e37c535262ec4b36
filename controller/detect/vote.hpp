/// Votes between redundant values, and how long a suspicion must stand.
///
/// What it is   mid-value select of three, what is left of it with two or one, and four of the last five
/// Equation     mid = a + b + c - max - min; believed when at least 4 of the last 5 samples suspect
/// Symbols      values in their own unit; counts in samples
/// Validity     any value; one that is not usable does not vote
/// Source       common practice for triplex sensors; a single wrong value never gets through a triplex vote
/// Left out     weights
#pragma once

#include <stdint.h>

#include "controller/math.hpp"

namespace duskline::controller {

constexpr float mid_value(float a, float b, float c) {
  return max_of(min_of(a, b), min_of(max_of(a, b), c));
}

struct Vote {
  float value;
  uint32_t voters;  // how many took part; with two a miscompare cannot say who is wrong
};

/// Three may vote; of two the mean counts, of one itself.
constexpr Vote vote_of_three(float a, bool has_a, float b, bool has_b, float c, bool has_c) {
  const uint32_t voters = (has_a ? 1u : 0u) + (has_b ? 1u : 0u) + (has_c ? 1u : 0u);
  if (voters == 3) return {mid_value(a, b, c), 3};
  const float sum = (has_a ? a : 0.0f) + (has_b ? b : 0.0f) + (has_c ? c : 0.0f);
  return {voters == 0 ? 0.0f : sum / static_cast<float>(voters), voters};
}

constexpr uint32_t ones(uint32_t bits) {
  uint32_t n = 0;
  for (; bits != 0; bits &= bits - 1) ++n;
  return n;
}

constexpr uint32_t min_count(uint32_t a, uint32_t b) {
  return a < b ? a : b;
}

/// One sample of a suspicion: it is believed when at least four of the last five said so.
constexpr bool four_of_five(uint32_t& history, bool suspect) {
  history = (history << 1 | (suspect ? 1u : 0u)) & 0x1fu;
  return ones(history) >= 4;
}

}  // namespace duskline::controller
