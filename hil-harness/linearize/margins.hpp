/// Robustness of a loop from its frequency response: what a change of gain, of phase or of delay it stands.
///
/// What it is   one sweep over a grid of frequencies, extremes and crossings refined by bisection
/// Equation     S = 1/(1 + L), T = L/(1 + L); Ms = max |S|, Mt = max |T|; at arg L = -180 deg the loop stands
///              a factor 1/|L| more gain (or less, where |L| > 1); at |L| = 1 it stands PM = 180 deg + arg L,
///              which a delay PM/omega uses up
/// Symbols      L [1] loop transfer with negative feedback: 1 + L = 0 is the limit; omega [rad/s]
/// Validity     any L that is smooth between neighbouring points of the grid; several crossings are all
///              looked at and the least margin counts; margins say nothing of a loop that is not stable when
///              closed
/// Source       textbook definitions; values of tests/reference/margins_test.cpp
/// Left out     the encirclements of -1: whether the closed loop is stable is decided by its poles
#pragma once

#include <complex>
#include <functional>
#include <limits>

namespace duskline::harness {

struct Margins {
  double sensitivity = 1.0;                                ///< Ms, 1
  double sensitivity_at = 0.0;                             ///< rad/s
  double complementary = 0.0;                              ///< Mt, 1
  double gain = std::numeric_limits<double>::infinity();   ///< factor > 1 that the loop gain may rise by
  double gain_at = 0.0;                                    ///< rad/s
  double gain_down = 0.0;                                  ///< factor < 1 that it must not fall below
  double phase = std::numeric_limits<double>::infinity();  ///< deg, least over the crossovers
  double crossover = 0.0;                                  ///< rad/s, of that; 0: |L| = 1 is not crossed
  double delay = std::numeric_limits<double>::infinity();  ///< s, least over the crossovers
};

using FrequencyResponse = std::function<std::complex<double>(double omega)>;

/// Margins between two frequencies (rad/s); for a sampled loop `highest` is at most pi/period.
Margins margins_of(const FrequencyResponse& loop, double lowest, double highest, int points_a_decade = 200);

/// What Ms alone promises: a gain margin of at least Ms/(Ms - 1), a phase margin of at least 2 asin(1/(2 Ms)).
double gain_promised(double sensitivity);
double phase_promised(double sensitivity);  ///< deg

}  // namespace duskline::harness
