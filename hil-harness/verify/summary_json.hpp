/// The summary as JSON and as the few lines that a person reads first.
#pragma once

#include <string>

#include "hil-harness/loop/summary.hpp"
#include "hil-harness/verify/judge.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

/// summary.json: figures with units, balances, modes, what happened, and how the run ended. Same run, same
/// bytes.
std::string summary_json(const scenarios::Case& c, const RunRecord& record,
                         const std::vector<RequirementResult>& judged = {});

/// A handful of lines for the terminal.
std::string summary_text(const scenarios::Case& c, const RunRecord& record);

}  // namespace duskline::harness
