/* Every alarm of the plant controller, with its rationale; columns as in controller_alarms.h. Quantities and modes are
 * those of plant_controller.h.
 */
#ifndef DUSKLINE_PLANT_CONTROLLER_ALARMS_H
#define DUSKLINE_PLANT_CONTROLLER_ALARMS_H

/* clang-format off */
/* Quantities that alarms watch: X(identifier, number, word, unit) */
#define CTL_PLANT_ALARM_QUANTITY_LIST(X)                                   \
  X(CTL_PLANT_WATCH_SURGE, 0, "surge margin", "1")                         \
  X(CTL_PLANT_WATCH_ACROSS, 1, "pressure across the cells, either way", "Pa") \
  X(CTL_PLANT_WATCH_HEADER, 2, "feed header pressure", "Pa")               \
  X(CTL_PLANT_WATCH_DISCHARGE, 3, "discharge temperature", "K")            \
  X(CTL_PLANT_WATCH_VIBRATION, 4, "vibration of the compressor", "m/s2")   \
  X(CTL_PLANT_WATCH_PURITY, 5, "oxygen fraction of the product", "1")      \
  X(CTL_PLANT_WATCH_CO, 6, "CO/CO2 of the feed over the nickel limit of the hottest module", "1") \
  X(CTL_PLANT_WATCH_SHORTFALL, 7, "share of the demand that is not made", "1") \
  X(CTL_PLANT_WATCH_FILTER, 8, "pressure lost in the filter over the ambient pressure", "1")

#define CTL_PLANT_AT_REST (CTL_IN(CTL_PLANT_OFF) | CTL_IN(CTL_PLANT_SAFE))
#define CTL_PLANT_NOT_READY (CTL_PLANT_AT_REST | CTL_IN(CTL_PLANT_START_UP) | CTL_IN(CTL_PLANT_SHUT_DOWN))
#define CTL_PLANT_NOT_PRODUCING (CTL_PLANT_NOT_READY | CTL_IN(CTL_PLANT_STANDBY))

