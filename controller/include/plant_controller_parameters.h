/* Every parameter of the plant controller: P(name, default, unit, lower, upper, meaning, source). Defaults suit a plant of
 * six modules of 0.5 kg/h behind a geared centrifugal train of nine stages. Source words as in controller_parameters.h.
 */
#ifndef DUSKLINE_PLANT_CONTROLLER_PARAMETERS_H
#define DUSKLINE_PLANT_CONTROLLER_PARAMETERS_H

/* clang-format off */
#define CTL_PLANT_PARAMETER_LIST(P)                                                                         \
  P(period, 1.0f, "s", 0.01f, 10.0f, "control period", "design")                                            \
  P(sensor_hold, 3.0f, "s", 0.0f, 60.0f, "a missing measurement keeps its last value this long", "design")  \
  P(interlock_ticks, 2.0f, "1", 1.0f, 20.0f, "ticks in a row before an interlock acts", "design")           \
  /* compressor */                                                                                          \
  P(speed_min, 1940.0f, "rad/s", 0.0f, 1e5f, "least speed of the running compressor", "half of the design speed") \
  P(speed_max, 4175.0f, "rad/s", 1.0f, 1e5f, "largest speed", "11 % above the design speed of 3764 rad/s: in warm air 1.05 of the map, beyond which the last stage surges where the first chokes") \
  P(speed_rate, 40.0f, "rad/s2", 0.01f, 1e4f, "largest rate of change of the speed", "design: 1 % of full speed a second") \
  P(speed_trip_share, 1.05f, "1", 1.0f, 2.0f, "measured speed over the largest one at which the interlock acts", "usual over-speed trip") \
  P(speed_deviation, 390.0f, "rad/s", 1.0f, 1e5f, "difference between command and shaft that trips when it lasts", "design: a tenth") \
  P(speed_deviation_time, 10.0f, "s", 0.1f, 600.0f, "for so long", "design")                                \
  P(drive_lag, 1.0f, "s", 0.0f, 60.0f, "lag of the shaft behind its command", "plant")                      \
  P(shaft_gain, 1.0f, "1", 0.0f, 10.0f, "speed that the shaft lacks behind that lag, to the command", "closed-loop runs: a drive that gives 6 % less in one step") \
  P(shaft_time, 3.0f, "s", 0.1f, 1e4f, "integral time of that loop", "closed-loop runs, as the gain")       \
  P(map_speed, 3764.0f, "rad/s", 1.0f, 1e5f, "speed of 1 in the map", "plant: size of the train")            \
  P(map_pressure, 700.0f, "Pa", 1.0f, 1e6f, "suction pressure of the map", "plant")                         \
  P(map_temperature, 240.0f, "K", 50.0f, 500.0f, "suction temperature of the map", "plant")                 \
  P(map_curvature, 7.0f, "1", 0.0f, 100.0f, "fall of the pressure ratio beyond surge, per square of the surge margin", \
    "plant: 0.934 at a margin of 0.1, 0.66 at 0.2")                                                         \
  P(displacement, 2e-3f, "m3", 1e-6f, 10.0f, "swept volume per revolution of machines that have one", "plant") \
  P(volumetric_efficiency, 0.85f, "1", 0.05f, 1.2f, "of such machines", "estimate")                         \
  P(pressure_gain, 1.6e-2f, "rad/s/Pa", 0.0f, 10.0f, "header pressure to speed",                            \
    "linear model of the outpost: modules that hold their flow make the header an integrator of 1.9 Pa/s per rad/s") \
  P(pressure_time, 60.0f, "s", 0.1f, 1e4f, "integral time of that loop", "phase margin of 60 deg in that model; SIMC: at most 130 s") \
  P(header_pressure, 65000.0f, "Pa", 1000.0f, 180000.0f, "set-point of the feed header", "design")          \
  P(pressure_rate, 200.0f, "Pa/s", 0.1f, 1e5f, "largest rate of fall of that set-point", "design: less than what the header loses by itself") \
  P(header_pressure_max, 85000.0f, "Pa", 2000.0f, 200000.0f, "feed header at which the interlock acts", "design") \
  P(header_pressure_min, 45000.0f, "Pa", 0.0f, 150000.0f, "feed header below which no module starts to produce", "design") \
  P(discharge_max, 450.0f, "K", 250.0f, 700.0f, "discharge temperature at which the interlock acts", "usual limit of 150 to 200 degC") \
  P(vibration_max, 30.0f, "m/s2", 0.1f, 200.0f, "vibration at which the interlock acts", "estimate")        \
  P(start_temperature, 820.0f, "K", 250.0f, 1300.0f, "stack temperature from which the compressor runs", \
    "design: before the module asks for flow")                                                              \
  /* anti-surge */                                                                                          \
  P(surge_line, 0.30f, "1", 0.0f, 1.0f, "surge margin that the anti-surge valve holds", \
    "common practice is 8 to 12 % at ten ticks a second; at one a second, and with heads that rise by only 1 % towards surge, closed-loop runs of sampled plants: 0.25 surged") \
  P(surge_open_line, 0.08f, "1", -0.5f, 1.0f, "surge margin below which the valve opens fully", "common practice is 3 to 5 %, as above") \
  P(surge_gain, 0.35f, "1", 0.0f, 1000.0f, "opening per margin", "the same runs: 0.5 swings where the head is flat") \
  P(surge_time, 20.0f, "s", 0.1f, 1e4f, "integral time of that loop", "closed-loop runs of the train")       \
  P(surge_rate_time, 4.0f, "s", 0.0f, 60.0f, "by which a falling margin is taken ahead", "closed-loop runs of the train") \
  P(surge_open_step, 0.2f, "1", 1e-3f, 1.0f, "by which the valve opens in a tick below that line", \
    "closed-loop runs: at once fully it empties the header in 4 s, and the modules starve")                 \
  P(relief_band, 0.05f, "1", 0.0f, 1.0f, "header pressure above its set-point, as a share, from which the valve relieves it", "design") \
  P(relief_gain, 2.0f, "1", 0.0f, 100.0f, "opening per share above that", "closed-loop runs of the train")  \
  P(surge_close_time, 120.0f, "s", 0.1f, 1e4f, "shortest time in which the valve closes", "slower than the pressure loop; common practice is 20 to 60 s") \
  P(surge_pressure_drop, 0.04f, "1", 1e-3f, 1.0f, "fall of the discharge pressure that counts as half a surge where the flow is not measured", "estimate") \
  P(surge_count_pressure, 20000.0f, "Pa", 0.0f, 200000.0f, "discharge pressure below which the valve stays open and nothing is counted", \
    "design: a start passes through stall at low speed; what little the gas holds then does no harm")       \
  P(surge_capacity, 7e-3f, "kg/s", 1e-7f, 10.0f, "flow of the open anti-surge valve at the set-point of the header", "plant") \
  /* recycle */                                                                                             \
  P(co_setpoint, 0.02f, "1", 1e-4f, 0.5f, "least CO fraction wanted in the feed header", "design")          \
  P(protection_factor, 1.5f, "1", 1.0f, 10.0f, "CO/CO2 of the feed over the nickel limit of the hottest module, wanted at least", "design") \
  P(unprotected_time, 120.0f, "s", 0.0f, 1e5f, "feed without the CO that the nickel needs, after which the interlock acts", \
    "estimate: a tenth of the time in which hot nickel oxidises (20 min)")                                  \
  P(carbon_fraction, 0.951f, "1", 0.5f, 1.0f, "mole fraction of CO and CO2 in the air", "mean of the atmosphere") \
  P(recycle_gain, 5.0f, "1", 0.0f, 1000.0f, "CO fraction to opening", "SIMC: 0.06 per opening, 20 s, closed loop 30 s") \
  P(recycle_time, 20.0f, "s", 0.1f, 1e4f, "integral time of that loop", "SIMC, as the gain")                \
  P(recycle_capacity, 2e-3f, "kg/s", 1e-7f, 10.0f, "flow of the open recycle valve at the set-point of the exhaust pressure", "plant") \
  P(air_molar_mass, 0.04335f, "kg/mol", 0.02f, 0.06f, "molar mass of the air", "mean of the atmosphere")    \
  /* pressure across the cells */                                                                           \
  P(exhaust_pressure, 55000.0f, "Pa", 1000.0f, 180000.0f, "set-point of the exhaust header", "design")      \
  P(exhaust_gain, 3e-5f, "1/Pa", 0.0f, 1.0f, "exhaust pressure to opening", "SIMC: 1e5 Pa per opening, 15 s, closed loop 5 s") \
  P(exhaust_time, 15.0f, "s", 0.1f, 1e4f, "integral time of that loop", "SIMC, as the gain")                \
  P(exhaust_capacity, 1e-2f, "kg/s", 1e-7f, 10.0f, "flow of the open exhaust valve at the set-point", "plant") \
  P(product_offset, 500.0f, "Pa", -5000.0f, 5000.0f, "by which the product header stands above the exhaust header", \
    "design: a leak loses oxygen and does not foul it")                                                     \
  P(product_gain, 3e-5f, "1/Pa", 0.0f, 1.0f, "pressure of the product header to opening", "SIMC, as the exhaust") \
  P(product_time, 15.0f, "s", 0.1f, 1e4f, "integral time of that loop", "SIMC, as the exhaust")             \
  P(product_capacity, 2e-3f, "kg/s", 1e-7f, 10.0f, "flow of the open product valve at the set-point", "plant") \
  P(valve_rangeability, 0.0f, "1", 0.0f, 200.0f,                                                            \
    "of the valves of the headers, equal percentage; 0: linear", "plant")                         \
  P(across_band, 4000.0f, "Pa", 100.0f, 20000.0f, "difference between the headers that the set-points allow", "design: within 5 kPa") \
  P(across_max, 10000.0f, "Pa", 100.0f, 100000.0f, "difference between the headers at which the interlock acts", \
    "common practice with planar seals")                                                                    \
  P(vent_across, 5000.0f, "Pa", 100.0f, 100000.0f, "product header above the exhaust header, its valve open, from which it goes to the vent", \
    "design: half of the trip")                                                                             \
  P(vent_time, 2.0f, "s", 0.0f, 600.0f, "for so long", "design: shorter than the way from there to the trip")                                                                             \
  /* sharing */                                                                                             \
  P(module_oxygen, 1.6e-4f, "kg/s", 1e-9f, 1.0f, "largest oxygen of a module", "0.58 kg/h, 15 % above its share") \
  P(module_turndown, 0.3f, "1", 0.0f, 1.0f, "least share of that while it produces", "turndown to 30 %")    \
  P(margin_full, 0.06f, "V", 1e-3f, 1.0f, "coke margin from which a module counts fully", "design")         \
  P(margin_weight, 0.4f, "1", 0.0f, 1.0f, "weight of a module with no margin", "design")                    \
  P(age_resistance, 6e-5f, "ohm m2", 1e-7f, 1.0f, "added resistance that halves the weight of a module", "end of life of a stack, estimate") \
  P(weight_time, 600.0f, "s", 1.0f, 1e6f, "time constant of the weights", "design: slower than the loops of a module") \
  P(share_rate, 1e-6f, "kg/s2", 1e-12f, 1.0f, "largest rate of change of a share", "design: 160 s for all of it") \
  P(demand_fall, 2e-6f, "kg/s2", 1e-12f, 1.0f, "largest rate of fall of the demand that is shared", \
    "design: 100 to 30 % in 5 min; the speed cannot follow faster without surge")                           \
  P(capacity_recovery, 1800.0f, "s", 1.0f, 1e6f, "time in which a module that was limited is trusted again with all", "design") \
  P(module_dwell, 900.0f, "s", 0.0f, 1e6f, "shortest time between starts and stops of production of a module", "design") \
  P(spare_delay, 300.0f, "s", 0.0f, 1e6f, "demand not met for so long brings the spare in", "design")       \
  P(release_temperature, 320.0f, "K", 250.0f, 1300.0f, "stack temperature below which a module may be worked on", "design: no burn") \
  /* power */                                                                                               \
  P(bus_min, 90.0f, "V", 0.0f, 400.0f, "bus voltage at which the interlock acts", "120 V less a quarter")   \
  P(ceiling_headroom, 300.0f, "W", 0.0f, 1e5f, "kept below a power ceiling", "1 % of the meter at 30 kW")   \
  P(load_filter, 30.0f, "s", 0.1f, 1e4f, "time constant of the load that is not of the modules", "design")  \
  P(oxygen_energy, 1.79e7f, "J/kg", 1e5f, 1e9f, "electric energy of the cells per oxygen", "4F/M 1.3 V over a converter of 0.92") \
  P(liquefier_energy, 5.4e6f, "J/kg", 0.0f, 1e9f, "electric energy of the liquefier per oxygen", "estimate: 1.5 kWh/kg") \
  P(compressor_shed, 0.1f, "1", 0.0f, 0.5f, "share by which the header pressure may fall to save power", "design") \
  P(protective_oxygen, 1e-5f, "kg/s", 0.0f, 1.0f, "oxygen of the protective current of a module", "plant")   \
  P(warm_up_power, 3000.0f, "W", 0.0f, 1e6f, "power of the heaters of a module that warms up", "plant, estimate") \
  P(shelve_max, 28800.0f, "s", 60.0f, 86400.0f, "longest time for which an alarm may be shelved", "a shift of 8 h")
/* clang-format on */

#define CTL_PLANT_MAP_ROWS 8
/* Default map of the compressor, rising in all columns: X(speed over map_speed, flow at surge [kg/s], pressure ratio there),
 * at the suction of the map. Source: the train of nine geared stages of 250 m/s, worked out stage by stage. */
#define CTL_PLANT_MAP_LIST(X) \
  X(0.50f, 2.01e-3f, 1.001f)  \
  X(0.70f, 2.81e-3f, 1.002f)  \
  X(0.80f, 3.21e-3f, 1.03f)   \
  X(0.85f, 3.42e-3f, 1.1f)    \
  X(0.90f, 3.62e-3f, 6.1f)    \
  X(0.95f, 3.82e-3f, 86.2f)   \
  X(1.00f, 4.65e-3f, 140.2f)  \
  X(1.05f, 6.27e-3f, 189.8f)

#endif
