/// The best known schedule: the plant run on its true margins, which no instrument shows. upper_bound.hpp bounds it.
///
/// What it is   a link that takes heat and modes from the shipped controller and sets speed, current and recycle itself:
///              a constant speed, the current that holds the true least coke margin where it is wanted, and the opening
///              that holds the true nickel ratio where it is wanted
/// Equation     I += g (margin - wanted), within 0, the demand, the largest current and the bus; o += h (wanted - ratio),
///              within 0 and 1; clairvoyant oxygen = integral of the greatest rate over the speeds, instant by instant
/// Symbols      I [A], margin [V], g [A/V] per tick; o [1] opening, ratio [1], h [1] per tick
/// Validity     near the optimum from below, where changes of weather are slow against the plenum (35 s); what a change of
///              speed costs is left out. Its speeds lie 20 rad/s apart, halved four times beside the best one, which may lie just
///              below one that trips: half the distance changes it by less than 0.2 % (a test). A speed that trips makes
///              nothing from then on
/// Source       at equal margins more CO2 or less CO in the feed gives more current; constant-margin operation with
///              perfect knowledge
/// Left out     openings other than the one that holds the ratio; gas and heat that a law stores for later
#pragma once

#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {

/// What is kept at all times.
struct KeptMargins {
  double coke{};    ///< V
  double nickel{};  ///< 1, (p_CO/p_CO2)/K_Ni at the inlet
};

struct Clairvoyant {
  std::vector<double> speed;   ///< rad/s, one for each bin of time, of the best run
  std::vector<double> oxygen;  ///< kg made in each bin by the best run
  double bin{};                ///< s
  double total() const;
};

/// Speeds from a quarter of the largest one to the largest one, rad/s.
std::vector<double> clairvoyant_speeds(const scenarios::Case& c, double step);

/// Runs the case at each of the speeds, and, where these lie `between` rad/s apart, four times at half the distance beside
/// the best. `bin` s is the grain of the choice.
Clairvoyant clairvoyant(const scenarios::Case& c, const KeptMargins& kept, std::span<const double> speeds,
                        double bin, double between = 0.0);

}  // namespace duskline::harness
