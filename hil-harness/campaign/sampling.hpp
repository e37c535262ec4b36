/// Points of the unit cube for the runs of a campaign.
///
/// What it is   independent points, a Latin hypercube, a Sobol sequence with a random digital shift, or the scheme of
///              two independent points and their mixtures that sensitivities need
/// Equation     Latin hypercube: share = (p_d(n) + u)/N with a random permutation p_d for each number; Sobol: the bits
///              of the point, each with its bit of the shift changed or not; sensitivity: block k has a point A, a
///              point B, and for each factor i the point A with factor i taken from B
/// Symbols      n run from 0, N runs, d dimension, u even in (0, 1) from the streams of plant-model/random
/// Validity     Sobol: at most 3667 dimensions, best for a power of two runs; a Latin hypercube belongs to its N
/// Source       M. D. McKay et al., Technometrics 21 (1979) 239; I. M. Sobol, USSR Comput. Math. 7 (1967) 86 with
///              directions of S. Joe, F. Y. Kuo, SIAM J. Sci. Comput. 30 (2008) 2635 (Boost.Random); shift: P. L'Ecuyer,
///              C. Lemieux, Management Sci. 46 (2000) 1214; mixtures: A. Saltelli et al., Comput. Phys. Commun. 181
///              (2010) 259
#pragma once

#include <array>
#include <cstdint>
#include <string_view>
#include <vector>

namespace duskline::harness {

enum class Sampling { independent, latin_hypercube, sobol, sensitivity, subset };

struct SamplingWord {
  Sampling sampling;
  std::string_view word, meaning;
};
inline constexpr std::array kSamplings{
    SamplingWord{Sampling::independent, "independent", "each run by itself: bounds on shares hold"},
    SamplingWord{Sampling::latin_hypercube, "latin-hypercube", "each number evenly over its range"},
    SamplingWord{Sampling::sobol, "sobol", "all numbers evenly together, the first of any number of runs"},
    SamplingWord{Sampling::sensitivity, "sensitivity",
                 "which number drives the margin, by exchanging one at a time"},
    SamplingWord{Sampling::subset, "subset",
                 "step by step towards the coke limit: how likely it is passed, however rarely"},
};

/// One number for each run and dimension, run by run.
using Points = std::vector<double>;

/// `runs` points of a Latin hypercube.
Points latin_hypercube(std::size_t runs, std::size_t dimensions, std::uint64_t seed);
/// The first `runs` points of the sequence, the corner 0 among them; without a shift: as published.
Points sobol_points(std::size_t runs, std::size_t dimensions, std::uint64_t seed, bool shifted = true);

/// Mean square of the difference between the share of the points in a box from the corner 0 and its volume; the mean
/// of it over independent points is (2^-d - 3^-d)/n. T. T. Warnock, in Applications of number theory to numerical
/// analysis, Academic Press 1972, 319.
double square_discrepancy(const Points& points, std::size_t dimensions);

}  // namespace duskline::harness
