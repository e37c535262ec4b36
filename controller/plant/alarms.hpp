/// Alarms of the plant: from what the plant controller knows to conditions with dead-bands.
///
/// What it is   the condition of each row of plant_controller_alarms.h; what follows is in supervise/alarm_states.hpp
/// Symbols      quantities in the unit of CTL_PLANT_ALARM_QUANTITY_LIST
/// Validity     any facts
#pragma once

#include "controller/include/plant_controller.h"
#include "controller/supervise/alarm_states.hpp"

namespace duskline::controller {

inline constexpr AlarmRow kPlantAlarms[CTL_PLANT_ALARMS] = {CTL_PLANT_ALARM_LIST(CTL_ALARM_ROW)};
static_assert(alarms_agree(kPlantAlarms), "each priority follows from severity and time to respond");

using PlantAlarmMemory = AlarmBank<CTL_PLANT_ALARMS, CTL_PLANT_ALARM_CAPACITY>;

struct PlantAlarmFacts {
  uint32_t mode, tripped, diagnosed, unmet_permissives, lost_fitted;
  float quantity[CTL_PLANT_ALARM_QUANTITIES];  // NaN: unknown, the condition stays as it was
};

constexpr bool plant_alarm_condition(const AlarmRow& row, const PlantAlarmFacts& f, bool before) {
  switch (row.source) {
    case CTL_FROM_TRIP:
      return (f.tripped & row.argument) != 0;
    case CTL_FROM_DIAGNOSIS:
      return (f.diagnosed & row.argument) != 0;
    case CTL_FROM_REFUSAL:
      return (f.unmet_permissives & row.argument) != 0;
    case CTL_FROM_DOUBT:
      return f.lost_fitted != 0;
    default:
      break;
  }
  const float x = f.quantity[row.argument];
  if (!is_finite(x)) return before;
  const float beyond = row.source == CTL_FROM_ABOVE ? x - row.limit : row.limit - x;
  return beyond > (before ? -row.dead_band : 0.0f);
}

constexpr void run_plant_alarms(PlantAlarmMemory& m, const ctl_plant_params& p, const PlantAlarmFacts& f,
                                const AlarmAction& a) {
  const auto condition = [&f](const AlarmRow& row, bool before) {
    return plant_alarm_condition(row, f, before);
  };
  run_alarm_bank(m, kPlantAlarms, p.period, CTL_IN(f.mode), condition);
  act_on_alarms(m, kPlantAlarms, p.shelve_max, a);
}

}  // namespace duskline::controller
