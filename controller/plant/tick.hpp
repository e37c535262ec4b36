/// One tick of the plant controller: measure, judge, supervise, share, move the headers, publish.
///
/// What it is   the order of the parts; at the first tick a running plant is taken over
/// Symbols      as in controller/include/plant_controller.h
/// Validity     any input; the work is bounded by the number of modules
#pragma once

#include "controller/plant/memory.hpp"

namespace duskline::controller {

/// What the operator asks for, usable.
struct PlantAsked {
  float demand;   // kg/s
  float ceiling;  // W, NaN without one
};
constexpr PlantAsked asked_of(const ctl_plant_inputs& in) {
  const bool demand = is_finite(in.oxygen_demand) && in.oxygen_demand > 0.0f;
  return {demand ? min_of(in.oxygen_demand, 1.0f) : 0.0f,
          is_finite(in.power_ceiling) ? clamp(in.power_ceiling, 0.0f, 1e6f) : __builtin_nanf("")};
}

/// The plant may run when the controller starts: modes, speed and shares begin where they are.
inline void take_over(PlantMemory& m, const ctl_plant_params& p, const ctl_plant_inputs& in,
                      const PlantSignals& y, const ModulesSeen& seen) {
  if (m.started != 0) return;
  m.started = 1;
  const uint32_t requested = in.requested_mode;
  if (requested == CTL_PLANT_OFF || requested == CTL_PLANT_STANDBY || requested == CTL_PLANT_PRODUCTION)
    m.mode.last_request = requested;
  uint32_t hot = 0, making = 0, warm = 0;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const ModuleSeen& s = seen.of[k];
    m.modules.service[k] = s.service;
    if (m.sharing.capacity[k] == 0.0f) m.sharing.capacity[k] = p.module_oxygen;
    m.sharing.since_change[k] = 1e7f;
    if (!s.reports || s.r.mode == CTL_OFF) continue;
    ++warm;
    if (s.r.mode == CTL_STANDBY || s.r.mode == CTL_PRODUCTION) ++hot;
    if (s.r.mode != CTL_PRODUCTION) continue;
    ++making;
    m.sharing.producing |= 1u << k;
    m.sharing.share[k] = min_of(s.r.oxygen_rate, p.module_oxygen);
    m.sharing.demand += m.sharing.share[k];
  }
  const bool turns = y.has(rd_compressor_speed) && y[rd_compressor_speed] > 0.5f * p.speed_min;
  const bool serves = turns || !kIntakes[p.intake].turns;
  if (m.mode.mode == CTL_PLANT_SAFE || warm == 0) return;
  m.mode.mode = m.mode.last_request == CTL_PLANT_OFF                        ? CTL_PLANT_SHUT_DOWN
                : !serves || hot == 0                                       ? CTL_PLANT_START_UP
                : making > 0 && m.mode.last_request == CTL_PLANT_PRODUCTION ? CTL_PLANT_PRODUCTION
                                                                            : CTL_PLANT_STANDBY;
  if (!turns) return;
  m.running = 1;
  m.headers.setpoint = clamp(y[rd_feed_header_pressure], kLeastHeader, p.header_pressure);
  m.headers.applied_speed = m.headers.expected = clamp(y[rd_compressor_speed], 0.0f, p.speed_max);
  m.returned.flow = max_of(0.0f, y[rd_compressor_flow] - seen.feed_wanted);
  m.returned.heat = m.returned.flow * y[rd_feed_header_temperature];
  const float ahead = speed_feed_forward(p, suction_of(y, {}), seen.feed_wanted, p.header_pressure);
  pi_align(m.headers.speed, {p.pressure_gain, p.pressure_time, p.pressure_time, 1.0f}, m.headers.setpoint,
           y[rd_feed_header_pressure], ahead, m.headers.applied_speed);
}

/// What the anti-surge and the recycle valve lead back, at these shares of their open flow.
inline Returned returned_by(const ctl_plant_params& p, const PlantSignals& y, float anti_surge,
                            float recycle) {
  const float spilled = anti_surge * p.surge_capacity * y[rd_feed_header_pressure] / p.header_pressure;
  const float recycled = recycle * p.recycle_capacity * y[rd_exhaust_header_pressure] / p.exhaust_pressure;
  return {spilled + recycled,
          spilled * y[rd_feed_header_temperature] + recycled * y[rd_exhaust_header_temperature]};
}

