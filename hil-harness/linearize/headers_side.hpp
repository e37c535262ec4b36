/// A plant with headers as its plant controller sees it: modules under their own controllers, and what they share.
///
/// What it is   the exact model of the whole plant, the instruments, and the controllers of the modules around it, each as
///              controller_model.hpp finds it; what is left are the commands and the readings of the plant controller
/// Equation     x[n+1] = (A + B_m D_m C_m) x + B_m C_k m + B_s u, m[n+1] = B_k C_m x + A_k m, module after module
/// Symbols      u commands of the plant controller; m memories of the controllers of the modules
/// Validity     demand, power ceiling and mode that the plant controller orders of each module stand still, and so does what
///              a module reports to it
/// Left out     limits, steps and noise, as linearize.hpp; a module without controller or power keeps its commands
#pragma once

#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/state_space.hpp"

namespace duskline::harness {

/// dx/dt = A x + B u. Inputs: the commands of the plant controller, then those of each module, "module[1].stack_current".
/// Outputs: the readings of the plant controller, what is reported of all, then of each module its readings and what is
/// reported of it.
StateSpace whole_model(const OperatingPoint& point);

/// The rows of plant::LinearPlant that are its outputs.
std::vector<Eigen::Index> places_of_whole_outputs(std::size_t modules);

/// Inputs: the commands of the plant controller. Outputs: its readings, what they look at, and what is reported of all and of
/// each module. `sampled` is whole_model between ticks; `fewest_ticks` is lowered to those of the module whose controller is a
/// mean over the fewest.
StateSpace seen_by_plant_controller(const StateSpace& sampled, const OperatingPoint& point,
                                    std::size_t& fewest_ticks);

}  // namespace duskline::harness
