/// What decides a run, as text, to tell one search from another when it goes on.
#pragma once

#include <string>

#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

/// The resolved scenario and plant and the bytes of the measured weather: all but the program.
std::string identity_of(const scenarios::Case& c);

}  // namespace duskline::harness
