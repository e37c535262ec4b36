/* The whole public interface of the duskline controller, in plain C.
 *
 * The controller is a pure function of (state, parameters, inputs): no heap, clock, I/O or globals.
 * All quantities are SI in single precision. An input that is not available is NaN; the controller also
 * rejects values outside the range given here. Safe outputs are written before anything else is done.
 * Every signal and parameter stands once in the lists below; structs, traces and docs expand from them.
 */
#ifndef DUSKLINE_CONTROLLER_H
#define DUSKLINE_CONTROLLER_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* clang-format off */
#define CTL_ABI_VERSION 1u

#define CTL_CELLS 8
#define CTL_ZONES 5
#define CTL_ENDS 2

/* Modes: X(identifier, value, word, meaning) */
#define CTL_MODE_LIST(X)                                                                  \
  X(CTL_OFF, 0, "off", "nothing energised")                                               \
  X(CTL_WARM_UP, 1, "warm-up", "heating at the limited ramp, no or protective current")   \
  X(CTL_STANDBY, 2, "standby", "hot, protective flow, recycle and current, no production") \
  X(CTL_PRODUCTION, 3, "production", "oxygen made to demand within the limits")           \
  X(CTL_COOL_DOWN, 4, "cool-down", "cooling at the limited ramp, no or protective current") \
  X(CTL_SAFE, 5, "safe", "interlock acted: current off, heat held down at the ramp limit")

/* What holds the stack current down at this tick: X(identifier, value, word, meaning) */
#define CTL_LIMITER_LIST(X)                                                        \
  X(CTL_BY_NOTHING, 0, "none", "no current is being made")                         \
  X(CTL_BY_DEMAND, 1, "demand", "the oxygen demand sets the current")              \
  X(CTL_BY_COKE_MARGIN, 2, "coke margin", "the coke-onset voltage less a margin")  \
  X(CTL_BY_UTILISATION, 3, "utilisation", "the largest utilisation of the feed")   \
  X(CTL_BY_POWER, 4, "power", "the power ceiling of the bus")                      \
  X(CTL_BY_VOLTAGE, 5, "voltage", "the largest cell voltage")                      \
  X(CTL_BY_MODE, 6, "mode", "the mode allows only a protective current or none")   \
  X(CTL_BY_RATE, 7, "rate", "the largest rate of change of the current")           \
  X(CTL_BY_TABLE, 8, "table", "the table of the fixed law sets the current")

/* Permissives and interlocks, one bit each: X(identifier, bit, word, meaning). A set bit is a reason. */
#define CTL_REASON_LIST(X)                                                                          \
  X(CTL_STACK_COLD, 0, "stack cold", "coldest zone below the temperature for current")              \
  X(CTL_STACK_UNEVEN, 1, "stack uneven", "spread between zones above its limit")                    \
  X(CTL_NO_FLOW, 2, "no flow", "feed flow below the least flow for current")                        \
  X(CTL_NO_PROTECTION, 3, "no protection", "estimated CO at the inlet below the nickel limit")      \
  X(CTL_MARGIN_LOST, 4, "margin lost", "estimated coke margin of a cell below the trip value")      \
  X(CTL_OVER_PRESSURE, 5, "over-pressure", "cathode or differential pressure above its limit")      \
  X(CTL_OVER_TEMPERATURE, 6, "over-temperature", "a zone, heater or compressor above its limit")    \
  X(CTL_OVER_VOLTAGE, 7, "over-voltage", "a cell above the largest cell voltage")                   \
  X(CTL_SENSOR_LOST, 8, "sensor lost", "a measurement that the mode needs is missing or out of range") \
  X(CTL_BUS_LOW, 9, "bus low", "bus voltage below its limit")                                       \
  X(CTL_RAMP_HIGH, 10, "ramp high", "two zones or more change temperature faster than the limit")   \
  X(CTL_STACK_HOT, 11, "stack hot", "hottest zone or end plate above the temperature for switching off") \
  X(CTL_NOT_RESET, 12, "not reset", "no new mode has been requested since the move to safe")

/* Measurements; scalars: S(name, unit, lower, upper, meaning), arrays: A(name, count, unit, lower, upper,
 * meaning). lower and upper are the span of the instrument; a value outside it is a missing measurement. */
