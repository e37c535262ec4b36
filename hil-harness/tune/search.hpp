/// Searches without derivatives over the unit cube: a population, and NLopt from a start.
///
/// What it is   differential evolution (rand/1/bin) with several starts; NLopt's subplex, BOBYQA and COBYLA
/// Equation     trial = a + F (b - c) where a draw is below C, else the parent; the better of trial and parent stays
/// Symbols      F drawn in (0.5, 1) a generation, C = 0.9; points a share of the range for each coordinate
/// Validity     costs of any shape; a cost of infinity is a candidate that nobody wants
/// Source       Storn and Price, J. Global Optimization 11 (1997) 341; Rowan 1990 (subplex), Powell 2009 (BOBYQA),
///              Powell 1994 (COBYLA) as in NLopt 2.7; the dither of F: Price, Storn and Lampinen 2005
/// Left out     restarts; learning F and C
///
/// The same costs give the same candidates in the same order, whatever calculates the costs and however many at once.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "scenarios/reader/tuning.hpp"

namespace duskline::harness {

/// The costs of candidates that may be worked out at once; empty: the search is to end.
using Costs = std::function<std::vector<double>(const std::vector<std::vector<double>>&)>;

struct Found {
  std::vector<double> point;
  double cost{};
  std::size_t tried{};  ///< candidates
};

/// `starts` are the first candidates; the rest of the first generation fills the cube evenly.
Found search_population(const std::vector<std::vector<double>>& starts, std::size_t population,
                        std::size_t budget, std::uint64_t seed, const Costs& costs);

/// `method` is subplex, quadratic or linear.
Found search_local(scenarios::Search method, const std::vector<double>& start, std::size_t budget,
                   const Costs& costs);

/// A population for two thirds of the budget, then subplex from the best of it; or one of them alone.
Found search(scenarios::Search method, const std::vector<std::vector<double>>& starts, std::size_t population,
             std::size_t budget, std::uint64_t seed, const Costs& costs);

}  // namespace duskline::harness
