/// What stands between one stack module and its controller.
///
/// What it is   supply, wire, instruments and actuators of a module, its part of the snapshot, and what is written down
///              of it: limits that were passed, a cell that cracked, what its controller reported
/// Validity     called in the order of a tick (loop.hpp): look, sense, control, actuate
///              with several modules each has its own random numbers, and its events name it
/// Left out     what modules share: surroundings, faults, requests of people, the integrator and the balances
#pragma once

#include "hil-harness/links/faulty_wire.hpp"
#include "hil-harness/loop/change_log.hpp"
#include "hil-harness/loop/faults.hpp"
#include "hil-harness/loop/instruments.hpp"
#include "hil-harness/loop/limit_watch.hpp"
#include "hil-harness/loop/power_supply.hpp"
#include "plant-model/integrate/run_end.hpp"

namespace duskline::harness {

class Pacer;

class ModuleSide {
 public:
  /// `built`: the module as it is without faults; `start`: where the actuators stand; `number`: from 0. All that is
  /// referred to must outlive it.
  ModuleSide(const scenarios::Case& c, Link& link, const Faults& faults, const plant::Plant& plant,
             const plant::PlantParameters& built, const plant::Commands& start, EventLog& log,
             std::size_t number = 0);
  ModuleSide(const ModuleSide&) = delete;
  ModuleSide& operator=(const ModuleSide&) = delete;

  Snapshot& snapshot() { return s_; }
  plant::SensorBank& sensors() { return sensors_; }
  /// Whether the controller shows its memory.
  bool can_be_kept() { return link_.own_memory() != nullptr; }
  bool powered() const { return supply_.powered(); }
  AlarmFigures alarms() const { return changes_.alarms(); }

  /// The faults have been added to: from now on the controller is behind a wire, if one of them is of the wire.
  void fit_wire();
  /// The instruments have been calibrated: at its next tick the controller drops what it learnt against their readings.
  void calibrated() { calibrated_ = true; }

  /// Margins and temperatures from the outputs of the plant. True when a cell cracks at this tick, the worst one.
  bool look(const plant::PlantParameters& p);
  /// Logs the limits that were crossed since the tick before, in which the plant moved from `before` under `ambient`.
  void note_limits(const PlantStepper& stepper, const plant::State& before, const plant::Ambient& ambient) {
    limits_.follow(s_, stepper, before, ambient);
  }
  void sense();
  /// Asks the controller if there is voltage for it. Anything but reached_end ends the run.
  plant::RunResult control(double bus_voltage, Pacer* pacer);
  /// `most`: how far the valve of the module may open, where it has one for its feed.
  plant::Commands actuate(double most = 1.0);
  /// Logs what the controller has reported in this tick.
  void note_changes() { changes_.follow(s_, period_); }

  void keep(scenarios::Keeper& k);

 private:
  plant::RunResult ask_controller(Link& link, Pacer* pacer);
  void note_wire();

  double period_;  ///< s
  Part number_;
  Link& link_;
  const Faults& faults_;
  ModuleLog log_;
  FaultyWire faulty_wire_;  ///< in use once there is a fault of it, of the scenario or of people
  bool wired_;
  bool armed_ = true;
  std::array<plant::SensorSpec, scenarios::kReadingChannels> specs_;
  plant::SensorBank sensors_;
  ActuatorBank actuators_;
  PowerSupply supply_;
  LimitWatch limits_;
  ChangeLog changes_;
  Snapshot s_;
  Channels truth_{}, readings_{};
  bool cracked_ = false;
  bool calibrated_ = false;
};

}  // namespace duskline::harness
