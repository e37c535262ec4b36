/// What the best law could make: the plant run on its true margin, which no instrument shows.
///
/// What it is   a link that takes heat, recycle and modes from the shipped controller and sets speed and
///              current itself: a constant speed, and the current that holds the true least coke margin where
///              it is wanted
/// Equation     I += g (margin - wanted), held within 0, the demand, the largest current and the bus;
///              clairvoyant oxygen = integral of the greatest rate over a family of constant speeds, instant
///              by instant
/// Symbols      I [A], margin [V], g [A/V] per tick
/// Validity     changes of weather that are slow against the plenum (35 s): changing between speeds is taken
///              to be free
/// Source       constant-margin operation with perfect knowledge
/// Left out     what a change of speed costs (so it bounds from above); best opening of the recycle valve
#pragma once

#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {

struct Clairvoyant {
  std::vector<double> speed;   ///< rad/s, one for each bin of time, of the best run
  std::vector<double> oxygen;  ///< kg made in each bin by the best run
  double bin{};                ///< s
  double total() const;
};

/// Runs the case at each of the speeds. `margin` V is held; `bin` s is the grain of the choice.
Clairvoyant clairvoyant(const scenarios::Case& c, double margin, std::span<const double> speeds, double bin);

}  // namespace duskline::harness
