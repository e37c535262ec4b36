/* The controller of a plant of several stack modules, in plain C: above one controller a module (controller.h).
 *
 * It runs what the modules share (compressor, headers, their valves) and is the operator of each module: requested mode,
 * share of the oxygen demand, power ceiling. The same rules as in controller.h hold: a pure function of (state,
 * parameters, inputs), SI in single precision, NaN where an input is not available, safe outputs first.
 *
 * A tick of a plant: ctl_plant_step; then for each module ctl_plant_orders_to_module, ctl_step,
 * ctl_plant_report_of_module, for the next tick. These two belong to the harness: a controller of your own need not have them.
 */
#ifndef DUSKLINE_PLANT_CONTROLLER_H
#define DUSKLINE_PLANT_CONTROLLER_H

#include "controller/include/controller.h"

#ifdef __cplusplus
extern "C" {
#endif

/* clang-format off */
#define CTL_PLANT_ABI_VERSION 3u
#define CTL_PLANT_MODULES 12 /* modules at most */

/* Modes: X(identifier, value, word, meaning). off, standby and production may be requested. */
#define CTL_PLANT_MODE_LIST(X)                                                                    \
  X(CTL_PLANT_OFF, 0, "off", "nothing runs, valves open to the surroundings")                      \
  X(CTL_PLANT_START_UP, 1, "start-up", "modules heat one after the other, the compressor runs from the first that needs flow") \
  X(CTL_PLANT_STANDBY, 2, "standby", "feed header at its pressure, a module at least is hot and protected") \
  X(CTL_PLANT_PRODUCTION, 3, "production", "oxygen to demand, shared by the modules")              \
  X(CTL_PLANT_SHUT_DOWN, 4, "shut-down", "modules cool, the compressor runs until none needs flow") \
  X(CTL_PLANT_SAFE, 5, "safe", "interlock acted: compressor off, valves open, modules in safe")

/* What the operator says of each module: X(identifier, value, word, meaning) */
#define CTL_SERVICE_LIST(X)                                                                       \
  X(CTL_SERVICE_ABSENT, 0, "absent", "not there")                                                  \
  X(CTL_SERVICE_IN, 1, "in", "in service")                                                         \
  X(CTL_SERVICE_SPARE, 2, "spare", "hot spare: at standby until the others do not meet the demand") \
  X(CTL_SERVICE_OUT, 3, "out", "taken out: cools, is isolated, then may be worked on")

/* What takes in the air: X(identifier, value, word, meaning) */
#define CTL_INTAKE_LIST(X)                                                                        \
  X(CTL_INTAKE_CENTRIFUGAL, 0, "centrifugal", "turbo train: surge line, choke, over-speed")        \
  X(CTL_INTAKE_AXIAL, 1, "axial", "turbo group: as centrifugal, with a steeper characteristic")    \
  X(CTL_INTAKE_LOBE, 2, "lobe", "swept volume: temperature of the rotors, no surge")               \
  X(CTL_INTAKE_SCROLL_BANK, 3, "scroll bank", "swept volume: temperature of the shells, no surge") \
  X(CTL_INTAKE_FREEZER, 4, "freezer", "batches of ice: its own sequence holds the header pressure, nothing turns")

/* What holds the oxygen of the plant down: X(identifier, value, word, meaning) */
#define CTL_PLANT_LIMITER_LIST(X)                                                                 \
  X(CTL_PLANT_BY_NOTHING, 0, "none", "no oxygen is being made to demand")                          \
  X(CTL_PLANT_BY_DEMAND, 1, "demand", "the demand is met")                                         \
  X(CTL_PLANT_BY_MODULES, 2, "modules", "what the modules in service can make")                    \
  X(CTL_PLANT_BY_POWER, 3, "power", "the power ceiling of the bus")                                \
  X(CTL_PLANT_BY_PRESSURE, 4, "pressure", "the feed header is below its pressure")

/* What gives way to a power ceiling, one bit each, in that order: X(identifier, bit, word, meaning) */
#define CTL_SHED_LIST(X)                                                                          \
  X(CTL_SHED_LIQUEFIER, 0, "liquefier", "the liquefier is to stop")                                \
  X(CTL_SHED_COMPRESSOR, 1, "compressor", "the header pressure falls by compressor_shed")          \
  X(CTL_SHED_CURRENT, 2, "current", "current, first of the module with the least margin")          \
  X(CTL_SHED_HEAT, 3, "heat", "heaters: the stacks cool")

/* Permissives and interlocks of the plant, one bit each: X(identifier, bit, word, meaning). A set bit is a reason. */
#define CTL_PLANT_CONDITION_LIST(X)                                                               \
  X(CTL_PLANT_SURGED, 0, "surged", "the compressor has surged twice")                              \
  X(CTL_PLANT_HEADER_HIGH, 1, "header high", "feed header above its limit")                        \
  X(CTL_PLANT_ACROSS_HIGH, 2, "across high", "pressure across the cells above its limit")          \
  X(CTL_PLANT_MACHINE_HOT, 3, "machine hot", "discharge of the compressor above its limit")        \
  X(CTL_PLANT_VIBRATION_HIGH, 4, "vibration high", "vibration of the compressor above its limit")  \
  X(CTL_PLANT_OVER_SPEED, 5, "over-speed", "shaft faster than its limit")                          \
  X(CTL_PLANT_SPEED_DEVIATION, 6, "speed deviation", "shaft does not follow its command")          \
  X(CTL_PLANT_SENSOR_LOST, 7, "sensor lost", "a header pressure is not measured")                  \
  X(CTL_PLANT_BUS_LOW, 8, "bus low", "bus voltage below its limit")                                \
  X(CTL_PLANT_HEADER_LOW, 9, "header low", "feed header too low for production")                   \
  X(CTL_PLANT_FEED_UNPROTECTED, 10, "feed unprotected", "CO in the feed header below the nickel limit") \
  X(CTL_PLANT_NO_MODULE, 11, "no module", "no module in service is hot and ready")                 \
  X(CTL_PLANT_NOT_RESET, 12, "not reset", "no new mode has been requested since the move to safe") \
  X(CTL_PLANT_MODULES_HOT, 13, "modules hot", "a module is not off yet")

/* What stands against modules, one bit each (alarms): X(identifier, bit, word, meaning) */
#define CTL_PLANT_DIAGNOSIS_LIST(X)                                                               \
  X(CTL_PLANT_MODULE_TRIPPED, 0, "module tripped", "a module in service has moved to safe")        \
  X(CTL_PLANT_MODULE_LEAKS, 1, "module leaks", "a module was isolated because it leaks between cathode and anode") \
  X(CTL_PLANT_PRODUCT_VENTED, 2, "product vented", "the product header did not empty to the liquefier: it goes to the vent")

#define CTL_PLANT_UNEXPECTED (CTL_PLANT_HEADER_LOW | CTL_PLANT_FEED_UNPROTECTED | CTL_PLANT_NO_MODULE | CTL_PLANT_SENSOR_LOST)

#include "controller/include/plant_controller_alarms.h"
#include "controller/include/plant_controller_commands.h"
#include "controller/include/plant_controller_instruments.h"
#include "controller/include/plant_controller_parameters.h"

/* What a module reports: F(name, unit, lower, upper, meaning) numbers, then U(name, meaning) words. A report outside the
 * bounds or not finite does not count; a module without one is as good as absent. */
#define CTL_MODULE_REPORT_LIST(F, U)                                                              \
  F(feed_wanted, "kg/s", 0.0, 1.0, "feed that it asks for")                                        \
  F(feed_flow, "kg/s", -1.0, 1.0, "feed that it measures")                                         \
  F(oxygen_rate, "kg/s", 0.0, 1.0, "oxygen that it makes, by its current")                         \
  F(coke_margin, "V", -10.0, 10.0, "least coke margin of its cells")                               \
  F(coke_sigma, "V", 0.0, 10.0, "standard deviation of that")                                      \
  F(added_resistance, "ohm m2", -1.0, 1.0, "age: resistance beyond the model")                     \
  F(power, "W", -100.0, 1e6, "power that it draws, cells and heaters")                             \
  F(heating, "W", -100.0, 1e6, "part of it for the heaters")                                       \
  F(temperature, "K", 50.0, 2000.0, "its coldest zone")                                            \
  F(hottest, "K", 50.0, 2000.0, "its hottest zone")                                                \
  U(mode, "ctl_mode in force")                                                                     \
  U(limiter, "ctl_limiter in force")                                                               \
  U(response, "ctl_response in force")                                                             \
  U(diagnosed, "ctl_diagnosis bits that stand")                                                    \
  U(unmet_permissives, "ctl_condition bits against its requested mode")                            \
  U(tripped, "ctl_condition bits of its last move to safe")

/* Orders to a module: F(name, unit, meaning) numbers, then U(name, meaning) words. */
#define CTL_MODULE_ORDER_LIST(F, U)                                                               \
  F(oxygen_demand, "kg/s", "its share of the demand")                                              \
  F(power_ceiling, "W", "its share of the power; NaN: no ceiling")                                 \
  F(feed_opening_max, "1", "0: its valves stay shut, 1: they are the module's")                    \
  U(requested_mode, "ctl_mode asked for")

/* Estimates of the plant controller; scalars: S(name, unit, meaning), one a module: A(name, count, unit, meaning) */
#define CTL_PLANT_ESTIMATE_LIST(S, A)                                                             \
  S(surge_margin, "1", "flow through the compressor over that at surge, less 1")                   \
  S(surge_flow, "kg/s", "flow at surge, at this pressure ratio and suction")                                \
  S(feed_wanted, "kg/s", "sum of the feeds that the modules ask for")                              \
  S(oxygen_rate, "kg/s", "sum of what the modules make")                                           \
  S(shortfall, "1", "share of the demand that is not made")                                        \
  S(header_setpoint, "Pa", "set-point of the feed header")                                         \
  S(exhaust_setpoint, "Pa", "set-point of the exhaust header")                                     \
  S(product_setpoint, "Pa", "set-point of the product header")                                     \
  S(pressure_across, "Pa", "product header less exhaust header")                                   \
  S(co_setpoint, "1", "set-point of CO in the feed header")                                        \
  S(nickel_ratio, "1", "CO/CO2 of the feed over the nickel limit of the hottest module")           \
  S(other_load, "W", "power that is not of the modules")                                           \
  A(weight, CTL_PLANT_MODULES, "1", "weight of each module in the sharing, by margin and age")     \
  A(capacity, CTL_PLANT_MODULES, "kg/s", "most oxygen that each module is trusted with")
/* clang-format on */

#define CTL_DECLARE_PLANT_INPUT(name, ...) CTL_PLANT_INPUT_##name,
#define CTL_DECLARE_PLANT_OUTPUT(name, ...) CTL_PLANT_OUTPUT_##name,
#define CTL_DECLARE_WORD(name, ...) uint32_t name;
typedef enum { CTL_PLANT_INPUT_LIST(CTL_DECLARE_PLANT_INPUT) CTL_PLANT_INSTRUMENTS } ctl_plant_instrument;
typedef enum { CTL_PLANT_OUTPUT_LIST(CTL_DECLARE_PLANT_OUTPUT) CTL_PLANT_COMMANDS } ctl_plant_command;
typedef enum { CTL_PLANT_MODE_LIST(CTL_DECLARE_ENUM) CTL_PLANT_MODES } ctl_plant_mode;
typedef enum { CTL_SERVICE_LIST(CTL_DECLARE_ENUM) CTL_SERVICES } ctl_service;
typedef enum { CTL_INTAKE_LIST(CTL_DECLARE_ENUM) CTL_INTAKES } ctl_intake;
typedef enum { CTL_PLANT_LIMITER_LIST(CTL_DECLARE_ENUM) CTL_PLANT_LIMITERS } ctl_plant_limiter;
typedef enum { CTL_SHED_LIST(CTL_DECLARE_BIT) CTL_SHED_NOTHING = 0 } ctl_shed;
typedef enum { CTL_PLANT_CONDITION_LIST(CTL_DECLARE_BIT) CTL_PLANT_NO_REASON = 0 } ctl_plant_condition;
typedef enum { CTL_PLANT_DIAGNOSIS_LIST(CTL_DECLARE_BIT) CTL_PLANT_NO_DIAGNOSIS = 0 } ctl_plant_diagnosis;
typedef enum {
  CTL_PLANT_ALARM_QUANTITY_LIST(CTL_DECLARE_WATCH) CTL_PLANT_ALARM_QUANTITIES
} ctl_plant_alarm_quantity;
typedef enum { CTL_PLANT_ALARM_LIST(CTL_DECLARE_ALARM) CTL_PLANT_ALARMS } ctl_plant_alarm;
#define CTL_PLANT_ALARM_CAPACITY 20 /* CTL_PLANT_ALARMS rounded up to whole words */

typedef struct {
  CTL_PLANT_PARAMETER_LIST(CTL_DECLARE_PARAMETER)
  uint32_t intake;                           /* ctl_intake */
  uint32_t not_fitted;                       /* bits of ctl_plant_instrument: neither expected nor tested */
  float map_speed_share[CTL_PLANT_MAP_ROWS]; /* 1, rising */
  float map_surge_flow[CTL_PLANT_MAP_ROWS];  /* kg/s, rising */
  float map_ratio[CTL_PLANT_MAP_ROWS];       /* 1, rising */
  ctl_span input_span[CTL_PLANT_INSTRUMENTS];
  ctl_span output_span[CTL_PLANT_COMMANDS];
} ctl_plant_params;

typedef struct {
  CTL_MODULE_REPORT_LIST(CTL_DECLARE_SCALAR, CTL_DECLARE_WORD)
} ctl_module_report;

typedef struct {
  CTL_MODULE_ORDER_LIST(CTL_DECLARE_SCALAR, CTL_DECLARE_WORD)
} ctl_module_order;

typedef struct {
  CTL_PLANT_INPUT_LIST(CTL_DECLARE_SCALAR)
  float oxygen_demand;     /* kg/s asked for, of the whole plant */
  float power_ceiling;     /* W that the bus allows the plant; NaN: no ceiling */
  float shelve_time;       /* s for which CTL_ALARM_SHELVE puts an alarm aside */
  uint32_t requested_mode; /* ctl_plant_mode that the operator asks for: off, standby or production */
  uint32_t alarm_action;   /* ctl_alarm_action of this tick */
  uint32_t alarm_number;   /* ctl_plant_alarm that it is meant for */
  uint32_t maintenance;    /* 1: the action comes from maintenance */
  uint32_t tick;           /* counts control periods from the start of the run */
  uint32_t service[CTL_PLANT_MODULES];         /* ctl_service of each module */
  ctl_module_report module[CTL_PLANT_MODULES]; /* of the tick before */
} ctl_plant_inputs;

typedef struct {
  CTL_PLANT_OUTPUT_LIST(CTL_DECLARE_SCALAR)
  CTL_PLANT_ESTIMATE_LIST(CTL_DECLARE_ESTIMATE, CTL_DECLARE_ESTIMATES)
  ctl_module_order order[CTL_PLANT_MODULES];
  uint32_t mode;              /* ctl_plant_mode in force */
  uint32_t limiter;           /* ctl_plant_limiter in force */
  uint32_t shed;              /* ctl_shed bits in force */
  uint32_t unmet_permissives; /* ctl_plant_condition bits that keep the requested mode from being entered */
  uint32_t tripped;           /* ctl_plant_condition bits of the last move to safe, 0 when reset */
  uint32_t diagnosed;         /* ctl_plant_diagnosis bits that stand */
  uint32_t producing;         /* bit of each module that is asked to produce */
  uint32_t isolated;          /* bit of each module whose valves are held shut */
  uint32_t released;          /* bit of each module that is cold, off and isolated: it may be worked on */
  uint32_t lost;              /* bits of ctl_plant_instrument that are not measured */
  uint32_t alarms_active;     /* alarms that stand, acknowledged or not */
  uint32_t alarms_unacknowledged;                /* alarms that nobody has seen */
  uint32_t alarms_ignored;                       /* actions that could not be carried out, since the start */
  uint8_t alarm_state[CTL_PLANT_ALARM_CAPACITY]; /* ctl_alarm_state of each ctl_plant_alarm; the rest is 0 */
} ctl_plant_outputs;

/* All memory between calls: opaque, trivially copyable, fixed in size, version first. */
#define CTL_PLANT_STATE_BYTES 1536
typedef struct {
  uint32_t abi_version;
  uint32_t size;
  uint32_t words[CTL_PLANT_STATE_BYTES / 4 - 2];
} ctl_plant_state;

typedef struct {
  uint32_t checksum;
  ctl_plant_state state;
} ctl_plant_retained;

uint32_t ctl_plant_abi_version(void);
void ctl_plant_default_params(ctl_plant_params* params);

/* As ctl_init, ctl_step, ctl_retain and ctl_restart, with the same statuses. */
ctl_status ctl_plant_init(ctl_plant_state* state, const ctl_plant_params* params);
ctl_status ctl_plant_step(ctl_plant_state* state, const ctl_plant_params* params, const ctl_plant_inputs* in,
                          ctl_plant_outputs* out);
void ctl_plant_retain(const ctl_plant_state* state, ctl_plant_retained* retained);
ctl_status ctl_plant_restart(ctl_plant_state* state, const ctl_plant_params* params,
                             const ctl_plant_retained* retained);

/* The orders to module `module` (from 0) into the inputs of its controller: mode, demand, ceiling and
 * the readings that all modules share. The module's own readings are left as they are; without a power meter of its own
 * (NaN in bus_power) it gets what it reported. */
void ctl_plant_orders_to_module(const ctl_plant_inputs* plant, const ctl_plant_outputs* orders,
                                uint32_t module, ctl_inputs* in);

/* What a module reports, from its inputs and outputs of this tick. */
void ctl_plant_report_of_module(const ctl_params* params, const ctl_inputs* in, const ctl_outputs* out,
                                ctl_module_report* report);

#ifdef __cplusplus
}
#endif
#endif
