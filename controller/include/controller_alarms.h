/* Every alarm of the controller, with its rationale. An alarm asks a person for an action; what asks for none is an
 * event and does not stand here (weather fast, clock jumped, a restart, a correction found).
 *
 * X(identifier, number, word, severity, minutes, priority, latched, on_delay, off_delay, source, argument, limit,
 *   dead_band, suppressed, consequence, cause, action)
 * severity and minutes to respond give the priority: alarms.hpp checks every row. Delays in s. source, argument,
 * limit and dead_band: see CTL_ALARM_SOURCE_LIST. suppressed: modes in which the alarm means nothing, by design; after
 * a trip only the alarm of its first reason stands, and what follows from it is suppressed in safe. Limits are a
 * little inside those of the interlocks; dead-bands and delays start from ISA-18.2 practice (pressure 2 % of span
 * and 15 s, temperature 1 % and 60 s, flow 15 s), shorter where the plant is faster. An off-delay of 600 s: it needs a
 * repair; an alarm that comes back within a sol then stands until its condition has been gone for a sol.
 */
#ifndef DUSKLINE_CONTROLLER_ALARMS_H
#define DUSKLINE_CONTROLLER_ALARMS_H

/* clang-format off */
/* How bad it is when nothing is done: X(identifier, value, word, meaning) */
#define CTL_SEVERITY_LIST(X)                                                  \
  X(CTL_MINOR, 0, "minor", "some oxygen is not made")                         \
  X(CTL_MAJOR, 1, "major", "days of oxygen are lost or a part wears out")     \
  X(CTL_SEVERE, 2, "severe", "the stack is damaged for good")

#define CTL_PRIORITY_LIST(X)                                                  \
  X(CTL_LOW, 0, "low", "answer within the shift")                             \
  X(CTL_MEDIUM, 1, "medium", "answer after what is higher")                   \
  X(CTL_HIGH, 2, "high", "answer now")                                        \
  X(CTL_URGENT, 3, "urgent", "answer before anything else")

/* States of ANSI/ISA-18.2-2016 and IEC 62682:2014, A to I in that order: X(identifier, value, word, meaning) */
#define CTL_ALARM_STATE_LIST(X)                                                                              \
  X(CTL_ALARM_NORMAL, 0, "normal", "the condition does not stand and nothing is owed")                       \
  X(CTL_ALARM_UNACKNOWLEDGED, 1, "unacknowledged", "the condition stands and nobody has seen it")            \
  X(CTL_ALARM_ACKNOWLEDGED, 2, "acknowledged", "the condition stands and has been seen")                     \
  X(CTL_ALARM_RETURNED, 3, "returned unacknowledged", "the condition went before anybody saw it")            \
  X(CTL_ALARM_LATCHED, 4, "latched unacknowledged", "the condition went, nobody saw it and a reset is owed") \
  X(CTL_ALARM_LATCHED_ACKNOWLEDGED, 5, "latched acknowledged", "the condition went, was seen and a reset is owed") \
  X(CTL_ALARM_SHELVED, 6, "shelved", "put aside by the operator for a time")                                 \
  X(CTL_ALARM_SUPPRESSED, 7, "suppressed by design", "means nothing in this mode")                           \
  X(CTL_ALARM_OUT, 8, "out of service", "taken out by maintenance")

/* What the operator may do to alarms, one a tick: X(identifier, value, word, meaning) */
#define CTL_ALARM_ACTION_LIST(X)                                                                     \
  X(CTL_ALARM_NO_ACTION, 0, "none", "nothing")                                                       \
  X(CTL_ALARM_ACKNOWLEDGE, 1, "acknowledge", "says that one alarm has been seen")                    \
  X(CTL_ALARM_ACKNOWLEDGE_ALL, 2, "acknowledge-all", "says that all alarms have been seen")          \
  X(CTL_ALARM_SHELVE, 3, "shelve", "puts one alarm aside for shelve_time")                           \
  X(CTL_ALARM_UNSHELVE, 4, "unshelve", "takes it back at once")                                      \
  X(CTL_ALARM_REMOVE, 5, "remove", "takes one alarm out of service; for maintenance")                \
  X(CTL_ALARM_RETURN, 6, "return", "puts it back into service; for maintenance")                     \
  X(CTL_ALARM_RESET, 7, "reset", "clears one latched alarm that has been seen and whose condition went")

