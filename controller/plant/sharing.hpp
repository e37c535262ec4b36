/// Sharing of the oxygen demand between the modules that produce, by margin and age.
///
/// What it is   a weight and a capacity of each module; the demand is poured so that all shares are the same multiple of
///              their weights, but for those that stand at a bound; shares move slowly
/// Equation     x_k = clamp(l w_k, lo_k, hi_k), sum x_k = D, l by halving; w = (w_0 + (1 - w_0) m/m_full) / (1 + R/R_half)
/// Symbols      x [kg/s] share, D [kg/s] demand, w [1] weight, m [V] coke margin, w_0 [1] weight without margin, R [ohm m2]
///              added resistance, R_half that which halves the weight
/// Validity     any demand: below the sum of the lower bounds all stand there, above that of the upper ones likewise
/// Source       water-filling with bounds (convex optimisation textbooks); weights: design
/// Left out     efficiency of each module; a schedule of wear over months
#pragma once

#include "controller/estimate/filters.hpp"
#include "controller/plant/readings.hpp"

namespace duskline::controller {

struct SharingMemory {
  float weight[CTL_PLANT_MODULES];        // 1
  float capacity[CTL_PLANT_MODULES];      // kg/s
  float share[CTL_PLANT_MODULES];         // kg/s that is asked for
  float since_change[CTL_PLANT_MODULES];  // s since it began or stopped to produce
  float demand;                           // kg/s that is shared; it falls slowly
  uint32_t producing;                     // bits
};

struct Bounds {
  float weight[CTL_PLANT_MODULES], lower[CTL_PLANT_MODULES], upper[CTL_PLANT_MODULES];
  uint32_t in;  // bits of those that count
};

struct Shares {
  float of[CTL_PLANT_MODULES];
};

constexpr float sum_of(const Shares& s) {
  float sum = 0.0f;
  for (const float x : s.of) sum += x;
  return sum;
}

constexpr Shares poured(const Bounds& b, float level) {
  Shares s{};
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k)
    if ((b.in >> k & 1u) != 0) s.of[k] = clamp(level * b.weight[k], b.lower[k], b.upper[k]);
  return s;
}

/// 0 <= lower <= upper and weight > 0 for those that count.
constexpr Shares pour(const Bounds& b, float demand) {
  constexpr uint32_t kHalvings = 32;
  float low = 0.0f, high = 0.0f;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k)
    if ((b.in >> k & 1u) != 0) high = max_of(high, b.upper[k] / b.weight[k]);
  for (uint32_t n = 0; n < kHalvings; ++n) {
    const float level = 0.5f * (low + high);
    if (sum_of(poured(b, level)) < demand)
      low = level;
    else
      high = level;
  }
  return poured(b, high);
}

constexpr float wanted_weight(const ctl_plant_params& p, const ctl_module_report& r) {
  const float margin = clamp(r.coke_margin / p.margin_full, 0.0f, 1.0f);
  const float by_margin = p.margin_weight + (1.0f - p.margin_weight) * margin;
  return max_of(0.05f, by_margin / (1.0f + max_of(0.0f, r.added_resistance) / p.age_resistance));
}

/// Limits of a module that more demand does not move; a feed that is short because the header is does not count.
constexpr bool at_its_limit(uint32_t limiter) {
  return limiter == CTL_BY_COKE_MARGIN || limiter == CTL_BY_VOLTAGE || limiter == CTL_BY_UTILISATION ||
         limiter == CTL_BY_DERATING;
}

