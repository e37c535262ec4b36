/// Readings of what the modules share: checked, held over short gaps, marked when lost; and their reports.
///
/// What it is   as signals.hpp, over the list of plant_controller_instruments.h; a report counts whole or not at all
/// Symbols      units as in the lists
/// Validity     any bit pattern; an instrument that is not fitted is lost, but nobody misses it
/// Left out     fault detection between the instruments of the plant
#pragma once

#include "controller/include/plant_controller.h"
#include "controller/math.hpp"

namespace duskline::controller {

#define CTL_NUMBER(name, ...) rd_##name,
enum PlantReading : uint32_t { CTL_PLANT_INPUT_LIST(CTL_NUMBER) kPlantReadings };
#undef CTL_NUMBER
static_assert(kPlantReadings <= 32, "one bit of a word per reading");
#define CTL_FIRST(name, unit, lower, upper, first, ...) first,
inline constexpr float kPlantFirst[] = {CTL_PLANT_INPUT_LIST(CTL_FIRST)};
#undef CTL_FIRST

struct PlantSignalMemory {
  float good[kPlantReadings];
  uint32_t age[kPlantReadings];
};

struct PlantSignals {
  float value[kPlantReadings];
  uint32_t lost;         // bit set: missing for longer than sensor_hold
  uint32_t lost_fitted;  // those of them that are fitted

  constexpr float operator[](uint32_t k) const { return value[k]; }
  constexpr bool has(uint32_t k) const { return (lost >> k & 1u) == 0; }
  constexpr float known(uint32_t k) const { return has(k) ? value[k] : __builtin_nanf(""); }
};

inline constexpr uint32_t kReadingNeverSeen = 0x00ffffffu;

constexpr PlantSignalMemory initial_plant_signals() {
  PlantSignalMemory m{};
  for (uint32_t k = 0; k < kPlantReadings; ++k) {
    m.good[k] = kPlantFirst[k];
    m.age[k] = kReadingNeverSeen;
  }
  return m;
}

inline PlantSignals read_plant(PlantSignalMemory& m, const ctl_plant_params& p, const ctl_plant_inputs& in) {
  PlantSignals y{};
  const auto accept = [&](uint32_t k, float raw) {
    const ctl_span& span = p.input_span[k];
    const bool fitted = (p.not_fitted >> k & 1u) == 0;
    if (fitted && is_finite(raw) && raw >= span.lower && raw <= span.upper) {
      m.good[k] = raw;
      m.age[k] = 0;
    } else if (m.age[k] < kReadingNeverSeen) {
      m.age[k] += 1;
    }
    y.value[k] = m.good[k];
    if (!fitted || static_cast<float>(m.age[k]) * p.period > p.sensor_hold) y.lost |= 1u << k;
  };
#define CTL_ACCEPT(name, ...) accept(rd_##name, in.name);
  CTL_PLANT_INPUT_LIST(CTL_ACCEPT)
#undef CTL_ACCEPT
  y.lost_fitted = y.lost & ~p.not_fitted;
  return y;
}

/// A module as the plant controller sees it.
struct ModuleSeen {
  ctl_module_report r;
  uint32_t service;  // ctl_service
  bool reports;      // the report counts
};

constexpr bool valid_report(const ctl_module_report& r) {
  bool good = r.mode < CTL_MODES && r.limiter < CTL_LIMITERS && r.response < CTL_RESPONSES;
#define CTL_BOUND(name, unit, lower, upper, meaning) \
  good = good && r.name >= static_cast<float>(lower) && r.name <= static_cast<float>(upper);
#define CTL_SKIP(name, meaning)
  CTL_MODULE_REPORT_LIST(CTL_BOUND, CTL_SKIP)
#undef CTL_BOUND
#undef CTL_SKIP
  return good;
}

struct ModulesSeen {
  ModuleSeen of[CTL_PLANT_MODULES];
  float feed_wanted, oxygen_rate, power, heating;  // sums
  float hottest;                                   // K, of those that are there
};

inline ModulesSeen see_modules(const ctl_plant_inputs& in) {
  ModulesSeen s{};
  s.hottest = 250.0f;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    ModuleSeen& m = s.of[k];
    m.service = in.service[k] < CTL_SERVICES ? in.service[k] : uint32_t{CTL_SERVICE_OUT};
    m.reports = m.service != CTL_SERVICE_ABSENT && valid_report(in.module[k]);
    m.r.temperature = m.r.hottest = 250.0f;  // CTL_OFF and cold until it reports
    if (!m.reports) continue;
    m.r = in.module[k];
    s.feed_wanted += m.r.feed_wanted;
    s.oxygen_rate += m.r.oxygen_rate;
    s.power += max_of(0.0f, m.r.power);
    s.heating += max_of(0.0f, m.r.heating);
    s.hottest = max_of(s.hottest, m.r.hottest);
  }
  return s;
}

}  // namespace duskline::controller
