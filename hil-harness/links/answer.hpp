/// Answers of controllers that are not ours: whether they can be followed, and what they leave out.
#pragma once

#include <string>

#include "controller/port/interface.hpp"

namespace duskline::harness {

/// What makes outputs unusable: a command that is no number, a word outside its list. Empty when all is well.
std::string unusable(const ctl_outputs& out);
/// Its orders to modules count as commands.
std::string unusable(const ctl_plant_outputs& out);

/// The outputs of a controller that gives no commands, with estimates that nobody has made: not a number. C: which controller.
/// A module's are all off; what the plant controller drives is as ctl_plant_step leaves it when it refuses.
template <class C>
typename C::Outputs no_answer();

}  // namespace duskline::harness
