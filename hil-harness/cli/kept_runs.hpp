/// What verify keeps: the runs of what failed, and pages that compare what changed with the accepted results.
#pragma once

#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/verify/accepted.hpp"

namespace duskline::harness {

/// Clears the place of what is kept, or says why it cannot be used; an exit code.
int clear_kept(const VerifyRequest& request);

/// Runs what failed, also against the accepted results (null: none), once more with trace and report, and writes a page
/// for each scenario that changed. False when that was interrupted or a page cannot be written.
bool keep_runs(const std::vector<ScenarioResult>& all, const VerifyRequest& request,
               const AcceptedComparison& against, const AcceptedResults* accepted);

}  // namespace duskline::harness
