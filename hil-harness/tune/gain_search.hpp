/// Searches without derivatives over the unit cube: a population (search/search.hpp) and NLopt from a start.
///
/// What it is   a first generation of starts and points spread evenly, which evolves; NLopt's subplex,
///              BOBYQA, COBYLA
/// Equation     as in search/search.hpp and in NLopt
/// Symbols      points: a share of the range for each coordinate
/// Validity     costs of any shape; a cost of infinity is a candidate that nobody wants
/// Source       Rowan 1990 (subplex), Powell 2009 (BOBYQA), Powell 1994 (COBYLA) as in NLopt 2.7; Latin
///              hypercube: McKay, Beckman and Conover, Technometrics 21 (1979) 239
/// Left out     restarts The same costs give the same candidates in the same order, whatever calculates the
///              costs and however many at once.
#pragma once

#include <functional>

#include "hil-harness/search/search.hpp"
#include "scenarios/reader/tuning.hpp"

namespace duskline::harness {

/// The costs of candidates that may be worked out at once; empty: the search is to end.
using Costs = std::function<std::vector<double>(const std::vector<Point>&)>;

struct Found {
  Point point;
  double cost{};
  std::size_t tried{};  ///< candidates
};

/// `starts` are the first candidates; the rest of the first generation fills the cube evenly.
Found search_population(const std::vector<Point>& starts, std::size_t population, std::size_t budget,
                        std::uint64_t seed, const Costs& costs);

/// `method` is subplex, quadratic or linear.
Found search_local(scenarios::Search method, const Point& start, std::size_t budget, const Costs& costs);

/// A population for two thirds of the budget, then subplex from the best of it; or one of them alone.
Found search(scenarios::Search method, const std::vector<Point>& starts, std::size_t population,
             std::size_t budget, std::uint64_t seed, const Costs& costs);

}  // namespace duskline::harness