#define CTL_INPUT_LIST(S, A)                                                                        \
  S(ambient_pressure, "Pa", 0.0f, 2000.0f, "ambient pressure at the intake")                        \
  S(ambient_temperature, "K", 100.0f, 350.0f, "air temperature at the intake")                      \
  S(plenum_pressure, "Pa", 0.0f, 200000.0f, "pressure in the plenum behind the compressor")         \
  S(plenum_temperature, "K", 120.0f, 500.0f, "gas temperature in the plenum")                       \
  S(cathode_pressure, "Pa", 0.0f, 200000.0f, "cathode pressure")                                    \
  S(anode_pressure, "Pa", 0.0f, 200000.0f, "anode pressure")                                        \
  S(feed_flow, "kg/s", -1e-5f, 2e-4f, "feed mass flow from the plenum to the cathode")              \
  S(compressor_speed, "rad/s", -50.0f, 800.0f, "compressor shaft speed")                            \
  S(compressor_temperature, "K", 120.0f, 600.0f, "compressor shell temperature")                    \
  S(preheater_temperature, "K", 120.0f, 1500.0f, "gas preheater body temperature")                  \
  S(housing_temperature, "K", 120.0f, 500.0f, "housing temperature")                                \
  S(stack_current, "A", -20.0f, 20.0f, "stack current, one for all cells in series")                \
  S(outlet_co_fraction, "1", -0.05f, 1.05f, "mole fraction of CO in the cathode exhaust")           \
  S(product_oxygen_fraction, "1", -0.05f, 1.05f, "mole fraction of O2 in the product")              \
  S(product_flow, "kg/s", -1e-6f, 2e-5f, "product mass flow")                                       \
  S(bus_voltage, "V", 0.0f, 60.0f, "supply bus voltage")                                            \
  S(bus_power, "W", -50.0f, 2000.0f, "power drawn from the bus")                                    \
  A(end_temperature, CTL_ENDS, "K", 120.0f, 1500.0f, "end-plate temperatures")                      \
  A(zone_temperature, CTL_ZONES, "K", 120.0f, 1500.0f, "zone temperatures along the stack")         \
  A(cell_voltage, CTL_CELLS, "V", -3.0f, 3.0f, "voltage of each cell")

/* Commands to the actuators; lower and upper are what the controller may ask for at most. */
#define CTL_OUTPUT_LIST(S, A)                                                                \
  S(compressor_speed, "rad/s", 0.0f, 700.0f, "compressor speed command")                     \
  S(stack_current, "A", 0.0f, 10.0f, "stack current command")                                \
  S(preheater_power, "W", 0.0f, 100.0f, "preheater power command")                           \
  S(recycle_opening, "1", 0.0f, 1.0f, "opening of the recycle valve")                        \
  A(end_power, CTL_ENDS, "W", 0.0f, 200.0f, "end-plate heater power commands")

/* What the controller believes: X(name, unit, meaning) */
#define CTL_ESTIMATE_LIST(X)                                                                        \
  X(intake_density, "kg/m3", "density of the air at the intake")                                    \
  X(utilisation, "1", "share of the CO2 entering the cathode that is converted")                    \
  X(inlet_co_ratio, "1", "CO/CO2 at the cathode inlet")                                             \
  X(coke_onset_voltage, "V", "coke-onset voltage of the cell with the least margin")                \
  X(coke_margin, "V", "least margin of a cell voltage to its coke-onset voltage")                   \
  X(oxygen_rate, "kg/s", "oxygen made, from current and Faraday's law")                             \
  X(utilisation_setpoint, "1", "set-point of the utilisation loop")                                 \
  X(temperature_setpoint, "K", "ramped set-point of the stack temperature")                         \
  X(feed_setpoint, "kg/s", "set-point of the feed flow loop")                                       \
  X(added_resistance, "ohm m2", "resistance beyond the model, identified from the mean cell voltage")

/* clang-format on */
#define CTL_DECLARE_SCALAR(name, unit, lower, upper, meaning) float name;
#define CTL_DECLARE_ARRAY(name, count, unit, lower, upper, meaning) float name[count];
#define CTL_DECLARE_ESTIMATE(name, unit, meaning) float name;
#define CTL_DECLARE_ENUM(identifier, value, word, meaning) identifier = value,
#define CTL_DECLARE_BIT(identifier, bit, word, meaning) identifier = 1 << bit,

