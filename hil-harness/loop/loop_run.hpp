/// A run that is driven from outside, tick by tick, and into which people act.
///
/// What it is   the tick of loop.hpp as one call; acts of people (scenarios/reader/acts.hpp) are taken at the first tick
///              that is not before their time
/// Validity     a run is a function of case, controllers and acts: the same acts, given before the run or while it goes on,
///              make the same run; so does one that goes on from a checkpoint. In a long run (kLongRun) the numerics
///              begin anew with every whole sol, so that a checkpoint there holds what is so, not how it was computed
#pragma once

#include <memory>
#include <optional>
#include <string>

#include "hil-harness/loop/loop.hpp"
#include "scenarios/reader/acts.hpp"

namespace duskline::harness {

class LoopRun {
 public:
  /// `c` must outlive the run.
  explicit LoopRun(const scenarios::Case& c, const Controllers& controllers = {}, LoopOptions options = {});
  ~LoopRun();
  LoopRun(const LoopRun&) = delete;
  LoopRun& operator=(const LoopRun&) = delete;

  /// One tick; false: the run had ended, or ended with this tick.
  bool step();
  bool ended() const;
  /// The tick that comes next, from 0, and its time in s.
  std::int64_t next_tick() const;
  double next_time() const;
  /// The latest tick, with its commands in force.
  const Snapshot& snapshot() const;
  const std::vector<LogEvent>& events() const;
  /// The faults whose condition has not come true.
  std::vector<plant::FaultEvent> waiting() const;
  /// The acts so far. Those that are added may not be due before the next tick.
  scenarios::Acts& acts();
  RunRecord result() const;
  /// What keeps the plant controller of several modules from entering a mode at this tick.
  std::vector<std::string> plant_reasons_against(std::uint32_t mode) const;

  /// A whole sol of a long run lies behind, and the run goes on.
  bool at_checkpoint() const;
  /// All that the run remembers before its next tick, at which its numerics begin anew; nothing when the controller
  /// does not show its memory.
  std::optional<std::string> checkpoint();
  /// Into a run that was just made of the same case, controllers and acts: it goes on from there. False: the bytes do not
  /// fit, and the run is of no use.
  bool go_on_from(const std::string& checkpoint);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace duskline::harness
