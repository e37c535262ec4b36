/// Margins of the loops at the operating points of a tuning, for any gains.
///
/// What it is   the plant of the scenario settled in production at each local time, in calm air and without
///              faults; its loops broken one at a time (hil-harness/linearize)
/// Equation     lack = sum over points and loops of what Ms exceeds its limit by, 10 for a loop that is not
///              stable or that feeds nothing back any more: gains so high that every move ends at a limit of
///              the actuator
/// Symbols      Ms [1] peak of the sensitivity; not stable: a pole that doubles within 700 s (modulus above
///              1.001)
/// Validity     the nominal plant; gains move the point itself but little, because the loops have integral
///              action
/// Source       hil-harness/linearize/linearize.hpp
/// Left out     dispersed plants; drifts slower than that, which single precision cannot tell from standing
///              still
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
  /// Brings the plant of the case to each of its operating points. What cannot be reached is named in `problem`.
  MarginCheck(const scenarios::Case& c, unsigned threads, const std::atomic<bool>* interrupted);
  ~MarginCheck();
  MarginCheck(const MarginCheck&) = delete;
  MarginCheck& operator=(const MarginCheck&) = delete;

  const std::string& problem() const;
  /// With the gains of the case.
  const std::vector<PointMargins>& at_start() const;
  std::vector<PointMargins> at_all_points(const ctl_params& params) const;
  /// 0 when every loop keeps its limit at every point; `why` names the worst that does not.
  double lack(const std::vector<PointMargins>& margins, std::string& why) const;

 private:
  struct Content;
  std::unique_ptr<Content> content_;
};

}  // namespace duskline::harness
