/// Modes of the plant, their permissives and interlocks.
///
/// What it is   reasons from measurements; interlocks that have stood for interlock_ticks move to safe; else at most one
///              step a tick towards the requested mode
/// Symbols      modes of CTL_PLANT_MODE_LIST, reasons of CTL_PLANT_CONDITION_LIST
/// Validity     any request; one that may not be requested counts as "stay"
/// Left out     time-outs of start-up and shut-down: a mode that does not come is an alarm (plant-mode-not-permitted)
#pragma once

#include "controller/plant/headers.hpp"
#include "controller/plant/modules.hpp"

namespace duskline::controller {

#define CTL_COUNT_CONDITION(identifier, bit, word, meaning) +1u
inline constexpr uint32_t kPlantConditions = CTL_PLANT_CONDITION_LIST(CTL_COUNT_CONDITION);
#undef CTL_COUNT_CONDITION
#define CTL_JOIN_CONDITION(identifier, bit, word, meaning) | (1u << bit)
static_assert((0u CTL_PLANT_CONDITION_LIST(CTL_JOIN_CONDITION)) == (uint64_t{1} << kPlantConditions) - 1u);
#undef CTL_JOIN_CONDITION

inline constexpr uint32_t kPlantTrips = CTL_PLANT_SURGED | CTL_PLANT_HEADER_HIGH | CTL_PLANT_ACROSS_HIGH |
                                        CTL_PLANT_MACHINE_HOT | CTL_PLANT_VIBRATION_HIGH |
                                        CTL_PLANT_OVER_SPEED | CTL_PLANT_SPEED_DEVIATION |
                                        CTL_PLANT_SENSOR_LOST | CTL_PLANT_BUS_LOW;

struct PlantModeMemory {
  uint32_t mode;             // ctl_plant_mode
  uint32_t tripped;          // reasons of the last move to safe
  uint32_t request_at_trip;  // request that stood then
  uint32_t last_request;
  uint32_t reset;     // 1 once another request has been seen
  float deviation;    // s that the shaft has not followed
  float unprotected;  // s that the feed has lacked CO
  uint32_t counts[kPlantConditions];
};

struct PlantFacts {
  const ctl_plant_params& params;
  const PlantSignals& signals;
  const ModulesView& modules;
  float applied_speed;  // rad/s at the last tick
  float nickel_ratio;   // 1, NaN unknown
  bool surged;
  bool running;  // the compressor was asked to turn
};

inline uint32_t plant_conditions(PlantModeMemory& m, const PlantFacts& f) {
  const ctl_plant_params& p = f.params;
  const PlantSignals& y = f.signals;
  const IntakeRow& intake = kIntakes[p.intake];
  uint32_t r = 0;
  const auto raise = [&r](bool condition, uint32_t reason) { r |= condition ? reason : 0u; };
  const auto above = [&y](uint32_t k, float limit) { return y.has(k) && y[k] > limit; };

  raise(f.surged, CTL_PLANT_SURGED);
  raise(above(rd_feed_header_pressure, p.header_pressure_max), CTL_PLANT_HEADER_HIGH);
  const bool outlets = y.has(rd_exhaust_header_pressure) && y.has(rd_product_header_pressure);
  raise(outlets && abs_of(y[rd_product_header_pressure] - y[rd_exhaust_header_pressure]) > p.across_max,
        CTL_PLANT_ACROSS_HIGH);
  raise(intake.heats && above(rd_discharge_temperature, p.discharge_max), CTL_PLANT_MACHINE_HOT);
  raise(intake.turns && above(rd_compressor_vibration, p.vibration_max), CTL_PLANT_VIBRATION_HIGH);
  raise(intake.turns && above(rd_compressor_speed, p.speed_trip_share * p.speed_max), CTL_PLANT_OVER_SPEED);
  const bool away = intake.turns && f.running && y.has(rd_compressor_speed) &&
                    abs_of(y[rd_compressor_speed] - f.applied_speed) > p.speed_deviation;
  m.deviation = away ? min_of(m.deviation + p.period, 1e4f) : 0.0f;
  raise(m.deviation > p.speed_deviation_time, CTL_PLANT_SPEED_DEVIATION);
  raise(!outlets || !y.has(rd_feed_header_pressure), CTL_PLANT_SENSOR_LOST);
  raise(y.has(rd_bus_voltage) && y[rd_bus_voltage] < p.bus_min, CTL_PLANT_BUS_LOW);
  raise(!y.has(rd_feed_header_pressure) || y[rd_feed_header_pressure] < p.header_pressure_min,
        CTL_PLANT_HEADER_LOW);
  const bool unprotected = is_finite(f.nickel_ratio) && f.nickel_ratio < 1.0f;
  raise(unprotected, CTL_PLANT_FEED_UNPROTECTED);
  // a start has no CO before its first current
  const bool operating = m.mode == CTL_PLANT_STANDBY || m.mode == CTL_PLANT_PRODUCTION;
  m.unprotected = unprotected && operating ? min_of(m.unprotected + p.period, 1e6f) : 0.0f;
  raise(f.modules.hot == 0, CTL_PLANT_NO_MODULE);
  raise(!f.modules.all_off, CTL_PLANT_MODULES_HOT);
  return r;
}

struct PlantTransition {
  ctl_plant_mode from, to;
  uint32_t refused_by;
};
inline constexpr uint32_t kReady = kPlantTrips | CTL_PLANT_HEADER_LOW | CTL_PLANT_NO_MODULE;
inline constexpr PlantTransition kPlantTransitions[] = {
    {CTL_PLANT_OFF, CTL_PLANT_START_UP, kPlantTrips},
    {CTL_PLANT_START_UP, CTL_PLANT_STANDBY, kReady},
    {CTL_PLANT_START_UP, CTL_PLANT_SHUT_DOWN, 0},
    {CTL_PLANT_STANDBY, CTL_PLANT_PRODUCTION, kReady | CTL_PLANT_FEED_UNPROTECTED},
    {CTL_PLANT_STANDBY, CTL_PLANT_SHUT_DOWN, 0},
    {CTL_PLANT_PRODUCTION, CTL_PLANT_STANDBY, 0},
    {CTL_PLANT_SHUT_DOWN, CTL_PLANT_OFF, CTL_PLANT_MODULES_HOT},
    {CTL_PLANT_SHUT_DOWN, CTL_PLANT_START_UP, kPlantTrips},
    {CTL_PLANT_SAFE, CTL_PLANT_START_UP, CTL_PLANT_NOT_RESET | kPlantTrips},
    {CTL_PLANT_SAFE, CTL_PLANT_SHUT_DOWN, CTL_PLANT_NOT_RESET},
};

/// Next mode on the way from a mode (row) to a request: off, standby, production.
struct PlantWay {
  ctl_plant_mode off, standby, production;
};
inline constexpr PlantWay kPlantNext[CTL_PLANT_MODES] = {
    /* off */ {CTL_PLANT_OFF, CTL_PLANT_START_UP, CTL_PLANT_START_UP},
    /* start-up */ {CTL_PLANT_SHUT_DOWN, CTL_PLANT_STANDBY, CTL_PLANT_STANDBY},
    /* standby */ {CTL_PLANT_SHUT_DOWN, CTL_PLANT_STANDBY, CTL_PLANT_PRODUCTION},
    /* production */ {CTL_PLANT_STANDBY, CTL_PLANT_STANDBY, CTL_PLANT_PRODUCTION},
    /* shut-down */ {CTL_PLANT_OFF, CTL_PLANT_START_UP, CTL_PLANT_START_UP},
    /* safe */ {CTL_PLANT_SHUT_DOWN, CTL_PLANT_START_UP, CTL_PLANT_START_UP},
};

struct PlantSupervision {
  uint32_t mode, unmet_permissives;
  bool new_request;  // the operator asks for something else than at the last tick
};

constexpr uint32_t next_plant_mode(uint32_t mode, uint32_t requested) {
  if (requested == CTL_PLANT_OFF) return kPlantNext[mode].off;
  if (requested == CTL_PLANT_STANDBY) return kPlantNext[mode].standby;
  return requested == CTL_PLANT_PRODUCTION ? uint32_t{kPlantNext[mode].production} : mode;
}

constexpr uint32_t plant_refused_by(uint32_t from, uint32_t to) {
  for (const PlantTransition& t : kPlantTransitions)
    if (t.from == static_cast<ctl_plant_mode>(from) && t.to == static_cast<ctl_plant_mode>(to))
      return t.refused_by;
  return ~0u;
}

/// Reasons that have stood for interlock_ticks in a row.
inline uint32_t confirmed_of_plant(PlantModeMemory& m, const ctl_plant_params& p, uint32_t reasons) {
  const uint32_t needed = truncate(p.interlock_ticks);
  uint32_t sure = 0;
  for (uint32_t bit = 0; bit < kPlantConditions; ++bit) {
    const bool stands = (reasons >> bit & 1u) != 0;
    m.counts[bit] = !stands ? 0 : (m.counts[bit] < needed ? m.counts[bit] + 1 : needed);
    if (m.counts[bit] >= needed) sure |= 1u << bit;
  }
  return sure;
}

inline PlantSupervision run_plant_modes(PlantModeMemory& m, const ctl_plant_params& p, uint32_t observed,
                                        uint32_t requested) {
  const bool known =
      requested == CTL_PLANT_OFF || requested == CTL_PLANT_STANDBY || requested == CTL_PLANT_PRODUCTION;
  if (!known) requested = m.last_request;
  const bool new_request = requested != m.last_request;
  m.last_request = requested;
  const bool armed = m.mode != CTL_PLANT_OFF && m.mode != CTL_PLANT_SAFE;
  // a surge has been counted twice already
  const uint32_t sure = confirmed_of_plant(m, p, observed) | (observed & CTL_PLANT_SURGED);
  const uint32_t unprotected = m.unprotected > p.unprotected_time ? uint32_t{CTL_PLANT_FEED_UNPROTECTED} : 0u;
  const uint32_t trips = armed ? (sure & kPlantTrips) | unprotected : 0u;
  if (trips != 0) {
    m.mode = CTL_PLANT_SAFE;
    m.tripped = trips;
    m.request_at_trip = requested;
    m.reset = 0;
    for (uint32_t& count : m.counts) count = 0;
    return {m.mode, trips | CTL_PLANT_NOT_RESET, new_request};
  }
  if (m.mode == CTL_PLANT_SAFE && requested != m.request_at_trip) m.reset = 1;
  // without a module nothing is produced
  if (m.mode == CTL_PLANT_PRODUCTION && (sure & CTL_PLANT_NO_MODULE) != 0) {
    m.mode = CTL_PLANT_STANDBY;
    return {m.mode, CTL_PLANT_NO_MODULE, new_request};
  }
  const auto against = [&](uint32_t to) -> uint32_t {
    if (to == m.mode) return 0;
    const uint32_t waits = m.mode == CTL_PLANT_SAFE && m.reset == 0 ? uint32_t{CTL_PLANT_NOT_RESET} : 0u;
    return (observed | waits) & plant_refused_by(m.mode, to);
  };
  const uint32_t to = next_plant_mode(m.mode, requested);
  uint32_t unmet = against(to);
  if (to != m.mode && unmet == 0) {
    if (m.mode == CTL_PLANT_SAFE) m.tripped = 0;
    m.mode = to;
    unmet = against(next_plant_mode(m.mode, requested));
  }
  return {m.mode, unmet, new_request};
}

}  // namespace duskline::controller
