/// A fault that waits for its condition.
///
/// What it is   the condition is asked tick by tick; the fault sets in at the tick after the one that settles it
/// Equation     scenarios/requirements/trigger.hpp
/// Symbols      at [s]: the instant from which it is asked
/// Validity     a function of the run alone: the same acts bring the fault in at the same tick
/// Left out     a condition that does not parse, which the readers refuse, never comes true
#pragma once

#include <memory>
#include <optional>

#include "hil-harness/loop/signal_rows.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "scenarios/requirements/stream.hpp"

namespace duskline::harness {

class FaultTrigger {
 public:
  /// `modules`: how many the plant has between headers; 0: the bench.
  explicit FaultTrigger(plant::FaultEvent fault, std::size_t modules = 0);
  /// Once a tick.
  void watch(const Snapshot& s);
  bool came_true() const { return came_true_; }
  const plant::FaultEvent& fault() const { return fault_; }
  /// What has come so far; it is read back into one of the same fault.
  void keep(scenarios::Keeper& k) {
    auto& [fault, condition, stream, rows, ticks, came_true] = *this;
    if (stream) k(*stream);
    k(rows, ticks, came_true);
  }

 private:
  plant::FaultEvent fault_;
  std::shared_ptr<const scenarios::Requirement> condition_;  ///< stays where it is: the stream refers to it
  std::optional<scenarios::Stream> stream_;
  SignalRows rows_;
  std::size_t ticks_ = 0;
  bool came_true_ = false;
};

}  // namespace duskline::harness
