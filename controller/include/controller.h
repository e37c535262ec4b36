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
#define CTL_ABI_VERSION 9u

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
  X(CTL_SAFE, 5, "safe", "interlock acted: no oxygen, protective current where no reason bars it, heat held down at the ramp limit")

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
  X(CTL_BY_TABLE, 8, "table", "the table of the fixed law sets the current")       \
  X(CTL_BY_DERATING, 9, "derate", "less than the largest current: a limit is near or a fault was found")

/* Permissives and interlocks, one bit each: X(identifier, bit, word, meaning). A set bit is a reason. */
#define CTL_CONDITION_LIST(X)                                                                          \
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
  X(CTL_NOT_RESET, 12, "not reset", "no new mode has been requested since the move to safe") \
  X(CTL_FAULT_FOUND, 13, "fault found", "a diagnosed fault asks for standby or for safe")             \
  X(CTL_RESTARTS_MANY, 14, "restarts", "the controller has started again too often in a short time")  \
  X(CTL_WAIT, 15, "wait", "the shortest time in this mode is not over")

/* Measurements and commands: one row each, S a single one, A an array. */
#include "controller/include/controller_instruments.h"
#include "controller/include/controller_commands.h"

/* Estimates of the controller; scalars: S(name, unit, meaning), arrays: A(name, count, unit, meaning) */
#define CTL_ESTIMATE_LIST(S, A)                                                                     \
  S(intake_density, "kg/m3", "density of the air at the intake")                                    \
  S(utilisation, "1", "share of the CO2 entering the cathode that is converted")                    \
  S(inlet_co_ratio, "1", "CO/CO2 at the cathode inlet")                                             \
  S(coke_onset_voltage, "V", "coke-onset voltage of the cell with the least margin")                \
  S(coke_margin, "V", "least margin of a cell voltage to its coke-onset voltage")                   \
  S(oxygen_rate, "kg/s", "oxygen made, from current and Faraday's law")                             \
  S(utilisation_setpoint, "1", "set-point of the utilisation loop")                                 \
  S(temperature_setpoint, "K", "ramped set-point of the stack temperature")                         \
  S(feed_setpoint, "kg/s", "set-point of the feed flow loop")                                       \
  S(added_resistance, "ohm m2", "resistance beyond the model, identified from the mean cell voltage") \
  S(intake_density_rate, "kg m-3 s-1", "rate of change of the intake density")                              \
  S(intake_density_sigma, "kg/m3", "standard deviation of the intake density")                              \
  S(outlet_co_fraction, "1", "mole fraction of CO in the cathode exhaust")                                  \
  S(coke_sigma, "V", "standard deviation of the coke margin of the cell with the least")                    \
  S(margin_in_sigmas, "1", "coke margin in standard deviations, least over the cells")                      \
  S(margin_setpoint, "V", "coke margin that the override of the current keeps")                             \
  S(resistance_growth, "ohm m2/s", "growth of the mean added resistance")                                   \
  S(filter_loading, "1", "pressure lost in the filter over that of a clean one at the same flow")           \
  S(compressor_efficiency, "1", "volumetric efficiency over that of a new machine")                         \
  S(bearing_wear, "1", "bearing wear from the tone, 0 new, 1 worn out")                                     \
  S(consistency, "1", "mean normalised innovation squared of all filters, 1 when they are consistent")      \
  S(ohmic_resistance, "ohm m2", "ohmic part of the mean cell at 1073.15 K, identified")                     \
  S(ohmic_resistance_sigma, "ohm m2", "its standard deviation")                                             \
  S(cathode_exchange, "A/m2", "exchange current density of the cathode at its reference, identified")       \
  S(cathode_exchange_sigma, "A/m2", "its standard deviation")                                               \
  S(anode_exchange, "A/m2", "exchange current density of the anode at its reference, identified")           \
  S(anode_exchange_sigma, "A/m2", "its standard deviation")                                                 \
  S(electrode_diffusion, "m2/A", "rise of the CO fraction at the electrode per current density, identified") \
  S(electrode_diffusion_sigma, "m2/A", "its standard deviation")                                            \
  A(cell_resistance, CTL_CELLS, "ohm m2", "resistance beyond the model of each cell")                       \
  A(cell_coke_margin, CTL_CELLS, "V", "coke margin of each cell")

