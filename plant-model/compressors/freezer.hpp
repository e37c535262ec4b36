/// Freeze-and-sublime acquisition: two beds in turn; carbon dioxide freezes on one at the pressure of the air, while what
/// froze on the other sublimes in a closed vessel at the pressure of the feed header.
///
/// What it is   laws of a bed (the part that runs by them is in freezer.cpp): the clock of phases, freezing and subliming
///              flow, temperature from the heat that it holds, cooler, heating, regulator to the header
/// Equation     swept bed: N = K (p y_out - p_sub), F y - N = (F - N) y_out, a quadratic in N;
///              closed vessel: N = K (p_vessel - p_sub), K = k_m A; dn/dt = N, dn_g/dt = -N - N_out;
///              U = C theta + n (c_i theta - L0) + n_g (c_g theta - R T), theta = T - T0;
///              cooler P = Q (T_h - T)/(f T); N_out = G (p_vessel - p)+ x, x = (p_set - p)/band in 0 to 1
/// Symbols      n [mol] ice, n_g [mol] gas in the vessel, T [K] of surface, ice and gas; k_m [mol/s/m2/Pa] mass transfer
///              through the gases that do not freeze, F [mol/s] swept air, y [1] its carbon dioxide, p [Pa]; L0 [J/mol] at
///              T0, c_i, c_g [J/mol/K] of ice and gas, C [J/K] metal; f [1] share of Carnot, T_h [K] its warm end
/// Validity     surface 130 K to 210 K; below the triple point, so that a vessel never stands above 5 bar
/// Source       frost point and heat: gas/solid_carbon_dioxide.hpp; share of Carnot 0.10 to 0.25 at 150 K (survey of
///              coolers, from memory); k_m is an estimate of the plant file; the sequence by a clock: common practice of
///              beds that swing in turn
/// Left out     profile and conductivity of the ice, frost that falls off, gas of the vessel beside carbon dioxide, cold that
///              leaves with swept air (a recuperator keeps it), recovery of cold between the beds
#pragma once

#include "plant-model/gas/solid_carbon_dioxide.hpp"
#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

struct FreezerParameters {
  double area{};               ///< m2, cold surface of a bed
  double transfer{};           ///< mol/s/m2/Pa
  double sweep{};              ///< m3/s of air over a bed that freezes
  double fan_pressure{};       ///< Pa
  double fan_efficiency{};     ///< 1
  double metal{};              ///< J/K, of a surface and its vessel
  double leak{};               ///< W/K, from the housing to a bed
  double cooler{};             ///< W, heat that the cooler lifts at most
  double coldest{};            ///< K, surface at which it lifts nothing
  double carnot_share{};       ///< 1, f
  double warm_end{};           ///< K
  double heating{};            ///< W/K, from the housing's coolant to a bed that sublimes
  double volume{};             ///< m3, of a vessel
  double full{};               ///< mol of ice at which the cooler stops
  double vessel_pressure{};    ///< Pa, that heating holds
  double header_pressure{};    ///< Pa, set-point of the regulator
  double regulator_band{};     ///< Pa
  double regulator{};          ///< mol/s/Pa, open
  double period{};             ///< s, both beds once
  double design_flow{};        ///< mol/s
  double blower_pressure{};    ///< Pa, inlet of the blower for recycled gas
  double blower_efficiency{};  ///< 1, isothermal
};

enum class FreezerPhase {
  delivering,    ///< closed to the air and heated, open to the header
  cooling,       ///< closed, down to the frost point; the gas of the vessel freezes
  freezing,      ///< open to the air
  pressurising,  ///< closed and heated
};

/// By the share of its cycle that a bed has behind it; the other bed is half a cycle ahead, so one always delivers.
inline FreezerPhase freezer_phase(double cycles) {
  constexpr double kDelivered = 0.5, kCooled = 0.56, kFrozen = 0.94;
  const double share = cycles - std::floor(cycles);
  if (share < kDelivered) return FreezerPhase::delivering;
  if (share < kCooled) return FreezerPhase::cooling;
  return share < kFrozen ? FreezerPhase::freezing : FreezerPhase::pressurising;
}

inline constexpr double kSublimes = 190.0;                              ///< K, T0
inline constexpr double kVapourCapacity = 0.79e3 * kCarbonDioxideMass;  ///< J/mol/K, from 149 to 240 K
/// J/mol/K; that with which the heat of sublimation falls as it does.
inline const double kIceCapacity =
    kVapourCapacity + (heat_of_sublimation(kSublimes - 1.0) - heat_of_sublimation(kSublimes));

template <class S>
struct FreezerBed {
  S ice;   ///< mol
  S gas;   ///< mol of carbon dioxide in the vessel
  S heat;  ///< J, U: of all that a bed holds, above gas at T0 and metal at T0
};

