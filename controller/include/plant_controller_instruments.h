/* Every instrument of the plant that several modules share, one row: S(name, unit, lower, upper, first, sheet, meaning,
 * source), as in controller_instruments.h. The names are those of the plant's side (true values that all modules share).
 */
#ifndef DUSKLINE_PLANT_CONTROLLER_INSTRUMENTS_H
#define DUSKLINE_PLANT_CONTROLLER_INSTRUMENTS_H

#include "controller/include/controller_instruments.h"

/* clang-format off */
#define CTL_PLANT_INPUT_LIST(S)                                                                             \
  S(ambient_pressure, "Pa", 0.0, 2000.0, 700.0,                                                             \
    CTL_SHEET(0.05, 0.3, 5.0, 0.003, 4.0, CTL_YEAR, 0.0305, 7.0, 15.0, 0),                                  \
    "ambient pressure at the intake",                                                                       \
    "capacitive diaphragm: 0.2-0.5 % of reading, 1-10 Pa in all, 0.2 % of span a year; 16 bits; noise [E]") \
  S(ambient_temperature, "K", 100.0, 350.0, 220.0, CTL_PT100_SHEET(20.0, 0.27, 0.3, 4.0),                   \
    "air temperature at the intake", "IEC 60751 class A at -60 degC; lag 10-60 s in thin gas; noise [E]")   \
  S(filter_differential_pressure, "Pa", -50.0, 500.0, 0.0,                                                  \
    CTL_SHEET(0.05, 0.1, 1.0, 0.005, 0.5, CTL_YEAR, 0.0153, 1.2, 0.0, 0),                                   \
    "pressure lost in the intake filter", "capacitive diaphragm, 500 Pa: 0.5 % of reading, 0.2 % zero")     \
  S(suction_pressure, "Pa", 0.0, 2000.0, 700.0,                                                             \
    CTL_SHEET(0.05, 0.3, 5.0, 0.003, 4.0, CTL_YEAR, 0.0305, 7.0, 50.0, 0),                                  \
    "pressure before the first stage", "capacitive diaphragm, as the ambient pressure")                     \
  S(compressor_speed, "rad/s", -50.0, 6000.0, 0.0,                                                          \
    CTL_SHEET(0.05, 0.5, 0.0, 1e-4, 0.0, CTL_YEAR, 0.1, 0.0, 0.0, 0),                                       \
    "shaft speed of the compressor", "pulses timed against a quartz clock, 100 ppm; noise, lag, step [E]")  \
  S(compressor_flow, "kg/s", -2e-2, 2e-2, 0.0,                                                              \
    CTL_SHEET(0.2, 1e-5, 5e-5, 0.02, 5e-5, CTL_YEAR, 1e-6, 8e-5, 0.0, 0),                                   \
    "mass flow through the compressor, negative in reverse",                                                \
    "Venturi at the intake with two cells: 2 % of reading, 0.5 % of span; 0.2 s; noise [E]")                \
  S(discharge_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET,                                       \
    "pressure behind the last stage", CTL_BRIDGE_SOURCE)                                                    \
  S(discharge_temperature, "K", 120.0, 700.0, 250.0, CTL_PT100_SHEET(5.0, 0.4, 0.5, 4.0),                   \
    "gas temperature behind the last stage", "IEC 60751 class A at 150 degC; lag, noise, drift [E]")        \
  S(compressor_vibration, "m/s2", 0.0, 200.0, 0.0,                                                          \
    CTL_SHEET(2.0, 0.05, 0.05, 0.02, 0.0, CTL_YEAR, 0.006, 0.05, 0.0, 1),                                   \
    "vibration of the compressor casing, rms", "piezoelectric: 2 % of reading; 16 bits; noise [E]")         \
  S(feed_header_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET,                                     \
    "pressure in the feed header", CTL_BRIDGE_SOURCE)                                                       \
  S(feed_header_temperature, "K", 120.0, 500.0, 250.0, CTL_PT100_SHEET(5.0, 0.25, 0.3, 1.5),                \
    "gas temperature in the feed header", "IEC 60751 class A at 50 degC; lag, noise, drift [E]")            \
  S(feed_header_co_fraction, "1", -0.05, 1.05, 0.0,                                                         \
    CTL_SHEET(5.0, 5e-4, 2.5e-3, 0.02, 2.5e-3, CTL_MONTH, 2e-5, 4e-3, 0.0, 1),                              \
    "mole fraction of CO in the feed header",                                                               \
    "non-dispersive infrared, span 0.25: 2 % of reading + 1 % of span, zero 1 % of span a month; noise [E]") \
  S(exhaust_header_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET,                                  \
    "pressure in the exhaust header", CTL_BRIDGE_SOURCE)                                                    \
  S(exhaust_header_temperature, "K", 120.0, 800.0, 250.0, CTL_PT100_SHEET(5.0, 0.4, 0.5, 4.0),              \
    "gas temperature in the exhaust header", "IEC 60751 class A at 150 degC; lag, noise, drift [E]")        \
  S(product_header_pressure, "Pa", 0.0, 200000.0, 700.0, CTL_BRIDGE_SHEET,                                  \
    "pressure in the product header", CTL_BRIDGE_SOURCE)                                                    \
  S(product_oxygen_fraction, "1", -0.05, 1.05, 0.0,                                                         \
    CTL_SHEET(1.0, 5e-4, 0.0, 0.015, 0.01, CTL_YEAR, 1e-4, 0.01, 0.0, 1),                                   \
    "mole fraction of O2 in the product header", "zirconia cell: 1-2 % of reading, ages 1 % a year")        \
  S(product_flow, "kg/s", -1e-4, 4e-3, 0.0,                                                                 \
    CTL_SHEET(1.0, 1e-6, 2e-6, 0.01, 5e-6, CTL_YEAR, 6e-8, 5e-6, 0.0, 0),                                   \
    "mass flow of the product to the liquefier", "thermal meter, 1 g/s: 1 % of reading, 0.2 % zero; 0.5-3 s") \
  S(bus_voltage, "V", 0.0, 400.0, 120.0,                                                                    \
    CTL_SHEET(0.01, 0.05, 0.0, 0.005, 0.0, CTL_YEAR, 0.098, 0.0, 0.0, 0),                                   \
    "supply bus voltage", "resistive divider 0.5 %; 12 bits; noise [E]")                                    \
  S(bus_power, "W", -500.0, 100000.0, 0.0,                                                                  \
    CTL_SHEET(0.1, 20.0, 50.0, 0.01, 0.0, CTL_YEAR, 25.0, 50.0, 0.0, 0),                                    \
    "power that the plant draws from the bus", "product of divider and shunt, 1 %; 12 bits; noise [E]")     \
  S(housing_temperature, "K", 120.0, 500.0, 250.0, CTL_PT100_SHEET(10.0, 0.19, 0.2, 1.5),                   \
    "temperature of the housing", "IEC 60751 class A at 20 degC; lag, noise, drift [E]")
/* clang-format on */
#endif
