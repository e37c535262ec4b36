/// What becomes of a command on its way to the hardware: held when lost, limited, slewed and stepped.
/// u_n = q(u_{n-1}' + sat(c - u_{n-1}', slew dt)), with c the command within the span; u' before rounding.
/// c, u in the actuator's SI unit; slew per s; dt s; q step of the drive. Valid for commands held during a
/// tick. The first-order lag of the hardware is a state of the plant and is not here. Source: definition. A
/// command that is not a number leaves the last one standing. Left out: backlash, dead band,
/// quantity-dependent slew.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>

#include "plant-model/instruments/true_values.hpp"
#include "plant-model/parameters.hpp"

namespace duskline::plant {

struct ActuatorSpec {
  std::string_view name;
  std::string_view unit;
  double lower = 0.0;                                      ///< unit
  double upper = std::numeric_limits<double>::infinity();  ///< unit
  double slew = std::numeric_limits<double>::infinity();   ///< unit/s, fastest change either way
  double resolution = 0.0;                                 ///< unit, step of the drive; 0: none
};

/// stuck: stays where it is; fixed: goes to `size`; loss: the share `size` of the command is lost.
enum class ActuatorFaultMode { none, stuck, fixed, loss };

struct ActuatorFault {
  ActuatorFaultMode mode = ActuatorFaultMode::none;
  double size = 0.0;  ///< fixed: unit; loss: 1
};

struct ActuatorState {
  double position = 0.0;  ///< unit, before rounding
  ActuatorFault fault{};
};

/// What the hardware is driven with during the coming period.
inline double actuate(const ActuatorSpec& spec, ActuatorState& state, double command, double period) {
  const ActuatorFault& fault = state.fault;
  if (fault.mode == ActuatorFaultMode::fixed) command = fault.size;
  if (fault.mode == ActuatorFaultMode::loss) command *= 1.0 - fault.size;
  const bool held = fault.mode == ActuatorFaultMode::stuck || std::isnan(command);
  const double target = held ? state.position : std::clamp(command, spec.lower, spec.upper);
  const double reach = spec.slew * period;
  state.position += std::clamp(target - state.position, -reach, reach);
  if (!(spec.resolution > 0.0)) return state.position;
  const double stepped = spec.resolution * std::nearbyint(state.position / spec.resolution);
  return std::clamp(stepped, spec.lower, spec.upper);
}

/// What the hardware of a command can do: its largest position and its fastest change.
struct Rating {
  Rating(double most, double rate) : upper(most), slew(rate) {}  // no default: each command says it
  double upper;                                                  ///< unit
  double slew;                                                   ///< unit/s
};

/// Of a module: one behind headers has a feed valve in place of a compressor and a recycle valve of its own.
inline CommandsOf<Rating> ratings(const PlantParameters& p) {
  const Rating end{p.heat.end_heater_max, p.heat.heater_slew}, none{0.0, 1.0};
  const bool headers = has_headers(p.form);
  return {.compressor_speed = headers ? none : Rating{p.power.speed_max, p.compressor.acceleration},
          .stack_current = {p.power.current_max, p.power.current_slew},
          .preheater_power = {p.heat.preheater_max, p.heat.heater_slew},
          .recycle_opening = headers ? none : Rating{1.0, p.flow.recycle_slew},
          .feed_opening = headers ? Rating{1.0, 1.0 / p.valves.stroke} : none,
          .end_power = {end, end}};
}
inline SharedCommandsOf<Rating> shared_ratings(const PlantParameters& p) {
  const Rating valve{1.0, 1.0 / p.valves.stroke};
  return {.compressor_speed = {p.power.speed_max, intake_rating(p).acceleration},
          .anti_surge_opening = {1.0, 1.0 / p.valves.anti_surge_stroke},
          .recycle_opening = valve,
          .exhaust_opening = valve,
          .product_opening = valve,
          .liquefier_run = valve};
}

}  // namespace duskline::plant
