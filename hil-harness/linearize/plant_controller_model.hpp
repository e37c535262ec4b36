/// The plant controller around one instant as a linear sampled system, as controller_model.hpp does it for a module's.
///
/// What it is   moves of the numbers of its memory that pass signals on within minutes, and of its readings
/// Equation     m[n+1] = A m[n] + B y[n], u[n] = C m[n] + D y[n]: means over the latest ticks with the same mode and limiter
/// Symbols      y readings of CTL_PLANT_INPUT_LIST, then set-points; u commands of CTL_PLANT_OUTPUT_LIST
/// Validity     limits of rate are off; what the modules report, and the shares that they are ordered, stand still
/// Left out     as controller_model.hpp; where a command has a kink at the operating point (a shaft that is only ever asked
///              for more, never for less), the slope is the mean of both sides as the noise visits them
#pragma once

#include <optional>

#include "hil-harness/linearize/controller_model.hpp"
#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/state_space.hpp"

namespace duskline::harness {

/// Set-points of the headers that a step may be applied to.
std::vector<Channel> plant_reference_channels();

/// Nothing where the controller has not been seen at work for a tick.
std::optional<ControllerModel> plant_controller_model(const SharedPoint& point,
                                                      const ctl_plant_params& params);

}  // namespace duskline::harness