#define CTL_PLANT_ALARM_LIST(X) \
  X(CTL_PLANT_ALARM_TRIP_SURGE, 0, "trip-surge", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_PLANT_SURGED, 0.0f, 0.0f, 0u, \
    "no feed: all modules stop", "anti-surge valve stuck, speed or flow reading wrong, cooler blocked", "compare flow, speed and pressures, stroke the anti-surge valve, request standby") \
  X(CTL_PLANT_ALARM_TRIP_ACROSS, 1, "trip-pressure-across-cells", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_PLANT_ACROSS_HIGH, 0.0f, 0.0f, 0u, \
    "no feed: all modules stop", "exhaust or product valve stuck, wrong pressure reading", "compare the header pressures, stroke both valves, request standby") \
  X(CTL_PLANT_ALARM_TRIP_MACHINE, 2, "trip-compressor", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_PLANT_HEADER_HIGH | CTL_PLANT_MACHINE_HOT | CTL_PLANT_VIBRATION_HIGH | CTL_PLANT_OVER_SPEED | CTL_PLANT_SPEED_DEVIATION, 0.0f, 0.0f, 0u, \
    "no feed: all modules stop", "cooler blocked, bearing, coupling or drive", "read which condition tripped, inspect, request standby") \
  X(CTL_PLANT_ALARM_TRIP_SENSOR, 3, "trip-plant-sensor-lost", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_PLANT_SENSOR_LOST, 0.0f, 0.0f, 0u, \
    "no feed until the measurement is back", "broken wire, supply of the instrument lost", "restore the measurement, request standby") \
  X(CTL_PLANT_ALARM_TRIP_BUS, 4, "trip-plant-bus-low", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_PLANT_BUS_LOW, 0.0f, 0.0f, 0u, \
    "no feed: all modules stop", "bus overloaded, batteries empty", "shed other loads, restore the bus, request standby") \
  X(CTL_PLANT_ALARM_SURGE, 5, "surge-margin-low", CTL_MAJOR, 10.0f, CTL_MEDIUM, 0, 5.0f, 15.0f, CTL_FROM_BELOW, CTL_PLANT_WATCH_SURGE, 0.08f, 0.04f, CTL_PLANT_NOT_READY, \
    "a trip after two surges", "thin air, loaded filter, anti-surge valve too small or stuck", "open the anti-surge valve, lower the header pressure") \
  X(CTL_PLANT_ALARM_ACROSS, 6, "pressure-across-cells-high", CTL_SEVERE, 10.0f, CTL_HIGH, 0, 10.0f, 15.0f, CTL_FROM_ABOVE, CTL_PLANT_WATCH_ACROSS, 6000.0f, 1000.0f, CTL_PLANT_AT_REST, \
    "seals leak and cells crack; trip at 10 kPa", "exhaust or product valve stuck, liquefier blocked", "compare both headers, move the valve that does not follow") \
  X(CTL_PLANT_ALARM_HEADER, 7, "feed-header-low", CTL_MAJOR, 10.0f, CTL_MEDIUM, 0, 30.0f, 30.0f, CTL_FROM_BELOW, CTL_PLANT_WATCH_HEADER, 58000.0f, 2000.0f, CTL_PLANT_NOT_READY, \
    "less feed: less oxygen", "thin air, loaded filter, anti-surge valve open, compressor at its limit", "compare speed and anti-surge valve, lower the demand, clean the filter") \
  X(CTL_PLANT_ALARM_DISCHARGE, 8, "compressor-discharge-hot", CTL_MAJOR, 20.0f, CTL_LOW, 0, 60.0f, 60.0f, CTL_FROM_ABOVE, CTL_PLANT_WATCH_DISCHARGE, 430.0f, 5.0f, CTL_IN(CTL_PLANT_OFF), \
    "trip at 450 K", "coolers blocked or warm, recirculation", "inspect the coolers, lower the demand") \
  X(CTL_PLANT_ALARM_VIBRATION, 9, "compressor-vibration-high", CTL_MAJOR, 20.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_ABOVE, CTL_PLANT_WATCH_VIBRATION, 20.0f, 2.0f, CTL_PLANT_AT_REST, \
    "trip at 30 m/s2; the machine wears", "unbalance, dust on the wheels, bearing", "plan an overhaul") \
  X(CTL_PLANT_ALARM_PURITY, 10, "product-impure", CTL_MINOR, 30.0f, CTL_LOW, 0, 300.0f, 60.0f, CTL_FROM_BELOW, CTL_PLANT_WATCH_PURITY, 0.970f, 0.005f, CTL_PLANT_NOT_PRODUCING, \
    "the product does not meet 98 %", "a module leaks, analyser poisoned", "compare the modules, isolate the one that leaks") \
  X(CTL_PLANT_ALARM_CO, 11, "feed-unprotected", CTL_SEVERE, 10.0f, CTL_HIGH, 0, 30.0f, 30.0f, CTL_FROM_BELOW, CTL_PLANT_WATCH_CO, 1.2f, 0.3f, CTL_PLANT_NOT_READY, \
    "the nickel of all modules oxidises", "recycle valve stuck or too small, no current, analyser wrong", "move the recycle valve, keep the currents above the protective one") \
  X(CTL_PLANT_ALARM_SHORTFALL, 12, "demand-not-met", CTL_MINOR, 30.0f, CTL_LOW, 0, 300.0f, 60.0f, CTL_FROM_ABOVE, CTL_PLANT_WATCH_SHORTFALL, 0.05f, 0.03f, CTL_PLANT_NOT_PRODUCING, \
    "less oxygen than asked for", "modules out, short margins, power ceiling", "bring the spare into service, lower the demand, raise the ceiling") \
  X(CTL_PLANT_ALARM_FILTER, 13, "intake-filter-loaded", CTL_MINOR, 60.0f, CTL_LOW, 0, 60.0f, 600.0f, CTL_FROM_ABOVE, CTL_PLANT_WATCH_FILTER, 0.08f, 0.02f, CTL_PLANT_AT_REST, \
    "more power for the same oxygen, less in thin air", "dust", "clean or change the filter") \
  X(CTL_PLANT_ALARM_MODULE, 14, "module-stopped", CTL_MAJOR, 20.0f, CTL_LOW, 1, 5.0f, 60.0f, CTL_FROM_DIAGNOSIS, CTL_PLANT_MODULE_TRIPPED, 0.0f, 0.0f, CTL_IN(CTL_PLANT_OFF), \
    "its share goes to the others", "an interlock of the module", "read the alarms of that module") \
  X(CTL_PLANT_ALARM_ISOLATED, 15, "module-isolated", CTL_SEVERE, 20.0f, CTL_MEDIUM, 1, 5.0f, 60.0f, CTL_FROM_DIAGNOSIS, CTL_PLANT_MODULE_LEAKS, 0.0f, 0.0f, 0u, \
    "that module cools without flow", "a crack or a seal between its cathode and anode", "take the module out of service and repair it") \
  X(CTL_PLANT_ALARM_REFUSED, 16, "plant-mode-not-permitted", CTL_MINOR, 60.0f, CTL_LOW, 0, 1200.0f, 0.0f, CTL_FROM_REFUSAL, CTL_PLANT_UNEXPECTED, 0.0f, 0.0f, CTL_IN(CTL_PLANT_SAFE), \
    "the plant stays in its mode", "a permissive is missing", "read which permissive is missing and bring it about, or ask for another mode") \
  X(CTL_PLANT_ALARM_READING, 17, "plant-reading-lost", CTL_MINOR, 60.0f, CTL_LOW, 0, 15.0f, 60.0f, CTL_FROM_DOUBT, 0, 0.0f, 0.0f, 0u, \
    "valves and limits rest on fewer measurements", "instrument or its wire", "check the instrument that is lost") \
  X(CTL_PLANT_ALARM_TRIP_FEED, 18, "trip-feed-unprotected", CTL_MAJOR, 10.0f, CTL_MEDIUM, 1, 0.0f, 0.0f, CTL_FROM_TRIP, CTL_PLANT_FEED_UNPROTECTED, 0.0f, 0.0f, 0u, \
    "no feed: all modules stop before their nickel oxidises", "recycle valve shut or its line blocked, analyser wrong", "stroke the recycle valve, compare the analyser, request standby") \
  X(CTL_PLANT_ALARM_VENTED, 19, "product-vented", CTL_MINOR, 30.0f, CTL_LOW, 1, 5.0f, 60.0f, CTL_FROM_DIAGNOSIS, CTL_PLANT_PRODUCT_VENTED, 0.0f, 0.0f, CTL_IN(CTL_PLANT_OFF), \
    "oxygen is made and lost", "liquefier stopped, its tank too warm, line blocked", "restore the liquefier, then request the mode anew")
/* clang-format on */
#endif
