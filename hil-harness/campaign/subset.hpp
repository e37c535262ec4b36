/// The probability of what happens rarely, by subset simulation.
///
/// What it is   levels of a value, each passed by a tenth of the points of the level before; the points of a level are
///              grown from those that passed, by chains in the space of standard normal numbers
/// Equation     P = p0^(levels) (passing at last)/n, where none passes at last: p0^(levels) (1 - 0.05^(1/n)), an upper
///              end; a step of a chain: u' = r u + sqrt(1 - r^2) z, taken when its value passes the level, else u again;
///              cov^2 = sum over levels of (1 - p)/(n p) (1 + gamma)
/// Symbols      u standard normal; r = 0.8; p0 = 0.1; n points a level; gamma from the correlation along the chains;
///              an event is a value of 0 or less
/// Validity     values that fall towards the event; cov leaves out what the levels have in common, so it is low
/// Source       S.-K. Au, J. L. Beck, Probab. Eng. Mech. 16 (2001) 263; steps: I. Papaioannou et al., Probab. Eng. Mech.
///              41 (2015) 89
/// Left out     choosing r by the share of steps that are taken
///
/// Points are asked for a batch at a time and depend on seed, sizes and earlier values only, as in search/search.hpp.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "plant-model/random/noise.hpp"

namespace duskline::harness {

class SubsetSimulation {
 public:
  using Normals = std::vector<double>;

  /// `points` of each level, a multiple of ten; no more than `levels` of them.
  SubsetSimulation(std::size_t dimension, std::size_t points, std::size_t levels, std::uint64_t seed);

  /// Where the next values are wanted; empty when it is over.
  std::vector<Normals> ask();
  /// The values there, in the same order.
  void tell(std::span<const double> values);

  /// Of the event; an upper end where no point of the last level reached it: of that level's share the bound of Clopper
  /// and Pearson at kConfidence, as if its points were independent.
  static constexpr double kConfidence = 0.95;
  double probability() const { return probability_; }
  /// Coefficient of variation of it; of an upper end, that of the levels before the last.
  double variation() const;
  /// A point of the last level reached the event.
  bool reached() const { return reached_; }

 private:
  struct Member {
    Normals at;
    double value;
  };

  double normal() { return stream_.normal(drawn_++); }
  void end_level();

  std::size_t dimension_, points_, levels_;
  plant::NoiseStream stream_;
  std::int64_t drawn_{};
  std::vector<Member> members_;  ///< of this level: chain by chain in the order in which they grow
  std::vector<Normals> asked_;
  std::size_t chains_{}, level_{};
  double limit_{}, probability_ = 1.0, squares_{};
  bool reached_{}, over_{};
};

}  // namespace duskline::harness
