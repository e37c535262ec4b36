/// The controller around one instant as a linear sampled system, by differences through its own C interface.
///
/// What it is   every float of its memory that a measurement can reach and that can reach a command is moved
///              up and down, and so is every measurement; what comes out of one tick makes the matrices
/// Equation     m[n+1] = A m[n] + B y[n], u[n] = C m[n] + D y[n]: means over the latest ticks with the same
///              mode and limiter, because some estimators act only every 8 or 20 ticks
/// Symbols      y readings, then references; u commands before saturation and slew of the actuators
/// Validity     single precision: moves are 2^-9 of a float's size and 2^-13 of an instrument's span, so that
///              an entry is known to about 1e-3 of itself; dead-bands and limits of rate are off
/// Left out     what happens beyond the move: limits, other modes, interlocks; what is learnt in hours
///              (resistances of cells, corrections of instruments) stands still
#pragma once

#include <optional>

#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/state_space.hpp"

namespace duskline::harness {

/// What may hold the current in place of the limiter that does: the override of a limit, aligned with the current
/// as it stands.
enum class Override { as_it_is, coke_margin, voltage, power };

struct ControllerModel {
  StateSpace system;      ///< inputs: the readings in the order of CTL_INPUT_LIST, then the references
  std::size_t ticks = 0;  ///< over which the mean is taken
};

/// Set-points that a step may be applied to: the demand, and parameters.
std::vector<Channel> reference_channels();

/// Nothing where the controller is without power, or where the override cannot hold the current.
std::optional<ControllerModel> controller_model(const ModulePoint& point, const ctl_params& params,
                                                Override active_limiter);

}  // namespace duskline::harness