/* How far the controller goes for a diagnosis: X(identifier, value, word, meaning) */
#define CTL_RESPONSE_LIST(X)                                                                \
  X(CTL_RESPOND_NONE, 0, "none", "nothing is wrong that the controller knows of")            \
  X(CTL_RESPOND_FLAG, 1, "flag", "reported to the operator, nothing else changes")                      \
  X(CTL_RESPOND_SUBSTITUTE, 2, "substitute", "the suspect measurement is replaced by an estimate")  \
  X(CTL_RESPOND_WIDEN, 3, "widen", "more margin is kept: less oxygen only where that asks for it")  \
  X(CTL_RESPOND_DERATE, 4, "derate", "less oxygen, more margin")                                    \
  X(CTL_RESPOND_STANDBY, 5, "stand by", "production stops, the stack stays hot and protected")     \
  X(CTL_RESPOND_TRIP, 6, "trip", "current off, heat held down at the ramp limit")

/* What is wrong with the plant, one bit each: X(identifier, bit, word, response, meaning). Suspect measurements
 * have a mask of their own. */
#define CTL_DIAGNOSIS_LIST(X)                                                                                  \
  X(CTL_FILTER_LOADED, 0, "filter loaded", CTL_RESPOND_FLAG, "the filter takes more pressure than it may")             \
  X(CTL_COMPRESSOR_WEAK, 1, "compressor weak", CTL_RESPOND_FLAG, "less flow than speed and density should bring")      \
  X(CTL_COMPRESSOR_STOPPED, 2, "compressor stopped", CTL_RESPOND_STANDBY, "the shaft does not follow its command")    \
  X(CTL_BEARING_WORN, 3, "bearing worn", CTL_RESPOND_DERATE, "the bearing tone is above its limit")                    \
  X(CTL_RECYCLE_LOST, 4, "recycle lost", CTL_RESPOND_STANDBY, "less CO comes back than the valve should bring")       \
  X(CTL_RECYCLE_STUCK, 5, "recycle stuck", CTL_RESPOND_FLAG, "more CO comes back than the valve should bring")         \
  X(CTL_EXHAUST_CLOGGED, 6, "exhaust clogged", CTL_RESPOND_FLAG, "the cathode pressure is too high for its flow")      \
  X(CTL_EXHAUST_ERODED, 7, "exhaust eroded", CTL_RESPOND_FLAG, "the cathode pressure is too low for its flow")         \
  X(CTL_PRODUCT_CLOGGED, 8, "product clogged", CTL_RESPOND_FLAG, "the anode pressure is too high for the oxygen")      \
  X(CTL_PRODUCT_ERODED, 9, "product eroded", CTL_RESPOND_FLAG, "the anode pressure is too low for the oxygen")         \
  X(CTL_HEATER_OPEN, 10, "heater open", CTL_RESPOND_FLAG, "a heater draws no power or does not warm")                  \
  X(CTL_HEATER_ON, 11, "heater on", CTL_RESPOND_STANDBY, "a heater warms without a command")                          \
  X(CTL_CELL_RESISTIVE, 12, "cell resistive", CTL_RESPOND_WIDEN, "a cell needs more voltage than the others")         \
  X(CTL_CELL_STARVED, 13, "cell starved", CTL_RESPOND_WIDEN, "a cell behaves as one with too little gas")             \
  X(CTL_CELL_LEAKING, 14, "cell leaking", CTL_RESPOND_STANDBY, "oxygen is missing: a crack or a seal leaks")          \
  X(CTL_CURRENT_DEVIATION, 15, "current deviation", CTL_RESPOND_TRIP, "the current does not follow its command")            \
  X(CTL_BUS_WEAK, 16, "bus weak", CTL_RESPOND_DERATE, "the bus voltage has sagged")                                    \
  X(CTL_CLOCK_JUMPED, 17, "clock jumped", CTL_RESPOND_FLAG, "the local time moved by more than a tick")                \
  X(CTL_LINK_LOST, 18, "link lost", CTL_RESPOND_STANDBY, "no word from the operator for too long")                    \
  X(CTL_RESTARTED, 19, "restarted", CTL_RESPOND_FLAG, "the controller started again from retained state")              \
  X(CTL_WEATHER_FAST, 20, "weather fast", CTL_RESPOND_FLAG, "the density changes faster than any sol makes it")        \
  X(CTL_MODEL_SUSPECT, 21, "model suspect", CTL_RESPOND_WIDEN, "residuals are in alarm that no fault explains")