typedef enum { CTL_MODE_LIST(CTL_DECLARE_ENUM) CTL_MODES } ctl_mode;
typedef enum { CTL_LIMITER_LIST(CTL_DECLARE_ENUM) CTL_LIMITERS } ctl_limiter;
typedef enum { CTL_REASON_LIST(CTL_DECLARE_BIT) CTL_NO_REASON = 0 } ctl_reason;

/* Control laws: X(identifier, value, word, meaning) */
#define CTL_LAW_LIST(X)                                                                           \
  X(CTL_LAW_FIXED, 0, "fixed", "speed and current tabulated before the run, by time since start") \
  X(CTL_LAW_CASCADE, 1, "cascade", "utilisation loop on speed; current by least-select overrides")
typedef enum { CTL_LAW_LIST(CTL_DECLARE_ENUM) CTL_LAWS } ctl_law;

/* Parameters: P(name, default, unit, lower, upper, meaning, source) */
#include "controller/include/controller_parameters.h"

#define CTL_TABLE_ROWS 24 /* rows of the table of the fixed law */

#define CTL_DECLARE_PARAMETER(name, value, unit, lower, upper, meaning, source) float name;
typedef struct {
  CTL_PARAMETER_LIST(CTL_DECLARE_PARAMETER)
  uint32_t law;                        /* ctl_law */
  uint32_t table_rows;                 /* rows in use, 0..CTL_TABLE_ROWS */
  float table_time[CTL_TABLE_ROWS];    /* s since the start of the run, rising */
  float table_speed[CTL_TABLE_ROWS];   /* rad/s, held until the next row */
  float table_current[CTL_TABLE_ROWS]; /* A, held until the next row */
} ctl_params;

/* What the plant and the operator tell the controller at a tick. */
typedef struct {
  CTL_INPUT_LIST(CTL_DECLARE_SCALAR, CTL_DECLARE_ARRAY)
  float oxygen_demand;     /* kg/s asked for */
  float power_ceiling;     /* W that the bus allows; NaN: no ceiling */
  float local_time;        /* fraction of the sol, 0 = local midnight; NaN: unknown */
  uint32_t requested_mode; /* ctl_mode that the operator asks for */
  uint32_t tick;           /* counts control periods from the start of the run */
} ctl_inputs;

typedef struct {
  CTL_OUTPUT_LIST(CTL_DECLARE_SCALAR, CTL_DECLARE_ARRAY)
  CTL_ESTIMATE_LIST(CTL_DECLARE_ESTIMATE)
  uint32_t mode;       /* ctl_mode in force */
  uint32_t limiter;    /* ctl_limiter in force */
  uint32_t missing;    /* ctl_reason bits that keep the requested mode from being entered */
  uint32_t tripped;    /* ctl_reason bits that caused the last move to safe, 0 when reset */
  uint32_t worst_cell; /* cell with the least estimated coke margin, from 0 */
} ctl_outputs;

typedef enum { CTL_OK = 0, CTL_BAD_ARGUMENT = 1, CTL_BAD_VERSION = 2, CTL_BAD_PARAMETER = 3 } ctl_status;

/* All memory between calls: opaque, trivially copyable, fixed in size, version first. */
#define CTL_STATE_BYTES 1024
typedef struct {
  uint32_t abi_version;
  uint32_t size;
  uint32_t words[CTL_STATE_BYTES / 4 - 2];
} ctl_state;

uint32_t ctl_abi_version(void);

/* Fills params with the defaults of controller_parameters.h. */
void ctl_default_params(ctl_params* params);

/* Starts from rest in mode off. CTL_BAD_PARAMETER: a parameter is not finite or outside its range, the law is
 * unknown, or the fixed law has no table or one whose times do not rise. */
ctl_status ctl_init(ctl_state* state, const ctl_params* params);

/* One control period. A bad measurement is a condition with a defined response, not an error. With a status
 * other than CTL_OK the outputs are the safe ones (everything off) and the state is left as it was. */
ctl_status ctl_step(ctl_state* state, const ctl_params* params, const ctl_inputs* in, ctl_outputs* out);

#ifdef __cplusplus
}
#endif
#endif
