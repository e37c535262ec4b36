/// What verify keeps: the runs of what failed, and pages that compare what changed with the accepted results.
#pragma once

#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/verify/accepted.hpp"

namespace duskline::harness {

/// Clears the places of what is kept of these, or says why they cannot be used; an exit code. Runs that no check kept stay.
int clear_kept(const std::vector<ScenarioResult>& all, const VerifyRequest& request);

/// Runs what failed, also against the accepted results (null: none), once more with trace and report, and writes a page
/// for each scenario that changed. False when that was interrupted or something cannot be written.
bool keep_runs(const std::vector<ScenarioResult>& all, const VerifyRequest& request,
               const AcceptedComparison& against, const AcceptedResults* accepted);

}  // namespace duskline::harness
