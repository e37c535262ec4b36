/// Writes the trace of a run: a row of all signals now and then, and what important signals did between two rows.
///
/// What it is   the dictionary of signals at each recorded tick; beside chosen ones, as `<name>_min` and `<name>_max`,
///              the least and the greatest value of every tick since the row before, that of the row included
/// Validity     a value that is unknown throughout the interval stays unknown; with a row at every tick there is
///              nothing between rows, and both are left out
#pragma once

#include <map>
#include <string>
#include <vector>

#include "hil-harness/loop/signals.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

class IntervalExtremes {
 public:
  /// `modules` as in signal_table.
  explicit IntervalExtremes(std::size_t modules = 0);
  const std::vector<SignalInfo>& signals() const { return infos_; }
  /// Called once a tick.
  void gather(const Snapshot& s);
  /// What has been gathered, in the order of signals(); begins the next interval.
  void take(std::span<double> out);
  void keep(scenarios::Keeper& k) {
    auto& [sources, infos, values] = *this;
    k(values);
  }

 private:
  struct Source {
    const Signal* signal;
    std::size_t place;  ///< of its minimum; the maximum follows
  };
  std::vector<Source> sources_;
  std::vector<SignalInfo> infos_;
  std::vector<double> values_;
};

class Recorder {
 public:
  /// `every_tick`: each tick is a row. `options`: how the file is kept; it is not compressed unless they say so.
  Recorder(const std::string& path, const std::map<std::string, std::string>& attributes, bool every_tick,
           const TraceOptions& options = {600, 0}, std::size_t modules = 0);
  /// Called once a tick, before `row`.
  void watch(const Snapshot& s) {
    if (!every_tick_) extremes_.gather(s);
  }
  bool row(const Snapshot& s);
  bool close() { return trace_.close(); }
  const std::string& problem() const { return trace_.problem(); }
  TraceWriter& trace() { return trace_; }
  void keep(scenarios::Keeper& k) { k(extremes_); }

 private:
  bool every_tick_;
  IntervalExtremes extremes_;
  TraceWriter trace_;
  std::vector<double> row_;
  std::size_t signals_;  ///< values of the dictionary in a row
};

}  // namespace duskline::harness