/// Weights and capacities of all modules; `asked` [kg/s]: what they were asked for at the last tick.
inline void learn_modules(SharingMemory& m, const ctl_plant_params& p, const ModulesSeen& seen,
                          const float (&asked)[CTL_PLANT_MODULES], bool header_holds) {
  constexpr float kFall = 30.0f, kRoom = 1.02f;  // s, 1
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const ModuleSeen& s = seen.of[k];
    const bool makes = s.reports && s.r.mode == CTL_PRODUCTION;
    const float wanted = s.reports ? wanted_weight(p, s.r) : 1.0f;
    // the margin says something while a current flows
    if (m.weight[k] == 0.0f)
      m.weight[k] = wanted;
    else if (makes)
      m.weight[k] = low_pass(m.weight[k], wanted, p.period, p.weight_time);
    m.since_change[k] = min_of(m.since_change[k] + p.period, 1e7f);
    const bool limited =
        makes && header_holds && at_its_limit(s.r.limiter) && s.r.oxygen_rate < 0.98f * asked[k];
    const float least = p.module_turndown * p.module_oxygen;
    if (limited)
      m.capacity[k] = max_of(least, low_pass(m.capacity[k], kRoom * s.r.oxygen_rate, p.period, kFall));
    else
      m.capacity[k] =
          min_of(p.module_oxygen, m.capacity[k] + p.module_oxygen * p.period / p.capacity_recovery);
  }
}

constexpr Bounds bounds_of(const SharingMemory& m, const ctl_plant_params& p, uint32_t in) {
  Bounds b{};
  b.in = in;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    b.weight[k] = max_of(0.01f, m.weight[k]);
    b.upper[k] = clamp(m.capacity[k], 0.0f, p.module_oxygen);
    b.lower[k] = min_of(p.module_turndown * p.module_oxygen, b.upper[k]);
  }
  return b;
}

constexpr float upper_sum(const Bounds& b) {
  float sum = 0.0f;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) sum += (b.in >> k & 1u) != 0 ? b.upper[k] : 0.0f;
  return sum;
}
constexpr float lower_sum(const Bounds& b) {
  float sum = 0.0f;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) sum += (b.in >> k & 1u) != 0 ? b.lower[k] : 0.0f;
  return sum;
}

/// Which modules produce: all that can, but for those that the demand is too small for, and of these the least weights stay
/// at standby. One begins or stops a tick, and none changes again within module_dwell; what fell out is out at once.
inline void choose_producing(SharingMemory& m, const ctl_plant_params& p, uint32_t able, float demand) {
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k)
    if ((m.producing & ~able) >> k & 1u) m.since_change[k] = 0.0f;
  m.producing &= able;
  if (!(demand > 0.0f)) {
    m.producing = 0;
    return;
  }
  const float lower = lower_sum(bounds_of(m, p, m.producing)),
              upper = upper_sum(bounds_of(m, p, m.producing));
  uint32_t least = CTL_PLANT_MODULES, best = CTL_PLANT_MODULES;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const bool may = m.since_change[k] >= p.module_dwell;
    const bool makes = (m.producing >> k & 1u) != 0;
    if (makes && may && (least == CTL_PLANT_MODULES || m.weight[k] < m.weight[least])) least = k;
    const bool stands = !makes && (able >> k & 1u) != 0 && (may || m.producing == 0 || upper < demand);
    if (stands && (best == CTL_PLANT_MODULES || m.weight[k] > m.weight[best])) best = k;
  }
  const bool one = (m.producing & (m.producing - 1u)) == 0;  // the last one stays
  if (lower > demand && !one && least < CTL_PLANT_MODULES) {
    m.producing &= ~(1u << least);
    m.since_change[least] = 0.0f;
  } else if (best < CTL_PLANT_MODULES &&
             (m.producing == 0 || lower_sum(bounds_of(m, p, m.producing | 1u << best)) <= 0.95f * demand)) {
    m.producing |= 1u << best;
    m.since_change[best] = 0.0f;
  }
}

/// The demand that is shared: what is asked for, but that it falls slowly while there is any.
inline float slow_demand(SharingMemory& m, const ctl_plant_params& p, float asked) {
  m.demand = asked > 0.0f ? max_of(asked, m.demand - p.demand_fall * p.period) : 0.0f;
  return m.demand;
}

/// Shares move towards what is poured; nobody who stopped keeps one.
inline Shares share_demand(SharingMemory& m, const ctl_plant_params& p, float demand) {
  const Shares target = pour(bounds_of(m, p, m.producing), demand);
  const float step = p.share_rate * p.period;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const bool makes = (m.producing >> k & 1u) != 0;
    m.share[k] = makes ? clamp(target.of[k], max_of(0.0f, m.share[k] - step), m.share[k] + step) : 0.0f;
  }
  return target;
}

}  // namespace duskline::controller
