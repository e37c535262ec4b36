/// A made-up sol of a made-up plant, for tests of the trace and of the report.
///
/// Nothing here is a model: smooth formulas give every signal of a real run a believable shape, so that a
/// page can be looked at and a file be filled without a plant. Same arguments, same numbers.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "hil-harness/trace/signal.hpp"
#include "hil-harness/trace/trace_writer.hpp"

namespace duskline::tests {

struct SyntheticRun {
  double duration = 88775.0;  ///< s, one sol
  double period = 10.0;       ///< s between rows
  bool regulated = true;      ///< false: a law that does not see the dusk coming
};

std::vector<harness::SignalInfo> synthetic_signals();
std::vector<double> synthetic_row(const SyntheticRun& run, double time);
/// Writes a whole trace; nothing on success, else what went wrong.
std::string write_synthetic_trace(const std::string& path, const SyntheticRun& run,
                                  harness::TraceOptions options = {});
/// Key figures, requirements and events of such a run, as the report reads them.
std::string synthetic_summary();

}  // namespace duskline::tests