/* Where a condition comes from: X(identifier, value, word, meaning of the argument and the limit) */
#define CTL_ALARM_SOURCE_LIST(X)                                                                      \
  X(CTL_FROM_TRIP, 0, "trip", "argument: reason bits that moved the plant to safe and still count")   \
  X(CTL_FROM_CONDITION, 1, "reason", "argument: reason bits that stand")                                 \
  X(CTL_FROM_DIAGNOSIS, 2, "diagnosis", "argument: diagnosis bits that stand")                        \
  X(CTL_FROM_DOUBT, 3, "doubt", "argument: group of measurements of which one is not believed or lost") \
  X(CTL_FROM_ABOVE, 4, "above", "argument: quantity above the limit, until below it by the dead-band") \
  X(CTL_FROM_BELOW, 5, "below", "argument: quantity below the limit, until above it by the dead-band") \
  X(CTL_FROM_REFUSAL, 6, "refusal", "argument: reason bits that keep the requested mode from being entered")

/* Quantities that alarms watch: X(identifier, number, word, unit) */
#define CTL_ALARM_QUANTITY_LIST(X)                                   \
  X(CTL_WATCH_MARGIN, 0, "estimated coke margin", "V")               \
  X(CTL_WATCH_SPREAD, 1, "spread between zones", "K")                \
  X(CTL_WATCH_SHELL, 2, "compressor shell temperature", "K")         \
  X(CTL_WATCH_CATHODE, 3, "cathode pressure", "Pa")                  \
  X(CTL_WATCH_BUS, 4, "bus voltage", "V")                            \
  X(CTL_WATCH_PURITY, 5, "oxygen fraction of the product", "1")      \
  X(CTL_WATCH_HOTTEST, 6, "hottest zone", "K")                       \
  X(CTL_WATCH_VOLTAGE, 7, "highest cell voltage", "V")

/* Groups of measurements that are repaired together: X(identifier, number, word, meaning) */
#define CTL_ALARM_GROUP_LIST(X)                                      \
  X(CTL_GROUP_PRESSURES, 0, "pressures", "plenum, cathode, anode and ambient pressure, filter difference") \
  X(CTL_GROUP_TEMPERATURES, 1, "temperatures", "all thermometers")   \
  X(CTL_GROUP_FLOWS, 2, "flows and speed", "feed and product flow, shaft speed") \
  X(CTL_GROUP_ELECTRIC, 3, "electric", "cell voltages, stack current, bus voltage and power") \
  X(CTL_GROUP_ANALYSERS, 4, "analysers", "CO and oxygen analysers, bearing tone")

/* Reasons that no walk between modes waits for; cold, hot and not reset are part of every start and stop. */
#define CTL_UNEXPECTED                                                                                          \
  (CTL_STACK_UNEVEN | CTL_NO_FLOW | CTL_NO_PROTECTION | CTL_MARGIN_LOST | CTL_OVER_PRESSURE | CTL_OVER_TEMPERATURE | \
   CTL_OVER_VOLTAGE | CTL_SENSOR_LOST | CTL_BUS_LOW | CTL_FAULT_FOUND)

#define CTL_IN(mode) (1u << (mode))
#define CTL_AT_REST (CTL_IN(CTL_OFF) | CTL_IN(CTL_SAFE))
#define CTL_NOT_SERVING (CTL_AT_REST | CTL_IN(CTL_WARM_UP) | CTL_IN(CTL_COOL_DOWN))
#define CTL_NOT_PRODUCING (CTL_NOT_SERVING | CTL_IN(CTL_STANDBY))

