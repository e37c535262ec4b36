/// Dryer and liquefier of the product: what they draw for a flow of oxygen.
///
/// What it is   links: power for a flow; the oxygen leaves the plant behind them
/// Equation     liquefier P = N M (h_fg + cp (T - T_l)) (T_h - T_l)/(f T_l); dryer P = N x_w (q_w + c)/eta, pressure drop
///              dp = R N
/// Symbols      N [mol/s], M [kg/mol], h_fg = 213 kJ/kg, cp = 0.92 kJ/kg/K, T_l [K] of the liquid, f [1] share of Carnot, T_h [K] warm
///              end; x_w [1] water in the gas, q_w [J/mol] heat of desorption, c [J/mol] heat of the bed for a mole of water
/// Validity     oxygen near 1 bar, from 200 to 400 K; both follow within seconds (their tank and bed are outside)
/// Source       latent heat and capacity of oxygen: handbooks (from memory); f 0.15 to 0.25: survey of coolers (from memory)
/// Left out     boil-off of the tank, regeneration as a batch, ortho-para (none)
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

struct Liquefier {
  double carnot_share = 0.20;  ///< 1
  double warm_end = 300.0;     ///< K
  double liquid = 90.0;        ///< K
};

/// Heat to take from a mole of oxygen, J/mol.
template <class S>
S liquefaction_heat(const Liquefier& l, const S& temperature) {
  constexpr double kMass = 0.0319988, kLatent = 213e3, kCapacity = 0.92e3;
  return kMass * (kLatent + kCapacity * (temperature - l.liquid));
}

/// W, for `flow` [mol/s] at `temperature` [K].
template <class S>
S liquefier_power(const Liquefier& l, const S& flow, const S& temperature) {
  return flow * liquefaction_heat(l, temperature) * ((l.warm_end - l.liquid) / (l.carnot_share * l.liquid));
}

struct Dryer {
  double water = 1e-4;       ///< 1, mole fraction in the product
  double desorption = 75e3;  ///< J/mol of water, from zeolite
  double bed_heat = 225e3;   ///< J/mol of water, to heat the bed by 200 K at 10 % loading
  double efficiency = 0.5;   ///< 1, of the heat that reaches the bed
  double resistance = 0.0;   ///< Pa s/mol
};

template <class S>
S dryer_power(const Dryer& d, const S& flow) {
  return flow * (d.water * (d.desorption + d.bed_heat) / d.efficiency);
}
template <class S>
S dryer_pressure_drop(const Dryer& d, const S& flow) {
  return flow * d.resistance;
}

}  // namespace duskline::plant