/// K.
template <class S>
S bed_temperature(const FreezerParameters& f, const FreezerBed<S>& x) {
  const double latent = heat_of_sublimation(kSublimes);
  return kSublimes + (x.heat + latent * x.ice + kGasConstant * kSublimes * x.gas) /
                         (f.metal + kIceCapacity * x.ice + (kVapourCapacity - kGasConstant) * x.gas);
}
/// J, of a bed at a temperature.
inline double bed_heat(const FreezerParameters& f, double ice, double gas, double temperature) {
  const double above = temperature - kSublimes;
  return f.metal * above + ice * (kIceCapacity * above - heat_of_sublimation(kSublimes)) +
         gas * (kVapourCapacity * above - kGasConstant * temperature);
}

/// Pa, of the gas in the vessel.
template <class S>
S vessel_pressure(const FreezerParameters& f, const S& gas, const S& temperature) {
  return gas * temperature * (kGasConstant / f.volume);
}

/// What is not there does not sublime: less ice than a hundredth of a full bed covers the surface in part.
template <class S>
S onto_ice(const FreezerParameters& f, const S& flow, const S& ice) {
  constexpr double kTrace = 0.01;
  return pick(less(flow, 0.0), S(flow * ice / (ice + kTrace * f.full)), flow);
}

/// Molar flow onto the ice of a closed vessel, mol/s; negative when it sublimes. `pressure` [Pa].
template <class S>
S freezing_flow(const FreezerParameters& f, const S& pressure, const S& surface) {
  return f.area * f.transfer * (pressure - sublimation_pressure(surface));
}
/// The same from air that is swept past: `swept` [mol/s] at `pressure` [Pa], `share` [1] of it carbon dioxide.
template <class S>
S swept_freezing_flow(const FreezerParameters& f, double swept, double pressure, double share,
                      const S& surface) {
  const double k = f.area * f.transfer;
  const S over = sublimation_pressure(surface);
  const S half = 0.5 * (swept + k * (pressure - over));
  // the root below the swept carbon dioxide; the other is above all that is swept
  const S spread = 0.25 * (swept - k * (pressure - over)) * (swept - k * (pressure - over)) +
                   k * swept * pressure * (1.0 - share);
  return half - sqrt(spread);
}
/// The same through no other gas: kinetic theory, per area.
template <class S>
S molecular_limit(double alpha, const S& partial, const S& surface) {
  constexpr double kTwoPi = 6.28318530717958647693;
  return alpha * (partial - sublimation_pressure(surface)) /
         sqrt(kTwoPi * kCarbonDioxideMass * kGasConstant * surface);
}

/// Heat that a mole of gas gives to the surface on which it freezes, J/mol.
template <class S>
S freezing_heat(const S& gas, const S& surface) {
  return heat_of_sublimation(surface) + kVapourCapacity * (gas - surface);
}

/// W that a cooler draws to lift `heat` [W] from `cold` [K].
template <class S>
S cooler_power(double carnot_share, double warm_end, const S& cold, const S& heat) {
  constexpr double kWidth = 0.1;  // K: below its own warm end it has to work
  return heat * positive_part(S(warm_end - cold), kWidth) / (carnot_share * cold);
}

/// x held between 0 and 1, rounded at both ends.
template <class S>
S within_one(const S& x) {
  constexpr double kWidth = 0.02;
  return positive_part(x, kWidth) - positive_part(S(x - 1.0), kWidth);
}

/// W that the cooler lifts from a bed: less near its coldest surface, none from a full bed.
template <class S>
S lifted_heat(const FreezerParameters& f, const S& ice, const S& surface) {
  constexpr double kBand = 5.0, kLast = 0.02;  // K; of a full bed
  return f.cooler * within_one(S((surface - f.coldest) * (1.0 / kBand))) *
         within_one(S((f.full - ice) * (1.0 / (kLast * f.full))));
}

/// W from coolant at `warm` K to a bed that sublimes: as much as holds the pressure of its vessel, none to an empty one.
template <class S>
S heating_flow(const FreezerParameters& f, const S& pressure, const S& surface, const S& warm) {
  constexpr double kBand = 2e3, kWarmest = 205.0, kLast = 5.0;  // Pa; K; K
  return f.heating * (warm - surface) * within_one(S((f.vessel_pressure - pressure) * (1.0 / kBand))) *
         within_one(S((kWarmest - surface) * (1.0 / kLast)));
}

/// mol/s through the regulator from a vessel to the header.
template <class S>
S regulator_flow(const FreezerParameters& f, const S& vessel, const S& header) {
  constexpr double kWidth = 10.0;  // Pa
  return f.regulator * positive_part(S(vessel - header), kWidth) *
         within_one(S((f.header_pressure - header) * (1.0 / f.regulator_band)));
}

}  // namespace duskline::plant
