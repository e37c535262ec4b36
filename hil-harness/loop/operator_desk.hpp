/// The operator's side of the link: standing requests, a schedule of power limits, actions on alarms, and what became
/// of each, in the log. Acts of the scenario come first, then those of people (acts.hpp), which may arrive while the run
/// goes on.
///
/// Validity     the standing request is repeated every tick, so that what a lost link withheld arrives with it; actions
///              on alarms that are due while the link is lost arrive after it; one action on alarms a tick, those due
///              at the same instant follow in the next ticks
/// Left out     a refusal by a controller that reports none: plug-ins may leave the reports out
#pragma once

#include "hil-harness/loop/event_log.hpp"
#include "hil-harness/loop/snapshot.hpp"
#include "scenarios/reader/acts.hpp"
#include "scenarios/reader/scenario.hpp"

namespace duskline::harness {

class OperatorDesk {
 public:
  OperatorDesk(const scenarios::Scenario& scenario, const scenarios::Acts& acts, EventLog& log)
      : scenario_(scenario), acts_(acts), log_(log) {}

  /// The request in force; while the link is lost only its age grows.
  void read_commands(Snapshot& s, bool link_lost);
  /// The next fall of the power ceiling, as a bus with a schedule would announce it.
  void announce_ceiling(Snapshot& s) const;
  /// The next action that is due; while the link is lost actions wait, as requests do.
  void act_on_alarms(Snapshot& s, bool link_lost);
  /// Notes and causes that people give at this tick.
  void note_words(Snapshot& s);
  /// What the controller answered in this tick to the request and to the action.
  void note_replies(const Snapshot& s);
  void keep(scenarios::Keeper& k) {
    auto& [scenario, acts, log, command, action, request, act, note, cause, ignored, waiting, awaits,
           states] = *this;
    k(command, action, request, act, note, cause, ignored, awaits, states);
  }

 private:
  void note_action(const Snapshot& s);
  void take_request(const scenarios::OperatorRequest& request, Snapshot& s);
  const scenarios::AlarmAction* next_action(double time);

  const scenarios::Scenario& scenario_;
  const scenarios::Acts& acts_;
  EventLog& log_;
  std::size_t next_command_{}, next_action_{};                            ///< of the scenario
  std::size_t next_request_{}, next_act_{}, next_note_{}, next_cause_{};  ///< of people
  std::uint32_t ignored_{}, waiting_{};                                   ///< alarms, before the action
  bool awaits_reply_{};
  std::array<std::uint8_t, CTL_ALARM_CAPACITY> states_{};  ///< of the alarms, before the action
};

}  // namespace duskline::harness
