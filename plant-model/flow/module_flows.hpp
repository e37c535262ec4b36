/// The gas flows of a stack module, from the stores at their ends.
///
/// What it is   links: every flow between feed terminal, cathode and anode volume, suction terminal and surroundings
/// Equation     apertures, line and seals as in their own files; a flow N is kept as N+ - N-, convection with
///              diffusion (two_way.hpp)
/// Symbols      N [mol/s], p [Pa], T [K], h [J/mol]
/// Validity     see aperture.hpp; the feed line is laminar: N = G (p1^2 - p2^2)
/// Source       Hagen-Poiseuille with compressible gas for the feed line
/// Left out     pressure drop in the recuperator and in the stack
#pragma once

#include "plant-model/flow/aperture.hpp"
#include "plant-model/flow/flow_parameters.hpp"
#include "plant-model/flow/gas_store.hpp"
#include "plant-model/flow/two_way.hpp"
#include "plant-model/gas/transport.hpp"
#include "plant-model/network/boundary.hpp"

namespace duskline::plant {

/// Pressure difference at which as much passes a seal as diffuses through it without one, Pa.
inline constexpr double kSealDiffusion = 0.5;

template <class S>
struct ModuleFlows {
  S recycle;          ///< exhaust to suction, never back
  TwoWay<S> feed;     ///< feed terminal to cathode
  TwoWay<S> exhaust;  ///< cathode to surroundings
  TwoWay<S> product;  ///< anode to surroundings
  TwoWay<S> seal;     ///< cathode to anode, seals and cracks
};

/// `leak` [mol/s/Pa] of seals and cracks; `exhaust_temperature` [K] at which exhaust and recycle reach their apertures
/// (variants.hpp).
template <class S>
ModuleFlows<S> module_flows(const FlowParameters& flow, double leak, const Boundary& b,
                            const GasStore<S>& feed, const GasStore<S>& cathode, const GasStore<S>& anode,
                            const S& opening, const S& exhaust_temperature) {
  const Ambient& air = b.ambient;
  const S p_air = S(air.pressure), T_air = S(air.temperature), M_air = S(b.air_molar_mass);
  const S M_cathode = molar_mass(cathode.share);
  ModuleFlows<S> g;
  const S per_area =
      aperture_flow(S(1.0), cathode.pressure, exhaust_temperature, M_cathode, p_air, T_air, M_air);
  g.exhaust = two_way(flow.exhaust_aperture * per_area, flow.outlet_diffusion);
  g.recycle = positive_part(flow.recycle_aperture * opening * per_area, 1e-9);
  g.product = two_way(aperture_flow(S(flow.product_aperture), anode.pressure, anode.temperature,
                                    molar_mass(anode.share), p_air, T_air, M_air),
                      flow.outlet_diffusion);
  g.feed =
      two_way(flow.feed_conductance * (feed.pressure * feed.pressure - cathode.pressure * cathode.pressure),
              flow.feed_diffusion);
  constexpr double kNoLeak = 1e-20;  // mol/s, so that no leak at all is defined
  g.seal = two_way(leak * (cathode.pressure - anode.pressure), leak * kSealDiffusion + kNoLeak);
  return g;
}

template <class S>
S mass_flow(const TwoWay<S>& moles, const Composition<S>& gas) {
  return moles.net() * molar_mass(gas);
}

}  // namespace duskline::plant
