/// Carbon and nickel oxide: how far each place is from forming them, and how fast they form.
///
/// What it is   pure functions of the local state of one segment (carbon) and of the inlet (nickel oxide)
/// Equation     a_C = K_B p_CO^2/p_CO2 exp(2 F lambda eta_c/RT); margin = -(RT/(2 F lambda)) ln a_C (V_onset
///              = V + margin); carbon: k_c A ramp(a_C(1/2) - 1) - n/t_g ramp(1 - a_C(1/2)); oxide: n_Ni [k_o
///              (1-f) ramp(1-q) - k_r f ramp(q-1)/q]
/// Symbols      lambda [1] share of the overpotential, eta_c [V], n [mol], f [1] oxidised share, q =
///              (p_CO/p_CO2)/K_Ni
/// Validity     where the cell model is valid; rates are frozen out by an Arrhenius factor below about 600
///              degC
/// Source       thermodynamics: thermochemistry.hpp; rates and their form are estimates (no published onset
///              rate was found)
/// Left out     filament mechanics, metal dusting downstream, coking of the recuperator
#pragma once

#include "plant-model/stack/cell.hpp"

namespace duskline::plant {

struct DegradationParameters {
  double carbon_rate{};        ///< mol/m2/s at a_C - 1 = 1 and 1073.15 K
  double carbon_energy{};      ///< J/mol
  double gasification_time{};  ///< s, at a_C = 0 and 1073.15 K
  double carbon_reference{};   ///< mol per cell that doubles the resistance and halves the flow share
  double carbon_damage{};      ///< 1/mol, irreversible share of deposition that becomes damage
  double nickel_amount{};      ///< mol of nickel per cell within reach of the gas
  double oxidation_time{};     ///< s, at q = 0 and 1073.15 K
  double reduction_time{};     ///< s, at q >> 1 and 1073.15 K
  double oxidation_energy{};   ///< J/mol
  double oxide_damage{};       ///< 1, irreversible damage per fully oxidised cell
  double oxide_resistance{};   ///< 1, relative rise of resistance when fully oxidised
  double ageing_rate{};        ///< ohm m2/s at 3000 A/m2
  double cycle_ageing{};       ///< ohm m2 per full thermal cycle of 780 K up and down at 2 K/min
};

/// a_C at the reaction zone without overpotential; u, w there, pressure in bar.
template <class S>
S carbon_activity(const S& log_boudouard, const S& u, const S& w, const S& pressure) {
  return exp(log_boudouard) * pressure * u * u / w;
}

/// Volts between the cell voltage and the coke-onset voltage of this place; `cathode_factor` is exp(F
/// eta_c/RT).
template <class S>
S coke_margin(const S& activity, const S& cathode_factor, const S& thermal_voltage, double share) {
  if (share == 1.0) return -0.5 * thermal_voltage * log(activity * cathode_factor * cathode_factor);
  return -0.5 * thermal_voltage * (log(activity) / share + 2.0 * log(cathode_factor));
}

template <class S>
S arrhenius(double energy, const S& T) {
  return exp((1.0 / T - 1.0 / kReferenceTemperature) * (-energy / kGasConstant));
}

/// Carbon formed per area, mol/m2/s, where `half`, the activity with half the overpotential, passes one.
inline Pack carbon_formation(const DegradationParameters& p, const Pack& half, const Pack& T) {
  if (none(half.v > 1.0)) return Pack(0.0);
  const Pack excess = ramp(Pack(select(half.v > 1e6, Pack(1e6), half) - 1.0), 0.05);
  const Pack drive = excess / (1.0 + 0.05 * excess);  // supply of CO bounds the rate far above onset
  return p.carbon_rate * drive * arrhenius(p.carbon_energy, T);
}

/// Relative rise of resistance and remaining flow share of a cell from its carbon, oxide and damage.
inline double resistance_rise(const DegradationParameters& p, double carbon, double damage, double oxide) {
  return 1.0 + carbon / p.carbon_reference + damage + p.oxide_resistance * oxide / p.nickel_amount;
}
inline double flow_remaining(const DegradationParameters& p, double carbon, double damage) {
  return 1.0 / (1.0 + carbon / p.carbon_reference + 0.5 * damage);
}

}  // namespace duskline::plant
