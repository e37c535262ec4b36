/// What the controller reports from one tick to the next, as events: mode, interlocks, alarms, diagnoses, corrections.
#pragma once

#include "hil-harness/loop/alarm_log.hpp"
#include "hil-harness/loop/event_log.hpp"
#include "hil-harness/loop/snapshot.hpp"

namespace duskline::harness {

class ChangeLog {
 public:
  explicit ChangeLog(ModuleLog log) : log_(std::move(log)) {}

  /// Called once a tick, after control; `period` is the time that the tick stands for.
  void follow(const Snapshot& s, double period);
  AlarmFigures alarms() const { return alarms_.figures(); }
  void keep(scenarios::Keeper& k) {
    auto& [log, alarms, mode, corrected, diagnosed] = *this;
    k(alarms, mode, corrected, diagnosed);
  }

 private:
  ModuleLog log_;
  AlarmLog alarms_{module_alarm_names()};
  std::uint32_t mode_ = CTL_OFF, corrected_ = 0, diagnosed_ = 0;
};

}  // namespace duskline::harness
