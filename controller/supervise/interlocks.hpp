/// Reasons: what stands against a mode, and what moves the plant to safe.
///
/// What it is   from measurements and estimates to reason bits; modes.hpp says which bit matters where
/// Equation     threshold comparisons; a zone rate is (T - T_filtered)/60 s
/// Symbols      bits of CTL_CONDITION_LIST
/// Validity     a lost measurement raises "sensor lost" alone (a lost feed flow also "no flow")
/// Source       limits of controller_parameters.h
/// Left out     votes between sensors; hardware trips outside software
#pragma once

#include "controller/estimate/coke.hpp"
#include "controller/estimate/filters.hpp"

namespace duskline::controller {

#define CTL_COUNT_CONDITION(identifier, bit, word, meaning) +1u
inline constexpr uint32_t kConditions = CTL_CONDITION_LIST(CTL_COUNT_CONDITION);
#undef CTL_COUNT_CONDITION
#define CTL_JOIN_CONDITION(identifier, bit, word, meaning) | (1u << bit)
static_assert((0u CTL_CONDITION_LIST(CTL_JOIN_CONDITION)) == (uint64_t{1} << kConditions) - 1u &&
                  kConditions <= 32,
              "the bits of CTL_CONDITION_LIST count up from 0 and fit a word");
#undef CTL_JOIN_CONDITION

struct Thermal {
  float zone[CTL_ZONES];         // K, a lost zone has the mean of the others
  float mean, coldest, hottest;  // K over the zones
  float hottest_part;            // K over zones and end plates that are measured; very hot when none is
  uint32_t fast_zones;           // how many change faster than ramp_trip
};

constexpr float kRateWindow = 60.0f;  // s

struct ThermalMemory {
  float slow[CTL_ZONES];
  uint32_t seen;  // 1 once the filters have started
};

inline Thermal estimate_thermal(ThermalMemory& m, const ctl_params& p, const Signals& y) {
  Thermal t{};
  float sum = 0.0f;
  uint32_t count = 0;
  t.hottest_part = -1.0f;
  for (uint32_t k = 0; k < CTL_ZONES; ++k) {
    if (!y.has(in_zone_temperature + k)) continue;
    sum += y[in_zone_temperature + k];
    ++count;
  }
  const float others = count > 0 ? sum / static_cast<float>(count) : 250.0f;
  for (uint32_t k = 0; k < CTL_ZONES; ++k) {
    const bool measured = y.has(in_zone_temperature + k);
    t.zone[k] = measured ? y[in_zone_temperature + k] : others;
    t.mean += t.zone[k] / static_cast<float>(CTL_ZONES);
    t.coldest = k == 0 ? t.zone[k] : min_of(t.coldest, t.zone[k]);
    t.hottest = k == 0 ? t.zone[k] : max_of(t.hottest, t.zone[k]);
    if (measured) t.hottest_part = max_of(t.hottest_part, t.zone[k]);
    if (m.seen == 0) m.slow[k] = t.zone[k];
    if (abs_of(t.zone[k] - m.slow[k]) > p.ramp_trip * kRateWindow) ++t.fast_zones;
    m.slow[k] = low_pass(m.slow[k], t.zone[k], p.period, kRateWindow);
  }
  for (uint32_t k = 0; k < CTL_ENDS; ++k)
    if (y.has(in_end_temperature + k)) t.hottest_part = max_of(t.hottest_part, y[in_end_temperature + k]);
  if (t.hottest_part < 0.0f) t.hottest_part = 2000.0f;
  if (count > 0) m.seen = 1;
  return t;
}

/// Groups of measurements that modes need.
inline bool heat_sensors(const Signals& y) {
  return lost_among(y, in_end_temperature, CTL_ENDS) == 0 &&
         lost_among(y, in_zone_temperature, CTL_ZONES) <= 1;
}
inline bool current_sensors(const Signals& y) {
  return y.has(in_stack_current) && y.has(in_feed_flow) && y.has(in_cathode_pressure) &&
         y.has(in_anode_pressure) && lost_among(y, in_cell_voltage, CTL_CELLS) <= 1;
}

struct Facts {
  const ctl_params& params;
  const Signals& signals;
  const Thermal& thermal;
  const Gas& gas;
  const Coke& coke;
  float feed_flow;                       // kg/s, filtered
  float applied_current;                 // A at the last tick
  uint32_t response = CTL_RESPOND_NONE;  // ctl_response that the diagnoses ask for
  bool margin_waits = false;             // one cell alone is short: the override has the current down first
};

/// All reasons that do not depend on the mode. Sensor lost and stack cold do: see below.
inline uint32_t observed_conditions(const Facts& f) {
  const ctl_params& p = f.params;
  const Signals& y = f.signals;
  const auto above = [&y](uint32_t input, float limit) { return y.has(input) && y[input] > limit; };
  uint32_t r = 0;
  const auto raise = [&r](bool condition, uint32_t reason) { r |= condition ? reason : 0u; };

  raise(f.thermal.hottest - f.thermal.coldest > p.spread_max, CTL_STACK_UNEVEN);
  raise(!y.has(in_feed_flow) || f.feed_flow < p.flow_min, CTL_NO_FLOW);
  raise(f.gas.inlet_co < p.protection_factor * nickel_limit(f.thermal.hottest) * f.gas.inlet_co2,
        CTL_NO_PROTECTION);
  raise(f.applied_current > 0.0f && f.coke.margin < p.margin_trip && !f.margin_waits, CTL_MARGIN_LOST);

  raise(above(in_cathode_pressure, p.cathode_pressure_max), CTL_OVER_PRESSURE);
  raise(y.has(in_cathode_pressure) && y.has(in_anode_pressure) &&
            abs_of(y[in_cathode_pressure] - y[in_anode_pressure]) > p.pressure_difference_max,
        CTL_OVER_PRESSURE);

  for (uint32_t k = 0; k < CTL_ZONES; ++k)
    raise(above(in_zone_temperature + k, p.zone_max), CTL_OVER_TEMPERATURE);
  for (uint32_t k = 0; k < CTL_ENDS; ++k)
    raise(above(in_end_temperature + k, p.end_max), CTL_OVER_TEMPERATURE);
  raise(above(in_preheater_temperature, p.preheater_max), CTL_OVER_TEMPERATURE);
  raise(above(in_compressor_temperature, p.compressor_max), CTL_OVER_TEMPERATURE);

  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    raise(above(in_cell_voltage + k, p.voltage_trip), CTL_OVER_VOLTAGE);
  raise(y.has(in_bus_voltage) && y[in_bus_voltage] < p.bus_min, CTL_BUS_LOW);
  raise(f.thermal.fast_zones >= 2, CTL_RAMP_HIGH);
  raise(f.thermal.hottest_part > p.off_temperature, CTL_STACK_HOT);
  raise(f.response >= CTL_RESPOND_TRIP, CTL_FAULT_FOUND);
  return r;
}

/// Reasons as they stand against one mode.
inline uint32_t reasons_for(const Facts& f, uint32_t observed, ctl_mode mode) {
  const ctl_params& p = f.params;
  const bool carries_current = mode == CTL_STANDBY || mode == CTL_PRODUCTION;
  uint32_t r = observed;
  if (!heat_sensors(f.signals) || (carries_current && !current_sensors(f.signals))) r |= CTL_SENSOR_LOST;
  if (mode == CTL_PRODUCTION && f.response >= CTL_RESPOND_STANDBY) r |= CTL_FAULT_FOUND;
  if (carries_current && f.thermal.coldest < p.stack_setpoint - p.standby_band) r |= CTL_STACK_COLD;
  return r;
}

}  // namespace duskline::controller
