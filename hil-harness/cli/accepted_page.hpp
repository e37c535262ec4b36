/// The page that compares a scenario with what was accepted of it: verdicts, margins and key figures.
///
/// Left out: events and signals, which accepted results do not hold.
#pragma once

#include "hil-harness/trace/signal.hpp"
#include "hil-harness/verify/accepted.hpp"

namespace duskline::harness {

/// Writes the page of one scenario with its `changes`; a problem when that cannot be done.
Outcome write_accepted_page(const AcceptedResults& accepted, const ScenarioResult& one,
                            const std::vector<Change>& changes, const std::string& path);

}  // namespace duskline::harness
