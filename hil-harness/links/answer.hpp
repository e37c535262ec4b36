/// Answers of controllers that are not ours: whether they can be followed, and what they leave out.
#pragma once

#include <string>

#include "controller/include/controller.h"

namespace duskline::harness {

/// What makes outputs unusable: a command that is no number, a word outside its list. Empty when all is well.
std::string unusable(const ctl_outputs& out);

/// Outputs with everything off and estimates that nobody has made: not a number.
ctl_outputs no_estimates();

}  // namespace duskline::harness