/* Corrections that the controller has found for its own instruments: X(identifier, number, input, unit, bound,
 * meaning). A correction is subtracted from the reading, except where its unit is 1: there it divides. */
#define CTL_CORRECTION_LIST(X)                                                                              \
  X(CTL_ZERO_PLENUM, 0, plenum_pressure, "Pa", 1500.0f, "zero of the plenum pressure, at rest")             \
  X(CTL_ZERO_CATHODE, 1, cathode_pressure, "Pa", 1500.0f, "zero of the cathode pressure, at rest")          \
  X(CTL_ZERO_ANODE, 2, anode_pressure, "Pa", 1500.0f, "zero of the anode pressure, at rest")                \
  X(CTL_ZERO_FILTER, 3, filter_differential_pressure, "Pa", 5.0f, "zero of the filter difference, at rest")            \
  X(CTL_ZERO_FEED, 4, feed_flow, "kg/s", 2e-6f, "zero of the feed flow, at rest")                           \
  X(CTL_ZERO_PRODUCT, 5, product_flow, "kg/s", 1e-7f, "zero of the product flow, at rest")                  \
  X(CTL_ZERO_CURRENT, 6, stack_current, "A", 0.05f, "zero of the stack current, converter off")             \
  X(CTL_GAIN_PRODUCT, 7, product_flow, "1", 0.1f, "gain of the product flow, against Faraday's law")        \
  X(CTL_GAIN_OUTLET_CO, 8, outlet_co_fraction, "1", 0.15f, "gain of the CO analyser, against the balances") \
  X(CTL_GAIN_OXYGEN, 9, product_oxygen_fraction, "1", 0.1f, "gain of the oxygen analyser, against the balances") \
  X(CTL_OFFSET_ZONE_1, 10, zone_temperature, "K", 8.0f, "offset of zone thermocouple 1, at standstill")     \
  X(CTL_OFFSET_ZONE_2, 11, zone_temperature, "K", 8.0f, "offset of zone thermocouple 2, at standstill")     \
  X(CTL_OFFSET_ZONE_3, 12, zone_temperature, "K", 8.0f, "offset of zone thermocouple 3, at standstill")     \
  X(CTL_OFFSET_ZONE_4, 13, zone_temperature, "K", 8.0f, "offset of zone thermocouple 4, at standstill")     \
  X(CTL_OFFSET_ZONE_5, 14, zone_temperature, "K", 8.0f, "offset of zone thermocouple 5, at standstill")     \
  X(CTL_OFFSET_END_1, 15, end_temperature, "K", 8.0f, "offset of end thermocouple 1, at standstill")        \
  X(CTL_OFFSET_END_2, 16, end_temperature, "K", 8.0f, "offset of end thermocouple 2, at standstill")        \
  X(CTL_OPEN_CIRCUIT, 17, cell_voltage, "V", 0.05f, "open-circuit voltage less the thermodynamic one: a check, not applied")

