/* Every parameter of the controller: P(name, default, unit, lower, upper, meaning, source).
 *
 * Defaults suit the demo plant "bench". Source words: design: a choice of ours; plant: size of the demo
 * plant; estimate: a plausible value without a measurement behind it; SIMC: Skogestad 2003 on the model
 * named.
 */
#ifndef DUSKLINE_CONTROLLER_PARAMETERS_H
#define DUSKLINE_CONTROLLER_PARAMETERS_H

/* clang-format off */
#define CTL_PARAMETER_LIST(P)                                                                               \
  /* time and measurements */                                                                               \
  P(period, 1.0f, "s", 0.01f, 10.0f, "control period", "design")                                            \
  P(sensor_hold, 3.0f, "s", 0.0f, 60.0f, "a missing measurement keeps its last value this long", "design")  \
  P(interlock_ticks, 1.0f, "1", 1.0f, 20.0f, "ticks in a row before an interlock acts", "design")           \
  P(flow_filter, 3.0f, "s", 0.0f, 60.0f, "time constant of the filter on the feed flow", "design")          \
  /* gas path */                                                                                            \
  P(air_molar_mass, 0.04335f, "kg/mol", 0.02f, 0.06f, "molar mass of the air", "mean of the atmosphere")    \
  P(air_co2_fraction, 0.951f, "1", 0.5f, 1.0f, "mole fraction of CO2 in the air", "mean of the atmosphere") \
  P(compressor_displacement, 2.1e-5f, "m3", 1e-6f, 1.0f, "swept volume per revolution", "plant")            \
  P(volumetric_efficiency, 0.85f, "1", 0.1f, 1.2f, "volumetric efficiency for the feed-forward", "estimate")   \
  P(plenum_volume, 5e-4f, "m3", 1e-5f, 10.0f, "volume between compressor and cathode", "plant")             \
  P(plenum_lag, 35.0f, "s", 1.0f, 600.0f, "time constant from speed to feed flow",                          \
    "p V/(R T n) of the plant")                                                                             \
  P(recycle_aperture, 2e-8f, "m2", 0.0f, 1e-3f, "effective area of the open recycle valve", "plant")        \
  P(recycle_temperature, 320.0f, "K", 150.0f, 600.0f, "gas temperature at the recycle valve", "estimate")   \
  P(recycle_learning, 0.05f, "1/s", 0.0f, 1.0f,                                                             \
    "rate at which the gas analyser corrects the recycle share", "design")                                  \
  P(analyser_lag, 20.0f, "s", 0.0f, 300.0f, "time constant of the exhaust gas analyser", "estimate")        \
  /* estimation of the gas path */                                                                          \
  P(density_process_noise, 1.2e-2f, "1", 1e-6f, 1.0f, "random change of ln density in a minute", "closed-loop runs: turbulence") \
  P(density_rate_process_noise, 6e-5f, "s-1", 1e-9f, 1e-2f, "random change of the rate of ln density in an hour",           \
    "a third within two hours at dawn and dusk")                                                            \
  P(ambient_noise, 4e-3f, "1", 1e-5f, 0.1f, "scatter of ln density from the weather station",               \
    "closed-loop runs")                                                                                     \
  P(ambient_class, 0.008f, "1", 0.0f, 1.0f, "class error of the weather station's density, two deviations",  \
    "instrument: 5 Pa of 700 Pa, 0.3 % and 0.3 K")                                                          \
  P(machine_noise, 3e-3f, "1", 1e-5f, 0.1f, "scatter of ln density from the compressor beside plenum_noise", \
    "closed-loop runs")                                                                                     \
  P(plenum_noise, 10.0f, "Pa", 0.0f, 1000.0f, "scatter of the plenum pressure", "instrument")               \
  P(efficiency_process_noise, 2.5e-3f, "1", 0.0f, 1.0f, "random change of ln of the compressor's efficiency in an hour",     \
    "estimate: 1 % of unmodelled change within a sol")                                                      \
  P(compressor_swept, 0.97f, "1", 0.1f, 1.2f, "volumetric efficiency of a new machine without its leak",    \
    "plant")                                                                                                \
  P(compressor_leakage, 1.2e-14f, "mol s-1 Pa-2", 0.0f, 1e-11f,                                             \
    "flow back through the machine per squared plenum pressure", "plant, estimate")                         \
  P(suction_heating, 0.15f, "1", 0.0f, 1.0f, "share of the approach to the shell temperature before the gas is swept", \
    "estimate")                                                                                             \
  P(filter_resistance, 9.9e4f, "Pa s mol-1", 1.0f, 1e8f, "of the clean filter at 700 Pa and 240 K",         \
    "plant: 35 Pa at 0.35 mmol/s")                                                                          \
  P(filter_slip, 0.96f, "1", 0.0f, 1.0f, "share of slip in the drag of its fibres there",                   \
    "Kirsch, Stechkina and Fuchs 1973 at a Knudsen number of 14")                                           \
  P(bearing_tone, 0.5f, "m/s2", 1e-3f, 100.0f, "tone of a new bearing at 300 rad/s", "plant, estimate")     \
  P(health_time, 600.0f, "s", 1.0f, 1e6f, "time constant of filter loading and bearing wear", "design")     \
  /* cell */                                                                                                \
  P(cells_per_tap, 1.0f, "1", 1.0f, 100.0f, "cells in series between two voltage taps; a reading is their mean", \
    "plant")                                                                                                \
  P(cell_area, 2.5e-3f, "m2", 1e-5f, 1.0f, "active area of a cell", "plant")                                \
  P(faraday_efficiency, 0.999f, "1", 0.5f, 1.0f, "share of the current that makes oxygen",                  \
    "scandia-doped zirconia: hardly any electronic conduction at these potentials (estimate)")              \
  P(electrolyte_resistance, 1.25e-5f, "ohm m2", 0.0f, 1e-3f, "of the electrolyte at 1073.15 K",             \
    "150 um at 12 S/m")                                                                                     \
  P(electrolyte_energy, 75000.0f, "J/mol", 0.0f, 200000.0f, "activation energy of its conductivity",        \
    "scandia-doped zirconia, 59-79 kJ/mol (Kaneko 1993)")                                                   \
  P(contact_resistance, 5e-6f, "ohm m2", 0.0f, 1e-3f, "of contacts and interconnect", "estimate")           \
  P(cathode_exchange, 2000.0f, "A/m2", 10.0f, 1e5f,                                                         \
    "cathode exchange current density at 1073.15 K, 0.5 bar CO2", "estimate")                               \
  P(cathode_energy, 120000.0f, "J/mol", 0.0f, 250000.0f, "its activation energy", "estimate")               \
  P(anode_exchange, 2500.0f, "A/m2", 10.0f, 1e5f, "anode exchange current density at 1073.15 K, 1 bar O2",  \
    "estimate")                                                                                             \
  P(anode_energy, 137000.0f, "J/mol", 0.0f, 250000.0f, "its activation energy", "Aguiar 2004")              \
  P(electrode_diffusion, 2.5e-6f, "m2/A", 0.0f, 1e-3f,                                                      \
    "rise of the CO fraction at the electrode per current density",                                         \
    "RTL/(2F D p): 60 um at 0.11 cm2/s and 1 bar")                                                          \
  P(channel_mixing, 0.083f, "1", 0.0f, 0.5f,                                                                \
    "length over which the gas of a channel mixes, half of it, over the channel's",                         \
    "estimate: a channel as six mixed parts")                                                               \
  P(product_oxygen, 0.98f, "1", 0.1f, 1.0f, "O2 fraction of the product when it is not measured", "design") \
  P(mean_resistance_prior, 0.0f, "ohm m2", 0.0f, 1e-3f, "mean added resistance to begin with",                     \
    "new cells; behind headers: the least that the hours of the module have added")               \
  P(mean_resistance_prior_sigma, 4e-6f, "ohm m2", 1e-8f, 1e-3f, "prior deviation of the mean added resistance",        \
    "20 % of the cell's own")                                                                               \
  P(cathode_prior_sigma, 0.3f, "1", 0.0f, 2.0f, "prior deviation of ln of the exchange current of the cathode", \
    "plant file: 0.12 to 0.35 A/cm2, evenly")                                                               \
  P(anode_prior_sigma, 0.2f, "1", 0.0f, 2.0f, "the same of the anode", "plant file: 0.2 to 0.4 A/cm2, evenly") \
  P(diffusion_prior_sigma, 1.2e-5f, "m2/A", 0.0f, 1e-3f, "prior deviation of electrode_diffusion",          \
    "plant file: 30 to 300 um, 0.03 to 0.15 cm2/s, by equal factors")                                       \
  P(point_sigma, 0.0015f, "V", 0.0f, 0.1f, "what the model of the mean cell voltage misses at a working point", \
    "estimate: gradients along a cell, lags, leaks")                                                        \
  P(resistance_prior_sigma, 1e-6f, "ohm m2", 1e-9f, 1e-3f, "prior deviation of a cell's added resistance from the mean", \
    "estimate: spread of a small batch, 5 %")                                                               \
  P(resistance_process_noise, 3e-7f, "ohm m2", 0.0f, 1e-3f, "random change of an added resistance in a day",                \
    "estimate: what the model misses over a sol")                                                           \
  P(growth_prior_sigma, 1e-12f, "ohm m2/s", 1e-16f, 1e-6f, "prior deviation of the growth of the mean",           \
    "twice 15 mohm cm2 in 1000 h")                                                                          \
  P(growth_process_noise, 1e-13f, "ohm m2/s", 0.0f, 1e-6f, "random change of that growth in a day", "estimate")             \
  P(flow_prior_sigma, 0.08f, "1", 1e-4f, 0.5f, "prior deviation of ln of a cell's share of the flow",            \
    "plant file: 0.85 to 1.15, evenly")                                                                 \
  P(flow_process_noise, 0.005f, "1", 0.0f, 1.0f, "random change of it in a day", "estimate")                                \
  P(offset_prior_sigma, 0.0025f, "V", 1e-5f, 0.1f, "prior deviation of the voltage offset of a cell",            \
    "1.6 K of its thermocouple at 1.5 mV/K, and its tap")                                                   \
  P(offset_process_noise, 2e-4f, "V", 0.0f, 0.1f, "random change of it in a day", "estimate")                               \
  P(residual_noise, 3e-4f, "V", 1e-6f, 0.1f, "scatter of a cell voltage averaged over a minute",            \
    "closed-loop runs")                                                                                     \
  P(zone_sigma, 1.6f, "K", 0.0f, 50.0f, "standard deviation of a zone temperature",                         \
    "IEC 60584-1 class 1 at 800 degC taken as two")                                                         \
  P(flow_class, 0.01f, "1", 0.0f, 1.0f, "class error of the feed flow, two deviations", "instrument")       \
  P(flow_zero, 6e-8f, "kg/s", 0.0f, 1e-3f, "zero error of the feed flow, two deviations", "instrument")     \
  P(analyser_class, 0.02f, "1", 0.0f, 1.0f, "class error of the CO analyser, two deviations", "instrument") \
  P(analyser_zero, 0.01f, "1", 0.0f, 1.0f, "zero error of the CO analyser, two deviations", "instrument")   \
  P(split_sigma, 0.58f, "1", 0.0f, 1.0f, "deviation of that share for what a single cell has beyond the others", \
    "root mean square of 0 to 1 about 1")                                                                        \
  P(onset_sigma, 0.002f, "V", 0.0f, 0.1f, "what the model of the onset may be wrong by otherwise", "estimate") \
  P(consistency_memory, 200.0f, "1", 10.0f, 1e6f, "innovations over which the consistency is taken", "design") \
  P(resistance_share, 1.0f, "1", 0.0f, 1.0f, "share of added resistance that lies outside the cathode",      \
    "the cathode has an exchange current of its own")                                                       \
  P(resistance_max, 5e-5f, "ohm m2", 0.0f, 1e-3f, "largest identified resistance", "design")               \
  /* current */                                                                                             \
  P(current_max, 6.0f, "A", 0.0f, 1e4f, "largest stack current", "plant")                                 \
  P(protective_current, 0.5f, "A", 0.0f, 1000.0f, "stack current that makes the protecting CO",               \
    "12 % of nominal")                                                                                      \
  P(priming_current, 0.005f, "A", 0.0f, 100.0f, "stack current while the flow has begun but is not measured", \
    "half of the first flow")                                                                               \
  P(priming_time, 20.0f, "s", 0.0f, 600.0f, "longest time of that", "design")                               \
  P(protective_utilisation, 0.45f, "1", 0.01f, 0.95f, "largest utilisation outside production", "design")   \
  P(current_rate_up, 0.02f, "A/s", 1e-4f, 1000.0f, "fastest rise of the current", "design")                   \
  P(current_rate_down, 0.5f, "A/s", 1e-3f, 1000.0f, "fastest fall of the current outside trips", "design")    \
  P(current_step, 0.01f, "A", 0.0f, 100.0f, "smallest change of the current that an override makes",          \
    "design: noise of 0.5 W or 0.5 mV asks for less")                                                       \
  P(margin_setpoint, 0.030f, "V", 0.0f, 0.5f, "coke margin that the current override keeps", "design")      \
  P(margin_sigmas, 3.0f, "1", 0.0f, 10.0f,                                                                  \
    "the same in standard deviations of the coke margin: the larger counts", "design")                \
  P(margin_min, 0.025f, "V", 0.0f, 0.5f, "lowest value under the adaptive law", "design: margin_trip and a gust of 15 mV") \
  P(margin_max, 0.060f, "V", 0.0f, 0.5f, "highest value of both", "design: deviation of 20 mV")                              \
  P(margin_reserve, 0.012f, "V", 0.0f, 0.5f,                                                                \
    "above that the adaptive law lets the utilisation rise, below it fall", "design: a gust takes 5 mV")    \
  P(margin_trip, 0.010f, "V", -0.5f, 0.5f, "coke margin at which the interlock acts", "design")             \
  P(margin_gain, 8.0f, "A/V", 0.0f, 1000.0f, "gain of the coke-margin override", "SIMC, 0.025 V/A, 15 s")   \
  P(margin_time, 3.0f, "s", 0.1f, 1000.0f, "integral time of the coke-margin override", "SIMC")             \
  P(voltage_max, 1.35f, "V", 0.5f, 2.0f, "cell voltage that the voltage override keeps", "design")         \
  P(voltage_trip, 1.50f, "V", 0.5f, 2.5f, "cell voltage at which the interlock acts", "design")             \
  P(voltage_gain, 8.0f, "A/V", 0.0f, 1000.0f, "gain of the voltage override", "SIMC, 0.025 V/A, 15 s")      \
  P(voltage_time, 3.0f, "s", 0.1f, 1000.0f, "integral time of the voltage override", "SIMC")                \
  P(power_gain, 0.012f, "A/W", 0.0f, 100.0f, "gain of the power override", "SIMC, 10 W/A, 17 s")                  \
  P(power_time, 2.0f, "s", 0.1f, 1000.0f, "integral time of the power override", "SIMC")                    \
  /* utilisation and flow */                                                                                \
  P(utilisation_setpoint, 0.65f, "1", 0.05f, 0.95f, "utilisation when margin is ample", "design")           \
  P(utilisation_min, 0.35f, "1", 0.05f, 0.95f, "lowest set-point that a short margin brings", "design")   \
  P(utilisation_max, 0.82f, "1", 0.05f, 0.98f, "largest utilisation of the measured feed", "design")       \
  P(relief_margin, 0.050f, "V", 0.0f, 0.5f, "below this margin the utilisation set-point falls", "design")  \
  P(relief_slope, 3.0f, "1/V", 0.0f, 100.0f, "fall of the set-point per volt of missing margin", "design")  \
  P(relief_time, 30.0f, "s", 0.0f, 3600.0f, "time constant of that fall", "design")                         \
  P(relief_gain, 0.05f, "1/V/s", 0.0f, 10.0f,                                                               \
    "integral gain from coke margin to utilisation set-point under the adaptive law",                      \
    "SIMC, 0.24 V, lag 15 s, delay 5 s, 60 s")                                                              \
  P(saving_rate, 1e-4f, "1/s", 0.0f, 1.0f, "fastest rise of that set-point", "design: 0.05 in 8 min")       \
  P(utilisation_saving, 0.74f, "1", 0.05f, 0.95f, "highest set-point that an ample margin brings",          \
    "design: 4.2 % less energy than 0.70 at the rated rate, where the margin is what holds")                                                                            \
  P(flow_protective, 8e-6f, "kg/s", 0.0f, 1e-1f, "feed flow outside production", "half of nominal")         \
  P(safe_flow_time, 10.0f, "s", 0.0f, 1e6f, "flow without current goes on this long in safe, then it stops",                \
    "trip_dwell: there if a current may follow")                                                              \
  P(trip_dwell, 10.0f, "s", 0.0f, 3600.0f, "without any current in safe before a protective one may flow", "design") \
  P(flow_min, 1e-7f, "kg/s", 1e-8f, 1e-1f, "least feed flow for current", "above the zero error")         \
  P(flow_start, 4e-7f, "kg/s", 1e-8f, 1e-1f, "feed flow until the inlet holds the protecting CO",           \
    "design: renews a plenum at ambient pressure in 15 s")                                                  \
  P(flow_rate, 1e-7f, "kg/s2", 1e-10f, 1e-3f, "fastest rise of the feed flow set-point", "design")          \
  P(flow_max, 3e-5f, "kg/s", 1e-6f, 1e-1f, "largest feed flow set-point", "twice nominal")                 \
  P(flow_response, 15.0f, "s", 1.0f, 600.0f, "wanted time constant of the feed flow", "design")             \
  P(flow_gain, 1.7f, "1", 0.0f, 100.0f, "gain of the flow loop, flow per flow",                             \
    "SIMC, lag 35 s, delay 5 s")                                                                            \
  P(flow_integral_time, 35.0f, "s", 0.1f, 1000.0f, "integral time of the flow loop", "SIMC")                         \
  P(speed_min, 20.0f, "rad/s", 0.0f, 1e4f, "lowest running speed of the compressor", "plant")           \
  P(speed_step, 1.0f, "rad/s", 0.0f, 50.0f, "smallest change of the speed command",                         \
    "design: two standard deviations of what sensor noise asks for")                                        \
  P(speed_max, 600.0f, "rad/s", 0.0f, 1e4f, "highest speed of the compressor", "plant")                  \
  P(speed_rate, 20.0f, "rad/s2", 0.1f, 1000.0f, "fastest change of the speed command", "plant")             \
  P(valve_capacity, 1.1f, "m3/h", 1e-4f, 1e4f, "K_v of the open feed valve, where there is one", "plant")   \
  P(valve_rangeability, 50.0f, "1", 1.5f, 200.0f, "of the equal percentage of the feed valve", "plant")     \
  P(valve_choke, 0.70f, "1", 0.1f, 1.0f, "pressure ratio factor x_T of the feed valve", "plant")            \
  P(valve_min, 0.1f, "1", 0.0f, 1.0f, "smallest opening of the feed valve with flow", "design: above its seat") \
  P(valve_max, 1.0f, "1", 0.0f, 1.0f, "largest opening of the feed valve", "plant")                         \
  P(valve_rate, 0.1f, "1/s", 1e-3f, 10.0f, "fastest change of the opening of the feed valve",               \
    "design: half as fast as its motor")                                                                    \
  P(valve_step, 0.002f, "1", 0.0f, 0.5f, "smallest change of that opening", "design: spares the valve")     \
  /* nickel protection */                                                                                   \
  P(recycle_opening, 0.30f, "1", 0.0f, 1.0f, "opening of the recycle valve under the fixed law", "design")  \
  P(recycle_min, 0.05f, "1", 0.0f, 1.0f, "smallest opening with flow", "design")                          \
  P(recycle_max, 1.0f, "1", 0.0f, 1.0f, "largest opening", "design")                                       \
  P(recycle_step, 0.01f, "1", 0.0f, 0.5f, "smallest change of the opening", "design: spares the valve")     \
  P(inlet_co_setpoint, 0.05f, "1", 0.0f, 0.5f, "mole fraction of CO wanted at the inlet",                   \
    "five times the nickel limit")                                                                          \
  P(recycle_gain, 2.0f, "1", 0.0f, 100.0f, "gain of the inlet CO loop, opening per mole fraction",          \
    "SIMC, 0.17, 35 s")                                                                                     \
  P(recycle_time, 60.0f, "s", 1.0f, 10000.0f, "integral time of the inlet CO loop", "SIMC")                 \
  P(protection_factor, 2.0f, "1", 0.0f, 20.0f,                                                              \
    "inlet CO/CO2 over the nickel limit that counts as protection", "design")                               \
  /* temperature */                                                                                         \
  P(stack_setpoint, 1073.15f, "K", 900.0f, 1250.0f, "stack temperature in standby and production",          \
    "design")                                                                                               \
  P(ramp, 4.0f / 60, "K/s", 0.1f / 60, 0.5f, "fastest change of the temperature set-point", "design: 4 K/min") \
  P(ramp_trip, 10.0f / 60, "K/s", 0.5f / 60, 100.0f / 60, "zone rate of change that is too fast", "design: 10 K/min") \
  P(ramp_lead, 15.0f, "K", 1.0f, 200.0f, "lead of the set-point over the stack that holds the ramp",        \
    "design")                                                                                               \
  P(spread_hold, 40.0f, "K", 1.0f, 500.0f, "spread between zones that holds the ramp", "design")            \
  P(spread_max, 60.0f, "K", 1.0f, 500.0f, "spread between zones that refuses current service", "design")   \
  P(protection_temperature, 933.15f, "K", 300.0f, 1200.0f,                                                  \
    "coldest zone above which protective flow and current begin", "660 degC: coke lies further off than below") \
  P(protection_end, 858.15f, "K", 300.0f, 1200.0f, "hottest zone below which they end",                     \
    "585 degC: below the 600 degC at which nickel begins to oxidise within hours")                          \
  P(current_temperature, 993.15f, "K", 700.0f, 1200.0f, "coldest zone that may carry more than that",       \
    "720 degC")                                                                                             \
  P(standby_band, 25.0f, "K", 1.0f, 200.0f, "coldest zone below the set-point that still counts as warm",   \
    "design")                                                                                               \
  P(off_temperature, 473.15f, "K", 200.0f, 700.0f, "hottest part that may be left alone",                   \
    "nickel in air, 200 degC")                                                                              \
  P(zone_max, 1148.15f, "K", 500.0f, 1400.0f, "zone temperature at which the interlock acts", "design")    \
  P(end_max, 1198.15f, "K", 500.0f, 1400.0f, "end-plate temperature at which the interlock acts",          \
    "design")                                                                                               \
  P(preheater_max, 1223.15f, "K", 500.0f, 1450.0f, "preheater temperature at which the interlock acts",    \
    "design")                                                                                               \
  P(compressor_max, 420.0f, "K", 250.0f, 600.0f, "shell temperature at which the interlock acts",          \
    "estimate")                                                                                             \
  P(heat_loss, 0.085f, "W/K", 0.0f, 100.0f, "loss of the hot part, for the feed-forward",                   \
    "65 W at 800 degC")                                                                                     \
  P(heat_capacity, 1300.0f, "J/K", 0.0f, 1e6f, "heat capacity of the hot part, for the feed-forward",       \
    "plant")                                                                                                \
  P(stack_gain, 0.6f, "1", 0.0f, 100.0f, "gain from stack to end-plate temperature",                        \
    "SIMC, lag 150 s, delay 60 s")                                                                          \
  P(stack_time, 300.0f, "s", 1.0f, 1e5f, "integral time of that loop", "SIMC")                              \
  P(stack_trim, 40.0f, "K", 0.0f, 200.0f, "largest difference it asks between end plates and stack",        \
    "design")                                                                                               \
  P(end_gain, 3.0f, "W/K", 0.0f, 1000.0f, "gain of the end-plate loops", "SIMC, 200 J/K, delay 10 s")       \
  P(end_time, 240.0f, "s", 1.0f, 1e5f, "integral time of the end-plate loops", "SIMC")                      \
  P(preheater_gain, 1.2f, "W/K", 0.0f, 1000.0f, "gain of the preheater loop", "SIMC, 50 J/K, delay 10 s")   \
  P(preheater_time, 160.0f, "s", 1.0f, 1e5f, "integral time of the preheater loop", "SIMC")                 \
  P(end_power_max, 120.0f, "W", 0.0f, 1e6f, "largest power of an end-plate heater", "plant")             \
  P(preheater_power_max, 40.0f, "W", 0.0f, 1e6f, "largest power of the preheater", "plant")              \
  P(heater_total_max, 240.0f, "W", 0.0f, 1e6f, "largest power of all heaters together", "plant")         \
  /* what the parity relations need of the plant */                                                         \
  P(compressor_volume_ratio, 18.0f, "1", 1.5f, 100.0f, "built-in volume ratio", "plant")                    \
  P(friction_torque, 0.09f, "N m", 0.0f, 10.0f, "friction of new bearings", "plant")                        \
  P(viscous_friction, 2.4e-4f, "N m s/rad", 0.0f, 1.0f, "friction that grows with the speed", "plant")      \
  P(motor_efficiency, 0.80f, "1", 0.1f, 1.0f, "motor and drive", "plant")                                   \
  P(tone_max, 4.0f, "1", 1.0f, 100.0f, "tone over that of a new bearing that counts as worn",              \
    "a third of the way to unacceptable")                                                                   \
  P(end_rise, 0.4f, "K/W", 0.0f, 100.0f, "of an end plate over its zone, per power of its heater", "plant: 1/(2.5 W/K)") \
  P(bus_nominal, 28.0f, "V", 1.0f, 1000.0f, "bus voltage", "plant")                                           \
  P(bus_sag, 2.0f, "V", 0.1f, 1000.0f, "fall of the bus voltage that is diagnosed", "design")                 \
  P(feed_conductance, 1.6e-12f, "mol/s/Pa2", 1e-15f, 1e-6f, "of the feed line, per difference of squares",  \
    "plant")                                                                                                \
  P(exhaust_aperture, 8.4e-8f, "m2", 1e-10f, 1e-3f, "effective area of the exhaust aperture", "plant")      \
  P(product_aperture, 6e-8f, "m2", 1e-10f, 1e-3f, "effective area of the product aperture", "plant")        \
  P(seal_leak, 2.3e-11f, "mol/s/Pa", 0.0f, 1e-6f, "leak of the seals from cathode to anode", "plant")       \
  P(stack_converter, 0.92f, "1", 0.1f, 1.0f, "efficiency of the converter of the stack", "plant")           \
  P(heater_converter, 0.98f, "1", 0.1f, 1.0f, "efficiency of the heater drives", "plant")                   \
  P(electronics_power, 18.0f, "W", 0.0f, 1e5f, "power of everything else", "plant")                       \
  /* detection and calibration */                                                                           \
  P(detection, 2.0f, "1", 0.0f, 2.0f, "0: none; 1: reported, not answered; 2: reported and answered", "design")     \
  P(commissioning, 0.0f, "s", 0.0f, 1e6f, "production in which constant differences between plant and model are learnt, once, on a plant in order", \
    "design; 0: the parameters describe this plant")                                                        \
  P(calibration, 1.0f, "1", 0.0f, 1.0f, "0: none; 1: corrections are found and applied", "design")          \
  P(link_timeout, 300.0f, "s", 1.0f, 1e6f, "no word from the operator for so long is a lost link", "design") \
  /* pressure and bus */                                                                                    \
  P(cathode_pressure_max, 90000.0f, "Pa", 1000.0f, 200000.0f,                                              \
    "cathode pressure at which the interlock acts", "design")                                               \
  P(pressure_difference_max, 70000.0f, "Pa", 100.0f, 200000.0f,                                            \
    "difference across the cells at which the interlock acts", "must allow flow without oxygen")            \
  P(bus_min, 22.0f, "V", 0.0f, 1000.0f, "bus voltage at which the interlock acts", "28 V less 6 V")                \
  /* derating: from where on less is made, so that the interlock need not act */                            \
  P(derate_share, 0.6f, "1", 0.0f, 1.0f,                                                                    \
    "share of the wanted current beyond the protective one that a diagnosis with response derate leaves", "design") \
  P(derate_margin, 0.020f, "V", 0.0f, 0.2f, "added to the margin set-points meanwhile, and while the model is suspect", "design")           \
  P(derate_recovery, 600.0f, "s", 1.0f, 1e5f, "time in which a current that was derated to nothing comes back", \
    "design: slower than the causes")                                                                       \
  P(shell_derate, 405.0f, "K", 250.0f, 600.0f, "shell temperature from which less is made", "15 K to the interlock") \
  P(cathode_derate, 80000.0f, "Pa", 1000.0f, 200000.0f, "cathode pressure from which less is made",         \
    "10 kPa to the interlock")                                                                              \
  P(spread_derate, 45.0f, "K", 1.0f, 500.0f, "spread between zones from which less is made",                \
    "15 K to where current service is refused")                                                             \
  P(bus_derate, 24.5f, "V", 0.0f, 1000.0f, "bus voltage from which down less is drawn", "2.5 V to the interlock") \
  /* supervision */                                                                                         \
  P(standby_min, 60.0f, "s", 0.0f, 1e5f, "shortest time in standby after production had to stop", "design") \
  P(dropouts_max, 3.0f, "1", 1.0f, 100.0f, "stops of production in dropout_window after which it waits for a new request", \
    "three trials")                                                                                         \
  P(dropout_window, 3600.0f, "s", 1.0f, 1e6f, "time without such a stop after which they are forgotten", "design") \
  P(restarts_max, 3.0f, "1", 1.0f, 100.0f, "restarts in restart_window after which the plant goes to safe", \
    "three trials")                                                                                         \
  P(restart_window, 3600.0f, "s", 1.0f, 1e6f, "time without a restart after which they are forgotten", "design") \
  P(ceiling_headroom, 2.0f, "W", 0.0f, 1e5f, "kept below a power ceiling", "error of the power meter")    \
  P(shed_rate, 4.0f, "A/s", 0.01f, 1000.0f, "fastest fall of the current under a power ceiling", "design: the load of the stack goes in a second") \
  P(shed_slope, 5.0f, "W/s", 0.01f, 1e4f, "slope at which power falls ahead of an announced ceiling", "design") \
  /* alarms */                                                                                              \
  P(shelve_max, 28800.0f, "s", 60.0f, 86400.0f, "longest time for which an alarm may be shelved", "a shift of 8 h")
/* clang-format on */

#endif
