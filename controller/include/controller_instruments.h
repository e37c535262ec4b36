/* Every instrument, one row: S(name, unit, lower, upper, first, sheet, meaning, source) for a single one,
 * A(name, count, ...) for `count` alike.
 *
 * ctl_inputs, channel numbers, names, what detection expects of a reading, the simulated sensors, recorded
 * readings, the outputs of linear models, `describe` and the reference pages expand from this list. The plant's
 * side is a field of the same name in plant-model/instruments/true_values.hpp: without it nothing compiles.
 *
 * lower, upper  span [unit]: its default; a plant file may set another. A value outside it is a missing reading
 * first         value [unit] that the controller assumes until the first reading
 * sheet         CTL_SHEET(lag, noise, zero, gain, walk, walk time, step, expected zero, jump, reaches its lower end):
 *   lag         time constant [s]
 *   noise       standard deviation of a sample [unit]
 *   zero, gain  limits of the errors of its class [unit, 1], two standard deviations
 *   walk        standard deviation of the drift of the zero [unit] after the walk time [s]
 *   step        of its converter [unit]
 *   expected zero  limit of the zero error in service [unit]: class and drift; what detection counts with
 *   jump        largest honest change in a second [unit]; 0: not tested
 *   reaches its lower end  1: the plant itself goes there; 0: a reading that stays there is none
 * Noise, zero, gain, walk, step, lag: the data sheet, which both sides may know. [E]: our own estimate.
 */
#ifndef DUSKLINE_CONTROLLER_INSTRUMENTS_H
#define DUSKLINE_CONTROLLER_INSTRUMENTS_H

/* clang-format off */
#define CTL_MONTH (30.0 * 86400.0)   /* s */
#define CTL_YEAR (365.25 * 86400.0)  /* s */

typedef struct {
  double lag, noise, zero, gain, walk, walk_time, step, expected_zero, jump;
  int reaches_lower;
} ctl_data_sheet;
#define CTL_SHEET(...) {__VA_ARGS__}

/* Piezoresistive bridge, 0..200 kPa. */
#define CTL_BRIDGE_SHEET CTL_SHEET(0.02, 10.0, 200.0, 0.0, 400.0, CTL_YEAR, 3.1, 400.0, 0.0, 0)
#define CTL_BRIDGE_SOURCE \
  "piezoresistive: 0.1 % of span zero, 0.2 % of span a year, 1-50 ms; 16 bits; noise [E] 3 steps"
/* PT100 of IEC 60751 class A; the step is that of 16 bits over 400 ohm. */
#define CTL_PT100_SHEET(lag, zero, expected_zero, jump) \
  CTL_SHEET(lag, 0.02, zero, 0.0, 0.05, CTL_YEAR, 0.0156, expected_zero, jump, 0)
/* Type K of IEC 60584-1 class 1 at 800 degC; the step is that of 16 bits over 78.125 mV at 41 microvolt/K. */
#define CTL_TYPE_K_SHEET(lag, jump) \
  CTL_SHEET(lag, 0.06, 3.2, 0.0, 3.0, 1000.0 * 3600.0, 0.0582, 5.0, jump, 0)
#define CTL_TYPE_K_SOURCE \
  "IEC 60584-1 class 1: 0.004 |t| = 3.2 K at 800 degC; drift 1-5 K in 1000 h, sign unknown; noise one step; " \
  "lag [E] 3 mm sheath in solid"