/* clang-format on */
#define CTL_DECLARE_SCALAR(name, ...) float name;
#define CTL_DECLARE_ARRAY(name, count, ...) float name[count];
#define CTL_DECLARE_INPUT(name, ...) CTL_INPUT_##name,
#define CTL_DECLARE_OUTPUT(name, ...) CTL_OUTPUT_##name,
#define CTL_DECLARE_ESTIMATE(name, unit, meaning) float name;
#define CTL_DECLARE_ESTIMATES(name, count, unit, meaning) float name[count];
#define CTL_DECLARE_DIAGNOSIS(identifier, bit, word, response, meaning) identifier = 1 << bit,
#define CTL_DECLARE_CORRECTION(identifier, number, input, unit, bound, meaning) identifier = number,
#define CTL_DECLARE_ENUM(identifier, value, word, meaning) identifier = value,
#define CTL_DECLARE_BIT(identifier, bit, word, meaning) identifier = 1 << bit,

/* Rows of the lists of instruments and of commands; an array is one row. */
typedef enum { CTL_INPUT_LIST(CTL_DECLARE_INPUT, CTL_DECLARE_INPUT) CTL_INSTRUMENTS } ctl_instrument;
typedef enum { CTL_OUTPUT_LIST(CTL_DECLARE_OUTPUT, CTL_DECLARE_OUTPUT) CTL_COMMANDS } ctl_command;

typedef enum { CTL_MODE_LIST(CTL_DECLARE_ENUM) CTL_MODES } ctl_mode;
typedef enum { CTL_LIMITER_LIST(CTL_DECLARE_ENUM) CTL_LIMITERS } ctl_limiter;
typedef enum { CTL_CONDITION_LIST(CTL_DECLARE_BIT) CTL_NO_REASON = 0 } ctl_condition;
typedef enum { CTL_RESPONSE_LIST(CTL_DECLARE_ENUM) CTL_RESPONSES } ctl_response;
typedef enum { CTL_DIAGNOSIS_LIST(CTL_DECLARE_DIAGNOSIS) CTL_NO_DIAGNOSIS = 0 } ctl_diagnosis;
typedef enum { CTL_CORRECTION_LIST(CTL_DECLARE_CORRECTION) CTL_CORRECTIONS } ctl_correction;

/* All corrections taken back at once: the instruments have been calibrated. Whatever was learnt against their old
   readings is dropped in that tick, doubts of them end, and the plant is commissioned anew. */
#define CTL_CALIBRATED ((1u << CTL_CORRECTIONS) - 1u)

/* Control laws: X(identifier, value, word, meaning) */
#define CTL_LAW_LIST(X)                                                                            \
  X(CTL_LAW_FIXED, 0, "fixed", "speed and current tabulated before the run, by time since start")  \
  X(CTL_LAW_CASCADE, 1, "cascade", "utilisation loop on speed; current by least-select overrides") \
  X(CTL_LAW_ADAPTIVE, 2, "adaptive", "cascade with set-points that the estimates decide")
typedef enum { CTL_LAW_LIST(CTL_DECLARE_ENUM) CTL_LAWS } ctl_law;

/* What gives a module its feed: X(identifier, value, word, meaning) */
#define CTL_FEED_DEVICE_LIST(X)                                                 \
  X(CTL_FEED_COMPRESSOR, 0, "compressor",                                       \
    "a compressor of its own: compressor_speed, and recycle_opening beside it") \
  X(CTL_FEED_VALVE, 1, "feed valve",                                            \
    "a valve behind the feed header that several modules share: feed_opening")
typedef enum { CTL_FEED_DEVICE_LIST(CTL_DECLARE_ENUM) CTL_FEED_DEVICES } ctl_feed_device;

/* Residuals: controller_residuals.h */
#include "controller/include/controller_residuals.h"

