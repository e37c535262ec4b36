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

namespace duskline::harness {

class IntervalExtremes {
 public:
  IntervalExtremes();
  const std::vector<SignalInfo>& signals() const { return infos_; }
  /// Called once a tick.
  void gather(const Snapshot& s);
  /// What has been gathered, in the order of signals(); begins the next interval.
  void take(std::span<double> out);

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
  /// `every_tick`: each tick is a row.
  Recorder(const std::string& path, const std::map<std::string, std::string>& attributes, bool every_tick);
  /// Called once a tick, before `row`.
  void watch(const Snapshot& s) {
    if (!every_tick_) extremes_.gather(s);
  }
  bool row(const Snapshot& s);
  bool close() { return trace_.close(); }
  const std::string& problem() const { return trace_.problem(); }
  bool no_space() const { return trace_.no_space(); }

 private:
  bool every_tick_;
  IntervalExtremes extremes_;
  TraceWriter trace_;
  std::vector<double> row_;
  std::size_t signals_;  ///< values of the dictionary in a row
};

}  // namespace duskline::harness