#define CTL_INPUT_LIST(S, A)                                                                              \
  S(ambient_pressure, "Pa", 0.0, 2000.0, 700.0,                                                        \
    CTL_SHEET(0.05, 0.3, 5.0, 0.003, 4.0, CTL_YEAR, 0.0305, 7.0, 15.0, 0),                                \
    "ambient pressure at the intake",                                                                     \
    "capacitive diaphragm: 0.2-0.5 % of reading, 1-10 Pa in all, 0.2 % of span a year; 16 bits; noise [E]") \
  S(ambient_temperature, "K", 100.0, 350.0, 220.0, CTL_PT100_SHEET(20.0, 0.27, 0.3, 4.0),              \
    "air temperature at the intake",                                                                      \
    "IEC 60751 class A: 0.15 + 0.002 |t| at -60 degC; lag 10-60 s in thin gas; noise, drift [E]")         \
  S(plenum_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET,                                     \
    "pressure in the plenum behind the compressor", CTL_BRIDGE_SOURCE)                                    \
  S(plenum_temperature, "K", 120.0, 500.0, 250.0, CTL_PT100_SHEET(5.0, 0.25, 0.3, 1.5),                \
    "gas temperature in the plenum",                                                                      \
    "IEC 60751 class A at 50 degC; lag [E] bare element at 60 kPa; noise, drift [E]")                     \
  S(cathode_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET, "cathode pressure", CTL_BRIDGE_SOURCE) \
  S(anode_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET, "anode pressure", CTL_BRIDGE_SOURCE) \
  S(feed_flow, "kg/s", -1e-5, 2e-4, 0.0,                                                               \
    CTL_SHEET(1.0, 2e-8, 6e-8, 0.01, 1.5e-7, CTL_YEAR, 3.2e-9, 1.5e-7, 0.0, 0),                           \
    "feed mass flow from the plenum to the cathode",                                                      \
    "thermal meter, 30 mg/s full scale: 1 % of reading, 0.2 % zero, 0.5 % a year, 0.5-3 s; 16 bits; noise [E]") \
  S(compressor_speed, "rad/s", -50.0, 800.0, 0.0,                                                      \
    CTL_SHEET(0.05, 0.2, 0.0, 1e-4, 0.0, CTL_YEAR, 0.05, 0.0, 0.0, 0),                                    \
    "compressor shaft speed", "pulses timed against a quartz clock, 100 ppm; noise, lag, step [E]")       \
  S(compressor_temperature, "K", 120.0, 600.0, 250.0, CTL_PT100_SHEET(10.0, 0.31, 0.3, 1.5),           \
    "compressor shell temperature", "IEC 60751 class A at 80 degC; lag, noise, drift [E]")                \
  S(preheater_temperature, "K", 120.0, 1500.0, 250.0, CTL_TYPE_K_SHEET(3.0, 4.0),                      \
    "gas preheater body temperature", CTL_TYPE_K_SOURCE)                                                  \
  S(housing_temperature, "K", 120.0, 500.0, 250.0, CTL_PT100_SHEET(10.0, 0.19, 0.2, 1.5),              \
    "housing temperature", "IEC 60751 class A at 20 degC; lag, noise, drift [E]")                         \
  S(stack_current, "A", -20.0, 20.0, 0.0,                                                              \
    CTL_SHEET(0.01, 1e-3, 3e-3, 0.002, 2e-3, CTL_YEAR, 6.1e-4, 4e-3, 0.0, 0),                             \
    "stack current, one for all cells in series", "shunt 0.1-0.5 %; 16 bits; zero, noise, drift [E]")     \
  S(stack_voltage, "V", -24.0, 24.0, 0.0,                                                              \
    CTL_SHEET(0.01, 2e-3, 4e-3, 0.001, 2e-3, CTL_YEAR, 7.3e-4, 5e-3, 0.0, 0),                             \
    "voltage across all cells in series", "divider 0.1 % at the end plates; 16 bits; zero, noise, drift [E]") \
  S(outlet_co_fraction, "1", -0.05, 1.05, 0.0,                                                         \
    CTL_SHEET(15.0, 1e-3, 0.01, 0.02, 0.01, CTL_MONTH, 1e-4, 0.015, 0.0, 1),                              \
    "mole fraction of CO in the cathode exhaust",                                                         \
    "non-dispersive infrared: 2 % of reading + 1 % of span, zero 1 % of span a month, 10-60 s; noise, step [E]") \
  S(product_oxygen_fraction, "1", -0.05, 1.05, 0.0,                                                    \
    CTL_SHEET(1.0, 5e-4, 0.0, 0.015, 0.01, CTL_YEAR, 1e-4, 0.01, 0.0, 1),                                 \
    "mole fraction of O2 in the product",                                                                 \
    "zirconia cell: 1-2 % of reading, ages 1 % a year, 0.1-2 s; noise, step [E]")                         \
  S(product_flow, "kg/s", -1e-6, 2e-5, 0.0,                                                            \
    CTL_SHEET(1.0, 4e-9, 1e-8, 0.01, 2.5e-8, CTL_YEAR, 3.2e-10, 2.5e-8, 0.0, 0),                          \
    "product mass flow",                                                                                  \
    "thermal meter, 5 mg/s full scale: 1 % of reading, 0.2 % zero, 0.5 % a year, 0.5-3 s; 16 bits; noise [E]") \
  S(bus_voltage, "V", 0.0, 60.0, 28.0,                                                                 \
    CTL_SHEET(0.01, 0.01, 0.0, 0.005, 0.0, CTL_YEAR, 0.0147, 0.0, 0.0, 0),                                \
    "supply bus voltage", "resistive divider 0.5 %; 12 bits; noise [E]")                                  \
  S(bus_power, "W", -50.0, 2000.0, 0.0,                                                                \
    CTL_SHEET(0.1, 0.5, 1.0, 0.01, 0.0, CTL_YEAR, 0.5, 1.0, 0.0, 0),                                      \
    "power drawn from the bus", "product of divider and shunt, 1 %; 12 bits; zero, noise [E]")            \
  S(filter_differential_pressure, "Pa", -50.0, 500.0, 0.0,                                             \
    CTL_SHEET(0.05, 0.1, 1.0, 0.005, 0.5, CTL_YEAR, 0.0153, 1.2, 0.0, 0),                                 \
    "pressure lost in the intake filter",                                                                 \
    "capacitive diaphragm, 500 Pa: 0.5 % of reading, 0.2 % zero; 16 bits; noise [E]")                     \
  S(bearing_vibration, "m/s2", 0.0, 100.0, 0.0,                                                        \
    CTL_SHEET(2.0, 0.02, 0.02, 0.02, 0.0, CTL_YEAR, 0.003, 0.02, 0.0, 1),                                 \
    "vibration of the compressor casing at the bearing tone, rms",                                        \
    "piezoelectric: 2 % of reading; band-pass averaged over seconds; 16 bits; noise [E]")                 \
  A(end_temperature, CTL_ENDS, "K", 120.0, 1500.0, 250.0, CTL_TYPE_K_SHEET(5.0, 2.5),                  \
    "end-plate temperatures", CTL_TYPE_K_SOURCE)                                                          \
  A(zone_temperature, CTL_ZONES, "K", 120.0, 1500.0, 250.0, CTL_TYPE_K_SHEET(5.0, 2.0),                \
    "zone temperatures along the stack", CTL_TYPE_K_SOURCE)                                               \
  A(cell_voltage, CTL_CELLS, "V", -3.0, 3.0, 0.0,                                                      \
    CTL_SHEET(0.01, 5e-4, 1e-3, 0.001, 5e-4, CTL_YEAR, 9.2e-5, 1.2e-3, 0.0, 0),                           \
    "voltage of each cell", "taps: noise 0.2-1 mV; 16 bits; zero, gain, drift [E]")
/* clang-format on */
#endif