/* Alarms: controller_alarms.h */
#include "controller/include/controller_alarms.h"
typedef enum { CTL_SEVERITY_LIST(CTL_DECLARE_ENUM) CTL_SEVERITIES } ctl_severity;
typedef enum { CTL_PRIORITY_LIST(CTL_DECLARE_ENUM) CTL_PRIORITIES } ctl_priority;
typedef enum { CTL_ALARM_STATE_LIST(CTL_DECLARE_ENUM) CTL_ALARM_STATES } ctl_alarm_state;
typedef enum { CTL_ALARM_ACTION_LIST(CTL_DECLARE_ENUM) CTL_ALARM_ACTIONS } ctl_alarm_action;
typedef enum { CTL_ALARM_SOURCE_LIST(CTL_DECLARE_ENUM) CTL_ALARM_SOURCES } ctl_alarm_source;
#define CTL_DECLARE_WATCH(identifier, number, word, unit) identifier = number,
typedef enum { CTL_ALARM_QUANTITY_LIST(CTL_DECLARE_WATCH) CTL_ALARM_QUANTITIES } ctl_alarm_quantity;
typedef enum { CTL_ALARM_GROUP_LIST(CTL_DECLARE_ENUM) CTL_ALARM_GROUPS } ctl_alarm_group;
#define CTL_DECLARE_ALARM(identifier, number, word, severity, minutes, priority, latched, on_delay,      \
                          off_delay, source, argument, limit, dead_band, suppressed, consequence, cause, \
                          action)                                                                        \
  identifier = number,
typedef enum { CTL_ALARM_LIST(CTL_DECLARE_ALARM) CTL_ALARMS } ctl_alarm;
#define CTL_ALARM_CAPACITY 36 /* CTL_ALARMS rounded up to whole words */

/* Parameters: P(name, default, unit, lower, upper, meaning, source) */
#include "controller/include/controller_parameters.h"

#define CTL_TABLE_ROWS 24 /* rows of the table of the fixed law */

/* Ends of a span, in the unit of its row. */
typedef struct {
  float lower, upper;
} ctl_span;

/* What the controller knows of an instrument, in the unit of its row; zero is the one to expect in service. */
typedef struct {
  ctl_span span;
  float noise, zero, gain, jump;
} ctl_input_sheet;

#define CTL_DECLARE_PARAMETER(name, value, unit, lower, upper, meaning, source) float name;
typedef struct {
  CTL_PARAMETER_LIST(CTL_DECLARE_PARAMETER)
  uint32_t law;                     /* ctl_law */
  uint32_t feed_device;             /* ctl_feed_device; the commands of the other one stay at 0 */
  uint32_t not_fitted;              /* bits of ctl_instrument that this plant lacks: never read, never lost */
  uint32_t table_rows;              /* rows in use, 0..CTL_TABLE_ROWS */
  float table_time[CTL_TABLE_ROWS]; /* s since the start of the run, rising */
  float table_speed[CTL_TABLE_ROWS];      /* rad/s, held until the next row */
  float table_current[CTL_TABLE_ROWS];    /* A, held until the next row */
  ctl_input_sheet input[CTL_INSTRUMENTS]; /* of each instrument */
  ctl_span output_span[CTL_COMMANDS];     /* of each command */
} ctl_params;

/* What the controller gets from the plant and the operator at a tick. */
typedef struct {
  CTL_INPUT_LIST(CTL_DECLARE_SCALAR, CTL_DECLARE_ARRAY)
  float oxygen_demand;        /* kg/s asked for */
  float power_ceiling;        /* W that the bus allows; NaN: no ceiling */
  float local_time;           /* fraction of the sol, 0 = local midnight; NaN: unknown */
  float command_age;          /* s since the last word of the operator; NaN: no such clock */
  float next_power_ceiling;   /* W that the bus will allow after ceiling_in, if less than now */
  float ceiling_in;           /* s until then; 0, NaN or less: nothing is announced */
  float shelve_time;          /* s for which CTL_ALARM_SHELVE puts an alarm aside */
  float inlet_co_fraction;    /* mole fraction of CO in the feed; 0, NaN or less: not measured */
  uint32_t requested_mode;    /* ctl_mode that the operator asks for */
  uint32_t clear_corrections; /* bits of ctl_correction that the operator takes back; CTL_CALIBRATED: all */
  uint32_t alarm_action;      /* ctl_alarm_action of this tick */
  uint32_t alarm_number;      /* ctl_alarm that it is meant for */
  uint32_t maintenance;       /* 1: the action comes from maintenance, which alone may remove and return */
  uint32_t tick;              /* counts control periods from the start of the run */
} ctl_inputs;