/// What alarms watch.
inline void watch(PlantAlarmFacts& f, const PlantSignals& y, const SurgeView& surge, const HeaderView& h,
                  float shortfall) {
  const bool outlets = y.has(rd_exhaust_header_pressure) && y.has(rd_product_header_pressure);
  const float across = abs_of(y[rd_product_header_pressure] - y[rd_exhaust_header_pressure]);
  const float filter = y[rd_filter_differential_pressure] / max_of(50.0f, y[rd_ambient_pressure]);
  f.quantity[CTL_PLANT_WATCH_SURGE] = surge.margin;
  f.quantity[CTL_PLANT_WATCH_ACROSS] = outlets ? across : __builtin_nanf("");
  f.quantity[CTL_PLANT_WATCH_HEADER] = y.known(rd_feed_header_pressure);
  f.quantity[CTL_PLANT_WATCH_DISCHARGE] = y.known(rd_discharge_temperature);
  f.quantity[CTL_PLANT_WATCH_VIBRATION] = y.known(rd_compressor_vibration);
  f.quantity[CTL_PLANT_WATCH_PURITY] = y.known(rd_product_oxygen_fraction);
  f.quantity[CTL_PLANT_WATCH_CO] = h.nickel_ratio;
  f.quantity[CTL_PLANT_WATCH_SHORTFALL] = shortfall;
  f.quantity[CTL_PLANT_WATCH_FILTER] =
      y.has(rd_filter_differential_pressure) && y.has(rd_ambient_pressure) ? filter : __builtin_nanf("");
}

