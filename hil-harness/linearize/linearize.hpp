/// The closed loop at one instant as a linear sampled system: plant exactly from duals, controller by differences
/// through its own C interface, instruments from their own weights. Loops broken one at a time.
///
/// What it is   x[n+1] = F x[n] + G v[n], u[n] = H x[n], with v the commands that the plant gets and u those
///              that the controller gives; v = u closes every loop
/// Equation     loop j broken, the others closed: L_j = -H_j (z I - F - sum_k!=j G_k H_k)^-1 G_j; S = I + H
///              (z I - F - G H)^-1 G
/// Symbols      deviations from the operating point, in SI units; z = exp(i omega h)
/// Validity     small deviations, no limit, slew or dead-band in the way; the slow states of the plant stand
///              still
///              between headers the loops are those of the plant controller, around modules under their own controllers
///              (headers_side.hpp)
/// Source       docs/explain/linear-models.md
/// Left out     quantisation, dead-bands (speed_step, current_step, recycle_step), saturation, noise
#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "hil-harness/linearize/margins.hpp"
#include "hil-harness/linearize/state_space.hpp"
#include "hil-harness/links/link.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

/// Plant, instruments and controller as they stand at an instant of a run, with the ticks before it.
class OperatingPoint;

struct RunUpTo {
  std::function<void(double)> progress;
  const std::atomic<bool>* interrupted = nullptr;
};

/// Why the controller behind a link cannot be linearized; empty: it can.
std::string layout_problem(const Link& controller);

/// Runs the case up to `at` (s since its start), under `controller` or, without one, ours. Null, and the reason in
/// `problem`, when it ends before.
std::shared_ptr<const OperatingPoint> operating_point(const scenarios::Case& c, double at,
                                                      std::string& problem, const RunUpTo& up_to = {},
                                                      std::shared_ptr<Link> controller = nullptr);

/// One loop, broken at a command.
struct LoopMargins {
  std::string name;        ///< "speed", "current by coke margin", "end heater 1", ...
  std::string command;     ///< name of the command in the controller's list
  bool in_charge = false;  ///< acts at this instant; else as if that override held the current there
  bool feedback = false;   ///< the command depends on what is measured
  bool stable = false;     ///< with every loop closed
  double slowest = 0.0;    ///< largest modulus of a closed-loop pole, 1
  Margins margins;
  std::size_t ticks = 0;  ///< over which the mean is taken that makes the controller
  std::string tuning;     ///< of the plant controller: gain and integral time of the loop, and their source
};

/// Which command holds which reading of the headers; empty on the bench.
struct Pairing {
  std::vector<std::string> commands, readings;
};

/// Parts of the controller act every 8 or 20 ticks: a mean over fewer than this many may miss one of them.
inline constexpr std::size_t kFewestTicks = 40;

/// A pole of a sampled loop may lie this far beyond the unit circle: single precision cannot tell what is slower from
/// what stands still.
inline constexpr double kUnitCircle = 1.0 + 2e-5;

/// The closed loop at an operating point under one set of controller parameters; between headers under those of each
/// controller.
class LinearLoop {
 public:
  LinearLoop(const OperatingPoint& point, const ctl_params& params);
  explicit LinearLoop(const OperatingPoint& point);
  ~LinearLoop();

  /// The plant alone: continuous, and with the commands held over each tick.
  const StateSpace& plant() const;
  const StateSpace& sampled_plant() const;
  /// Plant and instruments: inputs are the commands, outputs the readings and then the outputs of the plant.
  const StateSpace& measured_plant() const;
  /// Readings and references to commands; no states where the controller is without power.
  const StateSpace& controller() const;
  /// All loops closed: inputs are disturbances of the commands and the references; outputs those of the plant, then
  /// the commands.
  const StateSpace& closed() const;

  /// Its poles, the slowest first.
  const std::vector<std::complex<double>>& closed_poles() const;

  Pairing pairing() const;
  /// Relative gains of that pairing at a frequency: G times the transpose of its inverse, entry by entry; rows are readings,
  /// columns commands. 1 on the diagonal: the loops do not meet; below 0: closing the others turns the sign. (Bristol, IEEE
  /// Trans. Automatic Control 11 (1966) 133.)
  Eigen::MatrixXcd relative_gains(double omega) const;

  /// Ticks over which the mean is taken that makes the controller, between headers the one with the fewest; 0: there is no
  /// controller at work.
  std::size_t ticks() const;

  /// Largest singular value of S over the commands that a feedback moves, scaled by their spans; 1 where none does.
  double sensitivity_at(double omega) const;

  /// Every loop as it is, and each override of the current as if it were in charge.
  std::vector<LoopMargins> margins() const;
  /// L of one of them.
  FrequencyResponse response_of(const LoopMargins& loop) const;

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

/// Margins of every loop under these controller parameters, at the same operating point. `params` may differ
/// from those that the run was made with, in gains and times above all. Between headers they are not used.
std::vector<LoopMargins> loop_margins(const OperatingPoint& point, const ctl_params& params);

/// The same with the parameters of the case. Throws std::runtime_error when the run ends before `at`.
std::vector<LoopMargins> loop_margins(const scenarios::Case& c, double at);

}  // namespace duskline::harness
