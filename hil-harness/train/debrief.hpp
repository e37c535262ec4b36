/// The debrief of a training session: one page that needs no network.
#pragma once

#include <string>

#include "hil-harness/train/training_session.hpp"

namespace duskline::harness {

/// Runs the session again, with its people and without its operators, and puts both into one page; empty: `problem`.
std::string debrief_page(const scenarios::Case& c, const SessionRecord& record, std::string& problem);

}  // namespace duskline::harness
