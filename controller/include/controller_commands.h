/* Every command, one row: S(name, unit, lower, upper, step, stays, meaning) for a single one, A(name, count, ...)
 * for `count` alike.
 *
 * ctl_outputs, the controller's guard, the simulated actuators, faults, the inputs of linear models, recorded
 * commands, `describe` and the reference pages expand from this list. The plant's side is a field of the same name
 * in the commands, ratings and positions of plant-model/instruments/actuator.hpp: without it nothing compiles.
 *
 * lower, upper  span [unit]: what may be asked for at most, by default; the ratings of a plant file narrow it or
 *               widen it
 * step          of the drive [unit]
 * stays         1: keeps its place without power; 0: goes to zero
 */
#ifndef DUSKLINE_CONTROLLER_COMMANDS_H
#define DUSKLINE_CONTROLLER_COMMANDS_H

/* clang-format off */
#define CTL_OUTPUT_LIST(S, A)                                                                       \
  S(compressor_speed, "rad/s", 0.0, 700.0, 0.05, 0, "compressor speed command")                   \
  S(stack_current, "A", 0.0, 10.0, 0.001, 0, "stack current command")                             \
  S(preheater_power, "W", 0.0, 100.0, 0.05, 0, "preheater power command")                         \
  S(recycle_opening, "1", 0.0, 1.0, 0.001, 1, "opening of the recycle valve")                     \
  S(feed_opening, "1", 0.0, 1.0, 0.001, 1, "opening of the feed valve of a module behind a header") \
  A(end_power, CTL_ENDS, "W", 0.0, 200.0, 0.05, 0, "end-plate heater power commands")
/* clang-format on */
#endif
