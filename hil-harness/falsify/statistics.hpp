/// What independent draws say about the space that they were drawn from.
///
/// What it is   an upper bound on the share of the space that breaks a requirement, after k of n draws broke
///              it
/// Equation     P(at most k of n | p) = 1 - c, solved for p; k = 0: p = 1 - (1 - c)^(1/n)
/// Symbols      c confidence, one-sided
/// Validity     draws that are independent and evenly spread over the ranges; nothing that a search chose
/// Source       C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404; with k = 0 it is also the share that
///              lies below the least of n draws: S. S. Wilks, Ann. Math. Statist. 12 (1941) 91
/// Left out     how likely the ranges themselves are: that is what a campaign over dispersions answers
#pragma once

#include <cstddef>

namespace duskline::harness {

double upper_share(std::size_t broken, std::size_t draws, double confidence);

}  // namespace duskline::harness
