/// All gas flows between the stores, from the stores at their ends.
///
/// What it is   stores: pressures, composition and enthalpies of the three gas volumes; links: every flow
///              between them
/// Equation     p = n R T/V in a store; apertures, line, suction and seals as in their own files; a flow N is
///              kept as N+ - N-, convection with diffusion (two_way.hpp)
/// Symbols      N [mol/s], p [Pa], T [K], h [J/mol]
/// Validity     see aperture.hpp, suction.hpp; the feed line is laminar: N = G (p1^2 - p2^2)
/// Source       ideal gas; Hagen-Poiseuille with compressible gas for the feed line
/// Left out     pressure drop in the recuperator and in the stack
#pragma once

#include "plant-model/environment/ambient.hpp"
#include "plant-model/flow/aperture.hpp"
#include "plant-model/flow/flow_parameters.hpp"
#include "plant-model/flow/scroll_compressor.hpp"
#include "plant-model/flow/suction.hpp"
#include "plant-model/flow/two_way.hpp"
#include "plant-model/gas/transport.hpp"
#include "plant-model/heat/housing.hpp"

namespace duskline::plant {

/// The surroundings at a tick, with what depends on them and on the slow state alone.
struct Boundary {
  Ambient ambient;
  double filter_resistance{};  ///< Pa s/mol
  double air_molar_mass{};     ///< kg/mol
  double air_enthalpy{};       ///< J/mol
  HousingBoundary housing{};
};

/// A gas volume: amounts, mole fractions, pressure, and the enthalpies at its temperature.
template <class S>
struct GasStore {
  Composition<S> amount, share, enthalpy;
  S pressure, temperature;
  S molar_enthalpy;  ///< J/mol of its mixture
};

template <class S>
GasStore<S> gas_store(const S* amounts, const S& temperature, double volume) {
  GasStore<S> g;
  for (std::size_t i = 0; i < kSpecies; ++i) g.amount[i] = amounts[i];
  g.temperature = temperature;
  g.share = fractions(g.amount, 1e-12);
  g.pressure = total(g.amount) * temperature * (kGasConstant / volume);
  g.enthalpy = gas_enthalpies(temperature);
  g.molar_enthalpy = dot(g.share, g.enthalpy);
  return g;
}

/// Pressure difference at which as much passes a seal as diffuses through it without one, Pa.
inline constexpr double kSealDiffusion = 0.5;

template <class S>
struct GasLinks {
  Suction<S> suction;  ///< filter, recycle and leak into the compressor
  S recycle;           ///< exhaust to suction, never back
  TwoWay<S> feed;      ///< plenum to cathode
  TwoWay<S> exhaust;   ///< cathode to surroundings
  TwoWay<S> product;   ///< anode to surroundings
  TwoWay<S> seal;      ///< cathode to anode, seals and cracks
  S suction_temperature;
};

/// `leak` [mol/s/Pa] of seals and cracks; `suction_heating` [1] share of the way to the shell's temperature;
/// `exhaust_temperature` [K] at which exhaust and recycle reach their apertures (variants.hpp).
template <class S>
GasLinks<S> gas_links(const FlowParameters& flow, const CompressorParameters& compressor, double leak,
                      double suction_heating, const Boundary& b, const GasStore<S>& plenum,
                      const GasStore<S>& cathode, const GasStore<S>& anode, const S& speed, const S& opening,
                      const S& shell_temperature, const S& exhaust_temperature) {
  const Ambient& air = b.ambient;
  const S p_air = S(air.pressure), T_air = S(air.temperature), M_air = S(b.air_molar_mass);
  const S M_cathode = molar_mass(cathode.share);
  GasLinks<S> g;
  const S per_area =
      aperture_flow(S(1.0), cathode.pressure, exhaust_temperature, M_cathode, p_air, T_air, M_air);
  g.exhaust = two_way(flow.exhaust_aperture * per_area, flow.outlet_diffusion);
  g.recycle = positive_part(flow.recycle_aperture * opening * per_area, 1e-9);
  g.product = two_way(aperture_flow(S(flow.product_aperture), anode.pressure, anode.temperature,
                                    molar_mass(anode.share), p_air, T_air, M_air),
                      flow.outlet_diffusion);
  g.feed = two_way(
      flow.feed_conductance * (plenum.pressure * plenum.pressure - cathode.pressure * cathode.pressure),
      flow.feed_diffusion);
  constexpr double kNoLeak = 1e-20;  // mol/s, so that no leak at all is defined
  g.seal = two_way(leak * (cathode.pressure - anode.pressure), leak * kSealDiffusion + kNoLeak);
  g.suction_temperature = T_air + suction_heating * (shell_temperature - air.temperature);
  g.suction = suction_manifold(air.pressure, b.filter_resistance, air.composition,
                               swept_flow_per_pascal(compressor, speed, g.suction_temperature),
                               compressor.leakage, plenum.pressure, plenum.share, g.recycle, cathode.share);
  return g;
}

}  // namespace duskline::plant