inline void plant_tick(PlantMemory& m, const ctl_plant_params& p, const ctl_plant_inputs& in,
                       ctl_plant_outputs& out) {
  const PlantSignals y = read_plant(m.signals, p, in);
  const ModulesSeen seen = see_modules(in);
  const PlantAsked asked = asked_of(in);
  take_over(m, p, in, y, seen);

  // modules and mode
  const bool new_request = in.requested_mode != m.mode.last_request && in.requested_mode < CTL_PLANT_MODES;
  const ModulesView view =
      judge_modules(m.modules, p, seen, new_request, m.mode.mode == CTL_PLANT_SAFE, m.running != 0);
  const uint32_t observed = plant_conditions(m.mode, {.params = p,
                                                      .signals = y,
                                                      .modules = view,
                                                      .applied_speed = m.headers.applied_speed,
                                                      .nickel_ratio = m.nickel_ratio,
                                                      .surged = m.surged != 0,
                                                      .running = m.running != 0});
  const PlantSupervision mode = run_plant_modes(m.mode, p, observed, in.requested_mode);
  const bool producing = mode.mode == CTL_PLANT_PRODUCTION, safe = mode.mode == CTL_PLANT_SAFE;
  const bool header_holds = (observed & CTL_PLANT_HEADER_LOW) == 0;

  // oxygen and power
  const float demand = slow_demand(m.sharing, p, producing ? asked.demand : 0.0f);
  learn_modules(m.sharing, p, seen, m.power.given, header_holds);
  call_spare(m.modules, p, seen, m.sharing, view, demand, producing);
  choose_producing(m.sharing, p, producing ? view.able : 0u, demand);
  const Shares target = share_demand(m.sharing, p, demand);
  Shares wanted{};
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) wanted.of[k] = m.sharing.share[k];
  const PowerView power = share_power(m.power, p, y, seen, wanted, asked.ceiling);
  const bool heats =
      mode.mode == CTL_PLANT_START_UP || mode.mode == CTL_PLANT_STANDBY || mode.mode == CTL_PLANT_PRODUCTION;
  start_modules(m.modules, p, seen, power.surplus, heats);

  // compressor and headers
  const bool runs = mode.mode != CTL_PLANT_OFF && !safe && view.need_flow;
  const bool turning = runs && (!kIntakes[p.intake].turns || m.headers.applied_speed > 0.5f * p.speed_min);
  const HeaderView h = run_headers(m.headers, {.params = p,
                                               .signals = y,
                                               .modules = seen,
                                               .surge_margin = m.surge_margin,
                                               .runs = runs,
                                               .stop_at_once = safe,
                                               .open = !runs,
                                               .shed = (m.power.shed & CTL_SHED_COMPRESSOR) != 0});
  // a header that does not empty to the liquefier does so to the vent
  const float above = y[rd_product_header_pressure] - y[rd_exhaust_header_pressure];
  const bool full = m.liquefies != 0 && above > p.vent_across && h.product > 0.98f;
  m.full_time = full ? min_of(m.full_time + p.period, 1e6f) : 0.0f;
  if (mode.new_request) m.vents = 0;
  if (m.full_time > p.vent_time) m.vents = 1;
  const bool operating = producing || mode.mode == CTL_PLANT_STANDBY;
  m.liquefies = operating && m.vents == 0 && (m.power.shed & CTL_SHED_LIQUEFIER) == 0 ? 1 : 0;
  const uint32_t vented = m.vents != 0 ? uint32_t{CTL_PLANT_PRODUCT_VENTED} : 0u;
  const SurgeView surge = guard_compressor(m.surge, p, y, suction_of(y, m.returned), seen.feed_wanted,
                                           m.headers.setpoint, turning);
  m.returned = turning ? returned_by(p, y, surge.opening, share_at(p, h.recycle)) : Returned{};
  m.running = runs ? 1 : 0;
  m.surge_margin = surge.margin;
  m.surged = surge.trip ? 1 : 0;
  m.nickel_ratio = seen.feed_wanted > 0.0f ? h.nickel_ratio : __builtin_nanf("");

  // commands and orders
  out.compressor_speed = h.speed;
  out.anti_surge_opening = opening_for(p, surge.opening);
  out.recycle_opening = h.recycle;
  out.exhaust_opening = h.exhaust;
  out.product_opening = h.product;
  out.liquefier_run = m.liquefies != 0 ? 1.0f : 0.0f;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    ctl_module_order& o = out.order[k];
    o.oxygen_demand = power.share.of[k];
    o.power_ceiling = power.ceiling.of[k];
    const bool shut = (view.isolated >> k & 1u) != 0 || seen.of[k].service == CTL_SERVICE_ABSENT;
    o.feed_opening_max = shut ? 0.0f : 1.0f;
    o.requested_mode = mode_for(m.modules, seen.of[k], k, mode.mode, m.sharing.producing);
    out.weight[k] = m.sharing.weight[k];
    out.capacity[k] = m.sharing.capacity[k];
  }

  // estimates and words
  const float made = seen.oxygen_rate;
  out.shortfall = demand > 0.0f ? clamp(1.0f - made / demand, 0.0f, 1.0f) : 0.0f;
  out.surge_margin = is_finite(surge.margin) ? surge.margin : 0.0f;
  out.surge_flow = surge.flow;
  out.feed_wanted = seen.feed_wanted;
  out.oxygen_rate = made;
  out.header_setpoint = h.header_setpoint;
  out.exhaust_setpoint = h.exhaust_setpoint;
  out.product_setpoint = h.product_setpoint;
  out.pressure_across = y[rd_product_header_pressure] - y[rd_exhaust_header_pressure];
  out.co_setpoint = h.co_setpoint;
  out.nickel_ratio = is_finite(h.nickel_ratio) ? h.nickel_ratio : 0.0f;
  out.other_load = m.power.other_load;
  out.mode = mode.mode;
  out.unmet_permissives = mode.unmet_permissives;
  out.tripped = m.mode.tripped;
  out.shed = m.power.shed;
  out.diagnosed = view.diagnosed | vented;
  out.producing = m.sharing.producing;
  out.isolated = view.isolated;
  out.released = view.released;
  out.lost = y.lost_fitted;
  out.limiter = !producing || !(demand > 0.0f)           ? CTL_PLANT_BY_NOTHING
                : (m.power.shed & CTL_SHED_CURRENT) != 0 ? CTL_PLANT_BY_POWER
                : !header_holds                          ? CTL_PLANT_BY_PRESSURE
                : sum_of(target) < 0.99f * demand        ? CTL_PLANT_BY_MODULES
                                                         : CTL_PLANT_BY_DEMAND;

  PlantAlarmFacts facts{
      mode.mode, m.mode.tripped, view.diagnosed | vented, mode.unmet_permissives, y.lost_fitted, {}};
  watch(facts, y, surge, h, out.shortfall);
  run_plant_alarms(m.alarms, p, facts,
                   {.action = in.alarm_action,
                    .number = in.alarm_number,
                    .maintenance = in.maintenance,
                    .shelve_time = in.shelve_time});
  write_alarms(out, m.alarms);
}

}  // namespace duskline::controller
