/// The closed loop. One written order per tick, at t_n = n * period:
///
///   disturb    events and faults change parameters, commands arrive; the surroundings at t_n are set
///   sense      the instruments read the plant at t_n, as it is just before the new commands
///   control    the controller, on the other side of the link, turns readings into commands
///   actuate    commands pass saturation and slew; they are held during the tick; without power they are 0
///   integrate  the plant moves from t_n to t_n+1, the integrator starting anew
///   record     the row of t_n: what was true, read and commanded at t_n; it is written even when the
///              integration failed, so that the last row shows what it set out from
///
/// A stop is looked at in every tick and at every step of the integrator. Recording, progress, interruption and the
/// clock of a paced run never change what happens in it. Same inputs, same bytes.
#pragma once

#include <atomic>
#include <functional>

#include "hil-harness/links/controllers.hpp"
#include "hil-harness/loop/summary.hpp"
#include "plant-model/environment/climate.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "scenarios/reader/acts.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

class Pacer;

/// A run of this length and more leaves a row for each sol (sols.hpp) and checkpoints (loop_run.hpp).
inline constexpr double kLongRun = 5.0 * plant::kSolSeconds;  ///< s

struct LoopOptions {
  /// Called with the snapshot of every tick that is recorded, as the last of its tick; false ends the run.
  std::function<bool(const Snapshot&)> record;
  /// Called with the snapshot of every tick when its commands are in force, before the plant moves on.
  std::function<void(const Snapshot&)> watch;
  /// Called now and then with the share of the run that is done.
  std::function<void(double)> progress;
  const std::atomic<bool>* interrupted = nullptr;
  /// Holds the run to the clock; none: as fast as possible.
  Pacer* pacer = nullptr;
  /// What people do; null: nothing. Copied when the run begins.
  const scenarios::Acts* acts = nullptr;
};

/// Runs a case to its end or to a named early end.
RunRecord run_loop(const scenarios::Case& c, const Controllers& controllers = {},
                   const LoopOptions& options = {});

/// The surroundings of a case, with the weather file read; problems if that cannot be read.
struct Surroundings {
  plant::EnvironmentSettings settings;
  std::vector<std::string> problems, notes;
};
Surroundings surroundings(const scenarios::Case& c);

}  // namespace duskline::harness
