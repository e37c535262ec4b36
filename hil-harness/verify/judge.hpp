/// A run and the verdicts on its requirements.
///
/// The signals that the requirements name are read at every tick, whatever the trace records, judged as the run goes
/// and forgotten as soon as no window reaches them (scenarios/requirements/stream.hpp); what an objective names, and
/// what a requirement names that needs the whole run, is kept. Left out: stopping at the first violation (the rest of
/// the run tells more).
#pragma once

#include <memory>

#include "hil-harness/loop/loop.hpp"
#include "hil-harness/loop/signal_rows.hpp"
#include "scenarios/requirements/objective.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::harness {

/// One requirement and what became of it.
struct RequirementResult {
  std::string name, must;
  scenarios::Verdict verdict;
  std::string worse;  ///< why it fails against the accepted results (accepted.hpp); empty: it does not
};

class Watcher {
 public:
  /// Requirements that do not parse are left out: the reader has refused them before.
  explicit Watcher(const scenarios::Scenario& scenario,
                   std::span<const scenarios::Objective> objectives = {});
  ~Watcher();
  Watcher(const Watcher&) = delete;
  Watcher& operator=(const Watcher&) = delete;
  bool empty() const;
  /// Called once a tick.
  void watch(const Snapshot& s);
  /// The verdicts if the run ends here.
  std::vector<RequirementResult> judge() const;
  /// What the objectives name, of the whole run; valid until the next tick.
  scenarios::TraceSamples samples() const;
  /// What is known so far; it is read back into the watcher of the same scenario.
  void keep(scenarios::Keeper& k);
  /// Gives the samples back; nothing can be judged after that.
  void release();

 private:
  struct Content;
  std::unique_ptr<Content> content_;
};

/// None is violated and none is left undecided by a run that ended too early.
bool all_hold(const std::vector<RequirementResult>& judged);

/// A line for each requirement, for the terminal.
std::string judged_text(const std::vector<RequirementResult>& judged);

/// `satisfied`, `violated`, `undecided` (the trace ends too early), `not exercised` (its event never occurred).
std::string_view word(scenarios::Outcome outcome);

/// A unit that people read, and what a value is multiplied by for it: V in mV, kg s-1 in g/h.
struct ReadUnit {
  double factor;
  std::string unit;  ///< empty for a plain number
};
ReadUnit read_unit(std::string_view unit);

/// The margin in the unit that was typed, else in one that people read.
struct Shown {
  double value;
  std::string unit;
};
Shown shown_margin(const scenarios::Verdict& verdict);

/// The margin with its unit, as people read it: `+12.3 mV`.
std::string margin_words(const scenarios::Verdict& verdict);

}  // namespace duskline::harness
