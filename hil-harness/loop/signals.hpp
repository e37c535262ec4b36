/// The dictionary of recorded signals: name, unit, meaning, axis, and where the value comes from.
///
/// Traces, reports, requirements and `describe signals` all read this one table.
#pragma once

#include <span>
#include <vector>

#include "hil-harness/loop/snapshot.hpp"
#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

struct Signal {
  SignalInfo info;
  void (*read)(const Snapshot& s, double* out);  ///< writes info.width numbers, in info.unit
};

const std::vector<Signal>& signal_table();

/// All signals of a snapshot one after the other, in the order of the table.
void read_signals(const Snapshot& s, std::span<double> out);

}  // namespace duskline::harness
