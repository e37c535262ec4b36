/// What each module is to do: heat one after the other, produce, wait as spare, cool, stay isolated.
///
/// What it is   from the mode of the plant, the service and the report of a module to its requested mode and its valves
/// Symbols      bits of modules
/// Validity     any report; a module that does not report is asked to stand by
/// Source       ours: a module that moved to safe stays there until the operator asks anew; one that leaks is shut off
///              until it has been taken out of service
/// Left out     order of starts by age
#pragma once

#include "controller/plant/power.hpp"

namespace duskline::controller {

struct ModulesMemory {
  uint32_t stopped;                     // bits: moved to safe, waits for the operator
  uint32_t leaks;                       // bits: isolated for a leak
  uint32_t started;                     // bits: may heat
  uint32_t spare_in;                    // bits: spares that are needed
  uint32_t service[CTL_PLANT_MODULES];  // of the last tick
  float short_time;                     // s that the demand has not been met
};

struct ModulesView {
  uint32_t able;      // bits: hot, in service or needed, may produce
  uint32_t hot;       // bits: at standby or production
  uint32_t isolated;  // bits
  uint32_t released;  // bits
  uint32_t diagnosed;
  bool need_flow;  // a module is hot enough for flow
  bool all_off;
};

constexpr bool counts(const ModuleSeen& s) {
  return s.service == CTL_SERVICE_IN || s.service == CTL_SERVICE_SPARE;
}

/// What the reports and the operator say.
inline ModulesView judge_modules(ModulesMemory& m, const ctl_plant_params& p, const ModulesSeen& seen,
                                 bool new_request, bool plant_safe, bool running) {
  ModulesView v{};
  v.all_off = true;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const ModuleSeen& s = seen.of[k];
    const uint32_t bit = 1u << k;
    const auto put = [bit](uint32_t& word, bool set) { word = set ? word | bit : word & ~bit; };
    if (s.service != m.service[k] || new_request) put(m.stopped, false);
    if (s.service == CTL_SERVICE_OUT || s.service == CTL_SERVICE_ABSENT) put(m.leaks, false);
    if (s.service != CTL_SERVICE_SPARE) put(m.spare_in, false);
    m.service[k] = s.service;
    const bool in = counts(s) && s.reports;
    if (in && s.r.mode == CTL_SAFE && !new_request) put(m.stopped, true);
    if (in && (s.r.diagnosed & CTL_CELL_LEAKING) != 0 && s.r.response >= CTL_RESPOND_STANDBY)
      put(m.leaks, true);
    const bool stopped = (m.stopped & bit) != 0, leaks = (m.leaks & bit) != 0;
    const bool hot = in && (s.r.mode == CTL_STANDBY || s.r.mode == CTL_PRODUCTION) && !stopped && !leaks;
    const bool called = s.service == CTL_SERVICE_IN || (m.spare_in & bit) != 0;
    put(v.hot, hot);
    put(v.able, hot && called && s.r.response < CTL_RESPOND_STANDBY);
    const bool off = !s.reports || s.r.mode == CTL_OFF;
    put(v.isolated, leaks || (s.service == CTL_SERVICE_OUT && off));
    put(v.released, s.service == CTL_SERVICE_OUT && s.reports && off && s.r.hottest < p.release_temperature);
    if (leaks) v.diagnosed |= CTL_PLANT_MODULE_LEAKS;
    if (stopped && !plant_safe) v.diagnosed |= CTL_PLANT_MODULE_TRIPPED;
    const float needs = p.start_temperature - (running ? 50.0f : 0.0f);
    const bool shut = (v.isolated & bit) != 0;
    if (s.reports && !shut && !off && (s.r.feed_wanted > 0.0f || s.r.temperature > needs)) v.need_flow = true;
    if (s.service != CTL_SERVICE_ABSENT && !off) v.all_off = false;
  }
  return v;
}

/// A spare comes in when the demand has not been met for a while, and goes when the others alone meet it.
inline void call_spare(ModulesMemory& m, const ctl_plant_params& p, const ModulesSeen& seen,
                       const SharingMemory& sharing, const ModulesView& v, float demand, bool producing) {
  const float all = upper_sum(bounds_of(sharing, p, v.able));
  const bool meets = !producing || all >= demand;
  m.short_time = meets ? 0.0f : min_of(m.short_time + p.period, 1e6f);
  const auto first = [&](uint32_t among) {
    for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k)
      if ((among >> k & 1u) != 0 && seen.of[k].service == CTL_SERVICE_SPARE) return k;
    return uint32_t{CTL_PLANT_MODULES};
  };
  if (m.short_time > p.spare_delay) {
    const uint32_t k = first(v.hot & ~m.spare_in);
    if (k < CTL_PLANT_MODULES) m.spare_in |= 1u << k;
    m.short_time = 0.0f;
  }
  const uint32_t k = first(m.spare_in & v.able);
  if (k < CTL_PLANT_MODULES && producing && sharing.since_change[k] >= p.module_dwell &&
      upper_sum(bounds_of(sharing, p, v.able & ~(1u << k))) > 1.1f * demand)
    m.spare_in &= ~(1u << k);
}

/// Which modules may heat: all, or one after the other while the power does not suffice for one more.
inline void start_modules(ModulesMemory& m, const ctl_plant_params& p, const ModulesSeen& seen, float surplus,
                          bool wanted) {
  if (!wanted) m.started = 0;
  uint32_t heating = 0;
  float coming = 0.0f;  // W that those who started will still draw
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const ModuleSeen& s = seen.of[k];
    const bool hot = s.reports && (s.r.mode == CTL_STANDBY || s.r.mode == CTL_PRODUCTION);
    const bool warms = s.reports && s.r.mode == CTL_WARM_UP;
    if (!counts(s)) m.started &= ~(1u << k);
    // what is hot already needs no turn
    if (wanted && counts(s) && (hot || warms)) m.started |= 1u << k;
    if ((m.started >> k & 1u) == 0 || hot) continue;
    ++heating;
    coming += max_of(0.0f, p.warm_up_power - s.r.heating);
  }
  for (uint32_t k = 0; k < CTL_PLANT_MODULES && wanted; ++k) {
    if ((m.started >> k & 1u) != 0 || !counts(seen.of[k]) || !seen.of[k].reports) continue;
    if (((m.stopped | m.leaks) >> k & 1u) != 0) continue;
    if (is_finite(surplus) && surplus - coming < p.warm_up_power && heating > 0) return;
    m.started |= 1u << k;
    ++heating;
    coming += p.warm_up_power;
  }
}

/// The mode that is asked of a module.
constexpr uint32_t mode_for(const ModulesMemory& m, const ModuleSeen& s, uint32_t k, uint32_t plant_mode,
                            uint32_t producing) {
  const auto has = [k](uint32_t word) { return (word >> k & 1u) != 0; };
  if (!counts(s) || has(m.leaks)) return CTL_OFF;
  if (plant_mode == CTL_PLANT_SAFE || has(m.stopped)) return CTL_SAFE;
  if (plant_mode == CTL_PLANT_OFF || plant_mode == CTL_PLANT_SHUT_DOWN) return CTL_OFF;
  if (s.reports && !has(m.started)) return CTL_OFF;
  return plant_mode == CTL_PLANT_PRODUCTION && has(producing) ? uint32_t{CTL_PRODUCTION}
                                                              : uint32_t{CTL_STANDBY};
}

}  // namespace duskline::controller
