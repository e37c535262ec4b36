/// Extremum over a sliding window of samples, in linear time.
///
/// What it is   a deque of candidates: what is neither newer nor better is forgotten
/// Equation     out_i = best of x_j, first_i <= j <= last_i, for windows whose ends never move back
/// Symbols      indices of samples; the index of the best goes with it
/// Validity     first and last do not fall as i rises; an empty window gives no index
/// Source       D. Lemire, Nordic J. Computing 13 (2006) 328
#pragma once

#include <cstddef>
#include <deque>

namespace duskline::scenarios {

/// Calls `take(i, j)` for each i with the index j of the best sample of its window, or with `none`.
template <class First, class Last, class Better, class Take>
void slide(std::size_t windows, std::size_t none, First first, Last last, Better better, Take take) {
  std::deque<std::size_t> best;
  std::size_t next = 0;
  for (std::size_t i = 0; i < windows; ++i) {
    for (const std::size_t end = last(i); next < end; ++next) {
      while (!best.empty() && !better(best.back(), next)) best.pop_back();
      best.push_back(next);
    }
    while (!best.empty() && best.front() < first(i)) best.pop_front();
    take(i, best.empty() ? none : best.front());
  }
}

}  // namespace duskline::scenarios
