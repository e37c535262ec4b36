/// The power ceiling of the bus, shared between the modules: what gives way, and in which order.
///
/// What it is   liquefier, then header pressure, then current (first of the module with the least margin, down to the
///              protective one), heaters last
/// Equation     deficit = sum (P_heat + e x) - (P_ceiling - headroom - P_other - what the liquefier still draws);
///              e = 1.05 (P_module - P_heat)/x where a module makes oxygen, between 0.6 and 1 of oxygen_energy
/// Symbols      e [J/kg] energy of the cells per oxygen, filtered, x [kg/s] share, P_heat [W] the most that heaters took
///              lately (a module that is short of power cuts them, so what they take now does not say what they need),
///              P_other [W] bus less modules, filtered; what the liquefier drew when it was shed leaves P_other with that
///              filter, and is counted off with the same
/// Validity     any ceiling; without one nothing is done. A share that gave way comes back at the rate of the shares
/// Source       order: oxygen can wait, heat cannot (the stacks crack when they cool fast)
/// Left out     announced ceilings (the modules look ahead: supervise/ceiling.hpp)
#pragma once

#include "controller/plant/sharing.hpp"

namespace duskline::controller {

struct PowerMemory {
  float other_load;                 // W
  float relief;                     // W that the liquefier is still counted with after it was shed
  uint32_t shed;                    // ctl_shed bits
  uint32_t cut;                     // bits of the modules whose current gave way since there was room last
  uint32_t known;                   // 1 once the bus has been measured
  float heat[CTL_PLANT_MODULES];    // W, P_heat
  float energy[CTL_PLANT_MODULES];  // J/kg, e; 0 before the first
  float given[CTL_PLANT_MODULES];   // kg/s that the modules were asked for at the last tick
};

struct PowerView {
  Shares share;    // kg/s after shedding
  Shares ceiling;  // W of each module; NaN: none
  float surplus;   // W left, below 0 a deficit; NaN without a ceiling
};

/// What a module takes for heat, and for oxygen.
inline void learn_power(PowerMemory& m, const ctl_plant_params& p, const ModulesSeen& seen,
                        const Shares& wanted) {
  constexpr float kAbove = 1.05f,
                  kLeast = 0.6f;  // a voltage that rises with the current; no cell makes oxygen for less
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const ctl_module_report& r = seen.of[k].r;
    const float heating = seen.of[k].reports ? max_of(0.0f, r.heating) : 0.0f;
    m.heat[k] = max_of(heating, low_pass(m.heat[k], heating, p.period, p.load_filter));
    if (m.energy[k] == 0.0f) {
      m.energy[k] = p.oxygen_energy;
      m.given[k] = wanted.of[k];
    }
    if (!seen.of[k].reports || !(r.oxygen_rate > 2.0f * p.protective_oxygen)) continue;
    const float now =
        clamp(kAbove * (r.power - heating) / r.oxygen_rate, kLeast * p.oxygen_energy, p.oxygen_energy);
    m.energy[k] = low_pass(m.energy[k], now, p.period, p.load_filter);
  }
}

inline PowerView share_power(PowerMemory& m, const ctl_plant_params& p, const PlantSignals& y,
                             const ModulesSeen& seen, const Shares& wanted, float ceiling) {
  PowerView v{wanted, {}, __builtin_nanf("")};
  if (y.has(rd_bus_power)) {
    const float load = max_of(0.0f, y[rd_bus_power] - seen.power);
    m.other_load = m.known == 0 ? load : low_pass(m.other_load, load, p.period, p.load_filter);
    m.known = 1;
  }
  m.relief = low_pass(m.relief, 0.0f, p.period, p.load_filter);
  learn_power(m, p, seen, wanted);
  if (!is_finite(ceiling)) {
    m.shed = m.cut = 0;
    for (float& c : v.ceiling.of) c = __builtin_nanf("");
    for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) m.given[k] = wanted.of[k];
    return v;
  }
  float needed = 0.0f;
  uint32_t count = 0;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    if (!seen.of[k].reports) continue;
    needed += m.heat[k] + wanted.of[k] * m.energy[k];
    ++count;
  }
  const float available = ceiling - p.ceiling_headroom - max_of(0.0f, m.other_load - m.relief);
  v.surplus = available - needed;

  const float liquefier =
      max_of(0.0f, y.has(rd_product_flow) ? y[rd_product_flow] : seen.oxygen_rate) * p.liquefier_energy;
  if (v.surplus < 0.0f && (m.shed & CTL_SHED_LIQUEFIER) == 0) {
    m.shed |= CTL_SHED_LIQUEFIER;
    m.relief += liquefier;
    v.surplus += liquefier;
  } else if (v.surplus < 0.0f) {
    m.shed |= CTL_SHED_COMPRESSOR;
  } else if ((m.shed & CTL_SHED_COMPRESSOR) != 0 && v.surplus > p.ceiling_headroom) {
    m.shed &= ~uint32_t{CTL_SHED_COMPRESSOR};
  } else if (v.surplus > liquefier + p.ceiling_headroom) {
    m.shed &= ~uint32_t{CTL_SHED_LIQUEFIER};
  }

  // current: of a module that gives way already, then of that with the least margin; what is cut gains margin, and a choice
  // by margin alone would take another one at each tick
  float deficit = max_of(0.0f, -v.surplus);
  uint32_t left = 0, cut_now = 0;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) left |= wanted.of[k] > p.protective_oxygen ? 1u << k : 0u;
  m.shed &= ~uint32_t{CTL_SHED_CURRENT | CTL_SHED_HEAT};
  while (deficit > 0.0f && left != 0) {  // one module a round
    uint32_t least = CTL_PLANT_MODULES;
    for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
      if ((left >> k & 1u) == 0) continue;
      const bool first = least == CTL_PLANT_MODULES;
      const bool before = !first && (m.cut >> least & 1u) != 0, now = (m.cut >> k & 1u) != 0;
      const bool lower = !first && before == now && seen.of[k].r.coke_margin < seen.of[least].r.coke_margin;
      if (first || (now && !before) || lower) least = k;
    }
    left &= ~(1u << least);
    cut_now |= 1u << least;
    const float can = (wanted.of[least] - p.protective_oxygen) * m.energy[least];
    const float cut = min_of(can, deficit);
    v.share.of[least] = max_of(p.protective_oxygen, wanted.of[least] - cut / m.energy[least]);
    deficit -= cut;
    m.shed |= CTL_SHED_CURRENT;
  }
  // who gives way goes on to until there is room again: a deficit that comes and goes would take another one each time
  m.cut = v.surplus > p.ceiling_headroom ? cut_now : m.cut | cut_now;
  if (deficit > 0.0f) m.shed |= CTL_SHED_HEAT;

  // what gives way does so at once and comes back slowly: a deficit that ends with the cut would bring it all back
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    v.share.of[k] = min_of(v.share.of[k], max_of(m.given[k], p.protective_oxygen) + p.share_rate * p.period);
    m.given[k] = v.share.of[k];
  }

  float heaters = 0.0f;
  for (const float h : m.heat) heaters += h;
  const float scale = heaters > 0.0f ? max_of(0.0f, 1.0f - deficit / heaters) : 1.0f;
  const float spare = count > 0 ? max_of(0.0f, v.surplus) / static_cast<float>(count) : 0.0f;
  for (uint32_t k = 0; k < CTL_PLANT_MODULES; ++k)
    v.ceiling.of[k] = m.heat[k] * scale + v.share.of[k] * m.energy[k] + spare;
  return v;
}

}  // namespace duskline::controller