typedef struct {
  CTL_OUTPUT_LIST(CTL_DECLARE_SCALAR, CTL_DECLARE_ARRAY)
  CTL_ESTIMATE_LIST(CTL_DECLARE_ESTIMATE, CTL_DECLARE_ESTIMATES)
  float correction[CTL_CORRECTIONS];
  uint32_t suspect[2]; /* bit of each measurement that is not believed, in the order of CTL_INPUT_LIST */
  uint32_t diagnosed;  /* ctl_diagnosis bits that stand */
  uint32_t
      unexplained; /* bits of CTL_RESIDUAL_LIST in alarm that no fault explained, while the model is suspect */
  uint32_t response;              /* ctl_response in force */
  uint32_t corrected;             /* bits of ctl_correction that have been found */
  uint32_t law;                   /* ctl_law in force */
  uint32_t mode;                  /* ctl_mode in force */
  uint32_t limiter;               /* ctl_limiter in force */
  uint32_t unmet_permissives;     /* ctl_condition bits that keep the requested mode from being entered */
  uint32_t tripped;               /* ctl_condition bits that caused the last move to safe, 0 when reset */
  uint32_t alarms_active;         /* alarms that stand, acknowledged or not */
  uint32_t alarms_unacknowledged; /* alarms that nobody has seen */
  uint32_t alarms_ignored;        /* actions that could not be carried out, since the start */
  uint8_t alarm_state[CTL_ALARM_CAPACITY]; /* ctl_alarm_state of each ctl_alarm; the rest is 0 */
  uint32_t worst_cell;                     /* cell with the least estimated coke margin, from 0 */
} ctl_outputs;

typedef enum {
  CTL_OK = 0,
  CTL_BAD_ARGUMENT = 1,
  CTL_BAD_VERSION = 2,
  CTL_BAD_PARAMETER = 3,
  CTL_NOT_RETAINED = 4
} ctl_status;

/* All memory between calls: opaque, trivially copyable, fixed in size, version first. */
#define CTL_STATE_BYTES 4096
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

/* What survives a loss of power: the state with a checksum, for memory that retains its content. */
typedef struct {
  uint32_t checksum;
  ctl_state state;
} ctl_retained;

void ctl_retain(const ctl_state* state, ctl_retained* retained);

/* Starts after a loss of power or a reset: what was learnt is kept (corrections, resistances, wear, alarms, mode and
 * trips), loops and filters begin again from what is measured. CTL_NOT_RETAINED: the checksum or the version does
 * not fit, and the state is that of ctl_init. Other statuses as ctl_init. */
ctl_status ctl_restart(ctl_state* state, const ctl_params* params, const ctl_retained* retained);

/* What the state consists of, for those who look into it from outside (linear models). A plug-in may leave this
 * function out. moves: 1 for numbers that carry signals within minutes; 0 for what is learnt in hours, counted or
 * decided. */
typedef enum { CTL_FIELD_NUMBER = 0, CTL_FIELD_WORD = 1, CTL_FIELD_BYTE = 2 } ctl_field_kind;
typedef struct {
  const char* name;
  const char* unit;
  uint32_t offset; /* bytes from the start of ctl_state.words */
  uint32_t count;  /* items of 4 bytes, CTL_FIELD_BYTE: of one byte */
  uint32_t kind;   /* ctl_field_kind: float, uint32_t, uint8_t */
  uint32_t moves;
} ctl_field;

/* Points fields at all fields in the order of their offsets, without gaps, and gives their number. */
uint32_t ctl_state_layout(const ctl_field** fields);

#ifdef __cplusplus
}
#endif
#endif
