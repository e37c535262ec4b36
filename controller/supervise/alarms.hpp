/// Alarms of the module: from what the controller knows to conditions with dead-bands.
///
/// What it is   the condition of each row of controller_alarms.h; what follows from it is in alarm_states.hpp
/// Symbols      quantities in the unit of CTL_ALARM_QUANTITY_LIST
/// Validity     any facts
#pragma once

#include "controller/supervise/alarm_states.hpp"
#include "controller/supervise/modes.hpp"

namespace duskline::controller {

inline constexpr AlarmRow kAlarms[CTL_ALARMS] = {CTL_ALARM_LIST(CTL_ALARM_ROW)};
static_assert(alarms_agree(kAlarms), "each priority follows from severity and time to respond");

using AlarmMemory = AlarmBank<CTL_ALARMS, CTL_ALARM_CAPACITY>;

/// What the conditions are judged by.
struct AlarmFacts {
  uint32_t mode, tripped, standing, diagnosed, unmet_permissives;
  uint64_t suspect;                      // bit of each measurement that is lost or not believed
  float quantity[CTL_ALARM_QUANTITIES];  // NaN: unknown, the condition stays as it was
};

constexpr uint64_t inputs_of(uint32_t group) {
  uint64_t mask = 0;
  const auto add = [&mask](uint32_t first, uint32_t count = 1) {
    for (uint32_t i = first; i < first + count; ++i) mask |= bit_of(i);
  };
  switch (group) {
    case CTL_GROUP_PRESSURES:
      add(in_plenum_pressure), add(in_cathode_pressure), add(in_anode_pressure);
      add(in_ambient_pressure), add(in_filter_differential_pressure);
      break;
    case CTL_GROUP_TEMPERATURES:
      add(in_ambient_temperature), add(in_plenum_temperature), add(in_compressor_temperature);
      add(in_preheater_temperature), add(in_housing_temperature);
      add(in_end_temperature, CTL_ENDS), add(in_zone_temperature, CTL_ZONES);
      break;
    case CTL_GROUP_FLOWS:
      add(in_feed_flow), add(in_product_flow), add(in_compressor_speed);
      break;
    case CTL_GROUP_ELECTRIC:
      add(in_stack_current), add(in_stack_voltage), add(in_cell_voltage, CTL_CELLS);
      add(in_bus_voltage), add(in_bus_power);
      break;
    default:
      add(in_outlet_co_fraction), add(in_product_oxygen_fraction), add(in_bearing_vibration);
  }
  return mask;
}

struct GroupMasks {
  uint64_t mask[CTL_ALARM_GROUPS];
};
constexpr GroupMasks group_masks() {
  GroupMasks g{};
  for (uint32_t k = 0; k < CTL_ALARM_GROUPS; ++k) g.mask[k] = inputs_of(k);
  return g;
}
inline constexpr GroupMasks kGroups = group_masks();

/// The condition at this tick, dead-band included; `before`: as it was.
constexpr bool alarm_condition(const AlarmRow& row, const AlarmFacts& f, bool before) {
  switch (row.source) {
    case CTL_FROM_TRIP:
      return (f.tripped & row.argument) != 0;
    case CTL_FROM_CONDITION:
      return (f.standing & row.argument) != 0;
    case CTL_FROM_DIAGNOSIS:
      return (f.diagnosed & row.argument) != 0;
    case CTL_FROM_REFUSAL:
      return (f.unmet_permissives & row.argument) != 0;
    case CTL_FROM_DOUBT:
      return (f.suspect & kGroups.mask[row.argument]) != 0;
    default:
      break;
  }
  const float x = f.quantity[row.argument];
  if (!is_finite(x)) return before;
  const bool above = row.source == CTL_FROM_ABOVE;
  const float beyond = above ? x - row.limit : row.limit - x;
  return beyond > (before ? -row.dead_band : 0.0f);
}

/// One tick of all alarms.
constexpr void run_alarms(AlarmMemory& m, const ctl_params& p, const AlarmFacts& f, const AlarmAction& a) {
  const auto condition = [&f](const AlarmRow& row, bool before) { return alarm_condition(row, f, before); };
  run_alarm_bank(m, kAlarms, p.period, f.mode < CTL_MODES ? CTL_IN(f.mode) : 0u, condition);
  act_on_alarms(m, kAlarms, p.shelve_max, a);
}

/// What the controller knows, as the alarms see it.
inline AlarmFacts alarm_facts(const Facts& f, uint32_t observed, const Supervision& s, uint32_t tripped,
                              uint32_t diagnosed, uint64_t suspect) {
  const Signals& y = f.signals;
  const auto known = [&y](uint32_t input) { return y.has(input) ? y[input] : __builtin_nanf(""); };
  AlarmFacts a{s.mode, tripped, observed, diagnosed, s.unmet_permissives, suspect | (y.lost & ~y.absent), {}};
  a.quantity[CTL_WATCH_MARGIN] = f.applied_current > 0.0f ? f.coke.margin : 1.0f;  // no current, no coke
  a.quantity[CTL_WATCH_SPREAD] = f.thermal.hottest - f.thermal.coldest;
  a.quantity[CTL_WATCH_SHELL] = known(in_compressor_temperature);
  a.quantity[CTL_WATCH_CATHODE] = known(in_cathode_pressure);
  a.quantity[CTL_WATCH_BUS] = known(in_bus_voltage);
  a.quantity[CTL_WATCH_PURITY] = known(in_product_oxygen_fraction);
  a.quantity[CTL_WATCH_HOTTEST] = f.thermal.hottest;
  a.quantity[CTL_WATCH_VOLTAGE] = f.coke.highest_voltage;
  return a;
}

}  // namespace duskline::controller
