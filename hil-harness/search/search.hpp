/// Looks for the least value of a function over the unit cube when each value costs a whole run.
///
/// What it is   points given and draws at random, then differential evolution that starts from the best of
///              them
/// Equation     v = x + F (x_p - x) + F (x_1 - x_2), taken over for each number with chance C; the child
///              replaces x when it is no worse; outside the cube it goes half-way back to the side that it
///              crossed
/// Symbols      x_p one of the best fifth, x_1, x_2 any two others; F in (0.4, 0.9) anew for each child; C =
///              0.9
/// Validity     up to a few dozen numbers; noisy or broken functions too, since only order counts; infinity
///              is worst
/// Source       R. Storn, K. Price, J. Global Optim. 11 (1997) 341; Zhang and Sanderson, IEEE Trans. Evol.
///              Comput. 13 (2009) 945 for x_p and the sides
/// Left out     any promise that the least value is found
///
/// Points are asked for a batch at a time and depend on seed, size and earlier values only, so that a batch can be worked
/// off by any number of threads. The draws are independent: falsify/statistics.hpp describes them, and nothing that came
/// after.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "plant-model/random/noise.hpp"

namespace duskline::harness {

using Point = std::vector<double>;

struct SearchPlan {
  std::size_t dimension, runs;  ///< numbers; values that it may ask for
  std::uint64_t seed;
  std::string_view stream;   ///< name of its random numbers
  std::size_t draws;         ///< points before the evolution begins
  std::size_t members;       ///< of a generation
  std::vector<Point> first;  ///< these before the draws; part of their number
};

class Search {
 public:
  explicit Search(SearchPlan plan);
  /// Draws without any start: draws_of(runs) of them, then generations as large as the dimension asks for.
  Search(std::size_t dimension, std::size_t runs, std::uint64_t seed);

  /// Where the next values are wanted; empty when the search is over.
  std::vector<Point> ask();
  /// The values there, in the same order; not a number counts as infinite.
  void tell(std::span<const double> values);

  /// How many points come before the evolution; independent draws, unless the plan gave some.
  std::size_t draws() const { return plan_.draws; }
  static std::size_t draws_of(std::size_t runs);

 private:
  struct Member {
    Point at;
    double value;
  };

  double uniform();
  std::size_t below(std::size_t n);
  Point draw();
  Point child_of(std::size_t i);
  void sort_members();
  bool settled() const;

  SearchPlan plan_;
  plant::NoiseStream stream_;
  std::int64_t drawn_{};
  std::size_t asked_{};
  std::vector<Point> batch_;
  std::vector<Member> members_;
  bool afresh_{};  ///< all but the best are drawn anew
};

}  // namespace duskline::harness