#define CTL_ALARM_LIST(X) \
  X(CTL_ALARM_TRIP_MARGIN, 0, "trip-coke-margin", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_MARGIN_LOST, 0.0f, 0.0f, 0u, \
    "no oxygen; the stack cools at the ramp limit", "starved or ageing cell, demand too high, lost recycle", "find the cell with the least margin, lower the demand, request standby") \
  X(CTL_ALARM_TRIP_PRESSURE, 1, "trip-over-pressure", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_OVER_PRESSURE, 0.0f, 0.0f, 0u, \
    "no oxygen; the flow stays off", "clogged aperture, runaway compressor, wrong pressure reading", "compare the pressures with the flow, clear the aperture, request standby") \
  X(CTL_ALARM_TRIP_TEMPERATURE, 2, "trip-over-temperature", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_OVER_TEMPERATURE, 0.0f, 0.0f, 0u, \
    "no oxygen; the stack cools at the ramp limit", "heater stuck on, hot compressor, wrong thermometer", "look for the part that is hot, wait until it has cooled, request standby") \
  X(CTL_ALARM_TRIP_VOLTAGE, 3, "trip-over-voltage", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_OVER_VOLTAGE, 0.0f, 0.0f, 0u, \
    "no oxygen; the stack cools at the ramp limit", "cell without gas, cracked or resistive, current runaway", "compare the cells, lower the demand, request standby") \
  X(CTL_ALARM_TRIP_SENSOR, 4, "trip-sensor-lost", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_SENSOR_LOST, 0.0f, 0.0f, 0u, \
    "no oxygen until the measurement is back", "open thermocouple, broken wire, supply of the instrument lost", "find the lost measurement, restore it or let it be substituted, request standby") \
  X(CTL_ALARM_TRIP_BUS, 5, "trip-bus-low", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_BUS_LOW, 0.0f, 0.0f, 0u, \
    "heaters off: the stack cools faster than the ramp", "bus overloaded, batteries empty", "shed other loads, restore the bus, request standby") \
  X(CTL_ALARM_TRIP_RAMP, 6, "trip-ramp-high", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_RAMP_HIGH, 0.0f, 0.0f, 0u, \
    "warm-up stopped", "heater stuck on, cold gas on a hot stack, wrong thermometer", "compare the zones, request warm-up when they are even") \
  X(CTL_ALARM_TRIP_FAULT, 7, "trip-diagnosed-fault", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_FAULT_FOUND, 0.0f, 0.0f, 0u, \
    "no oxygen; the stack cools at the ramp limit", "a diagnosed fault that no mode with current stands", "read the diagnosis, repair it, request standby") \
  X(CTL_ALARM_TRIP_RESTARTS, 8, "trip-restarts", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_RESTARTS_MANY, 0.0f, 0.0f, 0u, \
    "no oxygen; the plant does not start by itself any more", "supply that comes and goes, controller that fails again and again", "find what resets the controller, then request standby") \
  X(CTL_ALARM_MARGIN, 9, "coke-margin-low", CTL_SEVERE, 5.0f, CTL_HIGH, 0, 2.0f, 15.0f, CTL_FROM_BELOW, CTL_WATCH_MARGIN, 0.020f, 0.005f, CTL_NOT_SERVING, \
    "carbon grows in the cathode; trip at 10 mV", "thin air, loaded filter, ageing or starved cell", "lower the demand or raise the margin set-point") \
  X(CTL_ALARM_PROTECTION, 10, "nickel-unprotected", CTL_SEVERE, 10.0f, CTL_HIGH, 0, 15.0f, 15.0f, CTL_FROM_CONDITION, CTL_NO_PROTECTION, 0.0f, 0.0f, CTL_NOT_SERVING, \
    "nickel oxidises within hours", "recycle valve shut, no current, air drawn in", "restore current or recycle, or cool the stack below 600 degC") \
  X(CTL_ALARM_UNEVEN, 11, "stack-uneven", CTL_SEVERE, 20.0f, CTL_MEDIUM, 0, 60.0f, 60.0f, CTL_FROM_ABOVE, CTL_WATCH_SPREAD, 50.0f, 5.0f, CTL_IN(CTL_OFF), \
    "thermal stress cracks cells", "heater open or stuck, too much gas for the preheater", "lower demand, compare end plates and heater powers") \
  X(CTL_ALARM_STACK_HOT, 12, "stack-too-hot", CTL_SEVERE, 10.0f, CTL_HIGH, 0, 10.0f, 60.0f, CTL_FROM_ABOVE, CTL_WATCH_HOTTEST, 1128.0f, 8.0f, 0u, \
    "trip at 875 degC; seals and cells age fast", "heater stuck on, wrong thermometer, current above thermoneutral", "lower the demand, request cool-down if it keeps rising") \
  X(CTL_ALARM_SHELL, 13, "compressor-hot", CTL_MAJOR, 10.0f, CTL_MEDIUM, 0, 60.0f, 60.0f, CTL_FROM_ABOVE, CTL_WATCH_SHELL, 405.0f, 5.0f, CTL_IN(CTL_OFF), \
    "derated, then a trip at 420 K", "high speed in thin air, loaded filter, worn bearing", "lower the demand, inspect filter and bearing") \
  X(CTL_ALARM_CATHODE, 14, "cathode-pressure-high", CTL_MAJOR, 10.0f, CTL_MEDIUM, 0, 15.0f, 15.0f, CTL_FROM_ABOVE, CTL_WATCH_CATHODE, 85000.0f, 4000.0f, CTL_AT_REST, \
    "derated, then a trip at 90 kPa", "clogged exhaust aperture", "lower the demand, clear the aperture") \
  X(CTL_ALARM_VOLTAGE, 15, "cell-voltage-high", CTL_MAJOR, 10.0f, CTL_MEDIUM, 0, 2.0f, 15.0f, CTL_FROM_ABOVE, CTL_WATCH_VOLTAGE, 1.42f, 0.03f, CTL_AT_REST, \
    "trip at 1.5 V", "cell without gas, cracked or resistive", "lower the demand, compare the cells") \
  X(CTL_ALARM_BUS, 16, "bus-voltage-low", CTL_MAJOR, 10.0f, CTL_MEDIUM, 0, 5.0f, 15.0f, CTL_FROM_BELOW, CTL_WATCH_BUS, 24.0f, 0.5f, CTL_IN(CTL_SAFE), \
    "derated, then a trip at 22 V that cools the stack fast", "bus overloaded, batteries low", "shed other loads, set a power ceiling") \
  X(CTL_ALARM_FLOW, 17, "feed-flow-low", CTL_SEVERE, 10.0f, CTL_HIGH, 0, 15.0f, 15.0f, CTL_FROM_CONDITION, CTL_NO_FLOW, 0.0f, 0.0f, CTL_NOT_SERVING, \
    "no current can be made; the nickel loses its protection", "compressor stopped, filter blocked, flow meter lost", "compare flow, speed and plenum pressure, restart the compressor") \
  X(CTL_ALARM_PURITY, 18, "product-impure", CTL_MINOR, 30.0f, CTL_LOW, 0, 300.0f, 60.0f, CTL_FROM_BELOW, CTL_WATCH_PURITY, 0.970f, 0.005f, CTL_NOT_PRODUCING, \
    "the product does not meet 98 %", "leaking cell or seal, analyser poisoned", "divert the product, compare with Faraday's law") \
  X(CTL_ALARM_REFUSED, 19, "mode-not-permitted", CTL_MINOR, 60.0f, CTL_LOW, 0, 1200.0f, 0.0f, CTL_FROM_REFUSAL, CTL_UNEXPECTED, 0.0f, 0.0f, CTL_IN(CTL_SAFE), \
    "the plant stays in its mode", "a permissive is missing", "read which permissive is missing and bring it about, or ask for another mode") \
  X(CTL_ALARM_FILTER, 20, "filter-loaded", CTL_MINOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_DIAGNOSIS, CTL_FILTER_LOADED, 0.0f, 0.0f, CTL_AT_REST, \
    "more power for the same oxygen, less in thin air", "dust", "clean or change the filter") \
  X(CTL_ALARM_COMPRESSOR, 21, "compressor-weak", CTL_MINOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_DIAGNOSIS, CTL_COMPRESSOR_WEAK, 0.0f, 0.0f, CTL_AT_REST, \
    "more power for the same oxygen", "worn tips, leak between plenum and intake", "plan an overhaul, look for the leak") \
  X(CTL_ALARM_STOPPED, 22, "compressor-stopped", CTL_SEVERE, 10.0f, CTL_HIGH, 1, 2.0f, 15.0f, CTL_FROM_DIAGNOSIS, CTL_COMPRESSOR_STOPPED, 0.0f, 0.0f, CTL_IN(CTL_OFF), \
    "no flow, no protection of the nickel", "drive tripped, bearing seized", "restart the drive; if it does not turn request cool-down") \
  X(CTL_ALARM_BEARING, 23, "bearing-worn", CTL_MAJOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_DIAGNOSIS, CTL_BEARING_WORN, 0.0f, 0.0f, CTL_AT_REST, \
    "the compressor seizes within days", "wear, dust in the bearing", "run at lower speed and change the bearing") \
  X(CTL_ALARM_RECYCLE, 24, "recycle-faulty", CTL_SEVERE, 20.0f, CTL_MEDIUM, 0, 10.0f, 60.0f, CTL_FROM_DIAGNOSIS, CTL_RECYCLE_LOST | CTL_RECYCLE_STUCK, 0.0f, 0.0f, CTL_AT_REST, \
    "too little CO oxidises the nickel, too much wastes flow", "valve stuck or lost, line clogged", "move the valve, keep the current above the protective one") \
  X(CTL_ALARM_APERTURE, 25, "aperture-faulty", CTL_MINOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_DIAGNOSIS, CTL_EXHAUST_CLOGGED | CTL_EXHAUST_ERODED | CTL_PRODUCT_CLOGGED | CTL_PRODUCT_ERODED, 0.0f, 0.0f, CTL_NOT_PRODUCING, \
    "pressure away from its design: less margin or more power", "exhaust or product aperture clogged or eroded", "compare the pressures, inspect, clear or change the aperture") \
  X(CTL_ALARM_LINK, 26, "link-lost", CTL_MINOR, 30.0f, CTL_LOW, 0, 5.0f, 5.0f, CTL_FROM_DIAGNOSIS, CTL_LINK_LOST, 0.0f, 0.0f, 0u, \
    "the plant waits in standby", "link, antenna or console down", "restore the link, repeat the last command") \
  X(CTL_ALARM_HEATER, 27, "heater-faulty", CTL_MAJOR, 20.0f, CTL_LOW, 0, 30.0f, 60.0f, CTL_FROM_DIAGNOSIS, CTL_HEATER_OPEN | CTL_HEATER_ON, 0.0f, 0.0f, 0u, \
    "uneven stack; one that is stuck on overheats it", "open winding, switch stuck", "open the supply of the heater that is stuck, or plan its repair") \
  X(CTL_ALARM_CELL, 28, "cell-weak", CTL_MAJOR, 20.0f, CTL_LOW, 0, 30.0f, 600.0f, CTL_FROM_DIAGNOSIS, CTL_CELL_RESISTIVE | CTL_CELL_STARVED, 0.0f, 0.0f, CTL_NOT_PRODUCING, \
    "that cell limits all; more margin is kept", "ageing, contact, blocked channel", "lower the demand, bridge the cell at the next stop") \
  X(CTL_ALARM_LEAK, 29, "cell-leaking", CTL_SEVERE, 10.0f, CTL_HIGH, 1, 30.0f, 60.0f, CTL_FROM_DIAGNOSIS, CTL_CELL_LEAKING, 0.0f, 0.0f, CTL_AT_REST, \
    "oxygen burns CO at the crack, which grows", "cracked cell, seal", "request cool-down, do not produce with this stack") \
  X(CTL_ALARM_PRESSURES, 30, "pressure-suspect", CTL_MINOR, 60.0f, CTL_LOW, 0, 15.0f, 600.0f, CTL_FROM_DOUBT, CTL_GROUP_PRESSURES, 0.0f, 0.0f, 0u, \
    "limits rest on an estimate", "drift, frozen, line blocked", "check the instrument against the others, calibrate at rest") \
  X(CTL_ALARM_TEMPERATURES, 31, "temperature-suspect", CTL_MINOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_DOUBT, CTL_GROUP_TEMPERATURES, 0.0f, 0.0f, 0u, \
    "limits rest on the neighbours", "open or drifting thermocouple", "check the thermocouple, calibrate at rest") \
  X(CTL_ALARM_FLOWS, 32, "flow-suspect", CTL_MINOR, 60.0f, CTL_LOW, 0, 15.0f, 600.0f, CTL_FROM_DOUBT, CTL_GROUP_FLOWS, 0.0f, 0.0f, 0u, \
    "utilisation rests on an estimate", "drift, frozen", "check the meter against speed and Faraday's law") \
  X(CTL_ALARM_ELECTRIC, 33, "electric-suspect", CTL_MINOR, 60.0f, CTL_LOW, 0, 5.0f, 600.0f, CTL_FROM_DOUBT, CTL_GROUP_ELECTRIC, 0.0f, 0.0f, 0u, \
    "the margin of that cell is taken from the highest", "open tap, drift", "check the tap and the current meter") \
  X(CTL_ALARM_ANALYSERS, 34, "analyser-suspect", CTL_MINOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_DOUBT, CTL_GROUP_ANALYSERS, 0.0f, 0.0f, 0u, \
    "composition rests on balances alone", "poisoned, saturated, supply lost", "calibrate or change the analyser") \
  X(CTL_ALARM_MODEL, 35, "model-suspect", CTL_MINOR, 60.0f, CTL_LOW, 0, 30.0f, 600.0f, CTL_FROM_DIAGNOSIS, CTL_MODEL_SUSPECT, 0.0f, 0.0f, CTL_AT_REST, \
    "more margin is kept, oxygen falls where that asks for it", "plant unlike its parameters and never commissioned, two faults at once", "look which residual is unexplained, compare its instruments, commission a plant that is in order")
/* clang-format on */

#endif
