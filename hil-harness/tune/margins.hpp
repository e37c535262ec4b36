/// Margins of the loops at the operating points of a tuning, for any gains.
///
/// What it is   the plant of the scenario settled in production at each local time, in calm air and without faults;
///              its loops broken one at a time (hil-harness/linearize)
/// Equation     lack = sum over points and loops of what Ms exceeds its limit by, 10 for a loop that is not stable
/// Symbols      Ms [1] peak of the sensitivity
/// Validity     the nominal plant; gains move the point itself but little, because the loops have integral action
/// Source       hil-harness/linearize/linearize.hpp
/// Left out     dispersed plants
#pragma once

#include <atomic>
#include <memory>
#include <string>
#include <vector>

#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

struct LoopFigures {
  std::string name;
  bool in_charge{};  ///< at this instant; else as if it were
  bool stable{};
  double sensitivity{}, gain{}, phase{}, delay{};  ///< Ms, factor, deg, s; infinite: no crossing
};

struct PointMargins {
  std::string point;
  double local_time_h{};
  std::vector<LoopFigures> loops;
};

class MarginCheck {
 public:
  /// Brings the plant to each point. What cannot be reached is told by `problem`.
  MarginCheck(const scenarios::Case& c, const std::vector<scenarios::OperatingPoint>& points,
              double sensitivity_most, const std::atomic<bool>* interrupted);
  ~MarginCheck();
  MarginCheck(const MarginCheck&) = delete;
  MarginCheck& operator=(const MarginCheck&) = delete;

  const std::string& problem() const;
  std::vector<PointMargins> at_all_points(const ctl_params& params) const;
  /// 0 when every loop keeps its limit at every point; `why` names the worst that does not.
  double lack(const ctl_params& params, std::string& why) const;

 private:
  struct Content;
  std::unique_ptr<Content> content_;
};

}  // namespace duskline::harness
