/// Freeze-and-sublime acquisition: a cold bed on which carbon dioxide freezes, then a closed vessel that it leaves.
///
/// What it is   a bed in one of its phases: freezing and subliming flow, heat of it, power of its cooler, pressure of the
///              vessel; the order of phases of two beds in turn
/// Equation     N = k_m A (p - p_sub(T_s)), limited by what the surface can be cooled, as its temperature is a state:
///              C dT_s/dt = N (L + cp (T_gas - T_s)) - Q_cold + Q_heat; it sublimes by the same law into the closed vessel
///              P = Q_cold (T_h - T_c)/(f T_c); molecular limit N <= alpha (p - p_sub)/sqrt(2 pi M R T)
/// Symbols      k_m [mol/s/m2/Pa] mass transfer through the gases that do not freeze, A [m2], L [J/mol], f [1] share of
///              Carnot, T_c, T_h [K] cold and warm end of the cooler
/// Validity     surface 130 K to 210 K; below the triple point (the relief valve must open before)
/// Source       frost point and heat: gas/solid_carbon_dioxide.hpp; share of Carnot 0.10 to 0.25 at 150 K (survey of
///              coolers, from memory); k_m is an estimate of the plant file
/// Left out     profile and conductivity of the ice, frost that falls off, gas of the vessel beside carbon dioxide, its heat,
///              recovery of cold between beds (a factor on Q_cold)
#pragma once

#include "plant-model/gas/solid_carbon_dioxide.hpp"
#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

struct FreezerParameters {
  double area{};            ///< m2, cold surface
  double transfer{};        ///< mol/s/m2/Pa, through what does not freeze, at the usual sweep
  double metal{};           ///< J/K, of the surface and what is cooled with it
  double cooler{};          ///< W, heat that the cooler lifts
  double carnot_share{};    ///< 1, f
  double warm_end{};        ///< K
  double heater{};          ///< W
  double volume{};          ///< m3, of the vessel
  double full{};            ///< mol of ice at which freezing ends
  double empty{};           ///< mol at which sublimation ends
  double start_pressure{};  ///< Pa, in the vessel, at which delivery begins
  double stop_pressure{};   ///< Pa, below which it ends
};

enum class FreezerPhase {
  cooling,       ///< closed, down to the frost point
  freezing,      ///< open to the air
  pressurising,  ///< closed and heated
  delivering,    ///< open to the feed, heated
  venting,       ///< what is left returns to the air
};

/// What decides about the next phase.
struct FreezerView {
  double ice;           ///< mol
  double surface;       ///< K
  double frost_point;   ///< K, of the air at the intake
  double pressure;      ///< Pa, in the vessel
  double ambient;       ///< Pa
  bool other_delivers;  ///< the other bed
};

/// The phase that follows, or the same. A bed that is full is pressurised, and waits until the other is empty.
inline FreezerPhase next_phase(const FreezerParameters& f, FreezerPhase phase, const FreezerView& v) {
  using enum FreezerPhase;
  switch (phase) {
    case cooling:
      return v.surface < v.frost_point ? freezing : cooling;
    case freezing:
      return v.ice >= f.full ? pressurising : freezing;
    case pressurising:
      return v.pressure >= f.start_pressure && !v.other_delivers ? delivering : pressurising;
    case delivering:
      return v.ice <= f.empty && v.pressure <= f.stop_pressure ? venting : delivering;
    case venting:
      return v.pressure <= 1.05 * v.ambient ? cooling : venting;
  }
  return phase;
}

/// Molar flow onto the ice, mol/s; negative when it sublimes. `partial` [Pa] of carbon dioxide, `gas` [K].
template <class S>
S freezing_flow(const FreezerParameters& f, const S& partial, const S& surface) {
  return f.area * f.transfer * (partial - sublimation_pressure(surface));
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
  constexpr double kHeatCapacity = 0.79e3 * kCarbonDioxideMass;  // J/mol/K, of the vapour from 149 to 240 K
  return heat_of_sublimation(surface) + kHeatCapacity * (gas - surface);
}

/// W that a cooler draws to lift `heat` [W] from `cold` [K].
template <class S>
S cooler_power(double carnot_share, double warm_end, const S& cold, const S& heat) {
  return heat * (warm_end - cold) / (carnot_share * cold);
}

/// Pa, of the gas in the vessel.
template <class S>
S vessel_pressure(const FreezerParameters& f, const S& gas_amount, const S& temperature) {
  return gas_amount * temperature * (kGasConstant / f.volume);
}

template <class S>
struct FreezerState {
  S ice;      ///< mol
  S gas;      ///< mol of carbon dioxide in the vessel
  S surface;  ///< K, of surface, ice and vessel
};

template <class S>
struct FreezerRates {
  FreezerState<S> rate;  ///< per second
  S intake;              ///< mol/s of carbon dioxide from the air that sweeps past
  S lifted;              ///< W, heat by the cooler
  S cooler;              ///< W, that it draws
  S heater;              ///< W
};

/// What acts on a bed during a tick.
template <class S>
struct FreezerInputs {
  S partial, air;        ///< Pa of carbon dioxide, K, of what sweeps past while freezing
  S outflow;             ///< mol/s that the feed or the vent takes
  double cooling = 1.0;  ///< 1, share of the cooler, while cooling or freezing
  double heating = 1.0;  ///< 1, share of the heater, while pressurising or delivering
};

template <class S>
FreezerRates<S> freezer_rates(const FreezerParameters& f, FreezerPhase phase, const FreezerState<S>& x,
                              const FreezerInputs<S>& u) {
  using enum FreezerPhase;
  constexpr double kIceCapacity = 55.0;  // J/mol/K, of the solid from 140 to 190 K
  constexpr double kTrace = 0.01;        // of `full`: less ice than that covers the surface in part
  const bool cold = phase == cooling || phase == freezing;
  FreezerRates<S> r;
  const S over = phase == freezing ? u.partial : vessel_pressure(f, x.gas, x.surface);
  const S free = freezing_flow(f, over, x.surface);
  const S covered = x.ice / (x.ice + kTrace * f.full);
  const S onto = pick(less(free, 0.0), S(free * covered), free);  // what is not there does not sublime
  r.intake = phase == freezing ? onto : S(0.0);
  r.lifted = S(cold ? u.cooling * f.cooler : 0.0);
  r.cooler = cooler_power(f.carnot_share, f.warm_end, x.surface, r.lifted);
  r.heater = S(phase == pressurising || phase == delivering ? u.heating * f.heater : 0.0);
  const S heat =
      onto * (phase == freezing ? freezing_heat(u.air, x.surface) : heat_of_sublimation(x.surface));
  r.rate.ice = onto;
  r.rate.gas = phase == freezing ? S(0.0) : S(-1.0 * onto - u.outflow);
  r.rate.surface = (heat - r.lifted + r.heater) / (f.metal + kIceCapacity * x.ice);
  return r;
}

}  // namespace duskline::plant
