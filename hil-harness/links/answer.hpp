/// Answers of controllers that are not ours: whether they can be followed, and what they leave out.
#pragma once

#include <string>

#include "controller/port/interface.hpp"

namespace duskline::harness {

/// What makes outputs unusable: a command that is no number, a word outside its list. Empty when all is well.
std::string unusable(const ctl_outputs& out);
/// Its orders to modules count as commands.
std::string unusable(const ctl_plant_outputs& out);

/// Safe outputs (controller/port/interface.hpp) with estimates not available: not a number. What a controller leaves unwritten
/// stays like this. Of a module the mode is off, as nothing has moved it to safe. C: which controller.
template <class C>
typename C::Outputs unwritten_outputs();

}  // namespace duskline::harness
