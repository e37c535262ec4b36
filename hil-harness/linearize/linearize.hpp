/// The closed loop at one instant as a linear sampled system: plant exactly from duals, controller by differences
/// through its own C interface, instruments from their own weights. Loops broken one at a time.
///
/// What it is   x[n+1] = F x[n] + G v[n], u[n] = H x[n], with v the commands that the plant gets and u those that
///              the controller gives; v = u closes every loop
/// Equation     loop j broken, the others closed: L_j = -H_j (z I - F - sum_k!=j G_k H_k)^-1 G_j;
///              S = I + H (z I - F - G H)^-1 G
/// Symbols      deviations from the operating point, in SI units; z = exp(i omega h)
/// Validity     small deviations, no limit, slew or dead-band in the way; the slow states of the plant stand still
/// Source       docs/explain/linear-models.md
/// Left out     quantisation, dead-bands (speed_step, current_step, recycle_step), saturation, noise
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "hil-harness/linearize/margins.hpp"
#include "hil-harness/linearize/state_space.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

/// Plant, instruments and controller as they stand at an instant of a run, with the ticks before it.
class OperatingPoint;

/// Runs the case up to `at` (s since its start). Null, and the reason in `problem`, when it ends before.
std::shared_ptr<const OperatingPoint> operating_point(const scenarios::Case& c, double at,
                                                      std::string& problem);

/// One loop, broken at a command.
struct LoopMargins {
  std::string name;        ///< "speed", "current by coke margin", "end heater 0", ...
  std::string command;     ///< name of the command in the controller's list
  bool in_charge = false;  ///< the loop acts at this instant; else: as if it held the command there
  bool feedback = false;   ///< the command depends on what is measured
  bool stable = false;     ///< with every loop closed
  double slowest = 0.0;    ///< largest modulus of a closed-loop pole that the loop can move, 1
  Margins margins;
};

/// Margins of every loop under these controller parameters, at the same operating point. `params` may differ
/// from those that the run was made with, in gains and times above all.
std::vector<LoopMargins> loop_margins(const OperatingPoint& point, const ctl_params& params);

/// The same with the parameters of the case. Throws std::runtime_error when the run ends before `at`.
std::vector<LoopMargins> loop_margins(const scenarios::Case& c, double at);

}  // namespace duskline::harness
