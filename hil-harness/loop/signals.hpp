/// The dictionary of recorded signals: name, unit, meaning, axis, and where the value comes from.
///
/// Traces, reports, requirements and `describe signals` all read this one table. Between headers a signal of a module has its
/// values for each module, and what the modules share has signals of its own.
#pragma once

#include <span>
#include <vector>

#include "hil-harness/loop/snapshot.hpp"
#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

struct Signal {
  SignalInfo info;
  void (*of)(const Snapshot& s,
             double* out);  ///< writes as many numbers as there are of one module, in info.unit
  /// run: once; shared: only between headers; each: the same, with a number for each module
  enum class Scope { module, run, shared, each } scope;

  /// Writes info.width numbers.
  void read(const Snapshot& s, double* out) const;
};

/// `modules`: how many there are between headers; 0: one with apertures.
const std::vector<Signal>& signal_table(std::size_t modules = 0);
/// That of a snapshot.
inline const std::vector<Signal>& signal_table(const Snapshot& s) {
  return signal_table(s.modules.size());
}

/// All signals of a snapshot one after the other, in the order of the table.
void read_signals(const Snapshot& s, std::span<double> out);

}  // namespace duskline::harness
