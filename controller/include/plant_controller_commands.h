/* Every command of the plant controller, one row: S(name, unit, lower, upper, step, without power, meaning).
 *
 * lower, upper   span [unit]: what may be asked for at most
 * step           of the drive [unit]
 * without power  0: goes to zero; 1: keeps its place; 2: goes to its upper end
 */
#ifndef DUSKLINE_PLANT_CONTROLLER_COMMANDS_H
#define DUSKLINE_PLANT_CONTROLLER_COMMANDS_H

/* clang-format off */
#define CTL_PLANT_OUTPUT_LIST(S)                                                                 \
  S(compressor_speed, "rad/s", 0.0, 6000.0, 0.1, 0, "shaft speed command")                       \
  S(anti_surge_opening, "1", 0.0, 1.0, 0.001, 2, "opening of the anti-surge valve, from the discharge to the suction") \
  S(recycle_opening, "1", 0.0, 1.0, 0.001, 1, "opening of the recycle valve, from the exhaust header to the suction") \
  S(exhaust_opening, "1", 0.0, 1.0, 0.001, 2, "opening of the exhaust valve")                    \
  S(product_opening, "1", 0.0, 1.0, 0.001, 2, "opening of the product valve")                    \
  S(liquefier_run, "1", 0.0, 1.0, 1.0, 0, "1: the product goes to the liquefier, 0: that stands and the product goes to the vent")
/* clang-format on */
#endif
