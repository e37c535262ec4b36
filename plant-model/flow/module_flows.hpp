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
#include "plant-model/header_parameters.hpp"
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

template <class S>
TwoWay<S> seal_flow(double leak, const GasStore<S>& cathode, const GasStore<S>& anode) {
  constexpr double kNoLeak = 1e-20;  // mol/s, so that no leak at all is defined
  return two_way(leak * (cathode.pressure - anode.pressure), leak * kSealDiffusion + kNoLeak);
}

/// Area of the oxygen outlet, m2. A back-pressure valve opens as the anode rises towards the cathode:
/// x = (p_a - p_c + d)/band between 0 and 1, without lag (a spring and a diaphragm between the two).
template <class S>
S product_area(const FlowParameters& f, const S& cathode, const S& anode) {
  if (f.product_band <= 0.0) return S(f.product_aperture);
  constexpr double kRounded =
      0.02;  // of the travel, at both ends; what is left of it when shut is its leak, 1e-4
  const S x = (anode - cathode + f.product_below) * (1.0 / f.product_band);
  return f.product_aperture * (positive_part(x, kRounded) - positive_part(S(x - 1.0), kRounded));
}

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
  g.product = two_way(aperture_flow(product_area(flow, cathode.pressure, anode.pressure), anode.pressure,
                                    anode.temperature, molar_mass(anode.share), p_air, T_air, M_air),
                      flow.outlet_diffusion);
  g.feed =
      two_way(flow.feed_conductance * (feed.pressure * feed.pressure - cathode.pressure * cathode.pressure),
              flow.feed_diffusion);
  g.seal = seal_flow(leak, cathode, anode);
  return g;
}

/// How far the isolation valves of a module are open, which follow its feed valve; their leakage when it is shut.
template <class S>
S isolation(const ValveParameters& v, const S& travel) {
  constexpr double kOpens = 0.01;  // of the travel
  return v.isolation_leakage +
         (1.0 - v.isolation_leakage) * travel * travel / (travel * travel + kOpens * kOpens);
}

/// The same flows where the module stands between headers; `travel` is that of its feed valve.
template <class S>
ModuleFlows<S> header_flows(const FlowParameters& flow, const ValveParameters& v, double leak,
                            const GasStore<S>& feed, const GasStore<S>& cathode, const GasStore<S>& anode,
                            const GasStore<S>& exhaust, const GasStore<S>& product, const S& travel) {
  const S open = isolation(v, travel);
  // both parts of a flow with what they would be through an open valve
  const auto isolated = [&open](const S& net, double at_no_flow) {
    const TwoWay<S> all = two_way(net, at_no_flow);
    return TwoWay<S>{open * all.out, open * all.back};
  };
  const auto squares = [](const GasStore<S>& a, const GasStore<S>& b) {
    return a.pressure * a.pressure - b.pressure * b.pressure;
  };
  ModuleFlows<S> g;
  g.feed = isolated(valve_flow(control_valve(v, v.feed_capacity, v.stroke), kIsentropicExponent, travel,
                               feed.pressure, feed.temperature, molar_mass(feed.share), cathode.pressure,
                               feed.temperature, molar_mass(cathode.share)),
                    flow.feed_diffusion);
  g.exhaust = isolated(v.exhaust_line * squares(cathode, exhaust), flow.outlet_diffusion);
  g.product = isolated(v.product_line * squares(anode, product), flow.outlet_diffusion);
  g.recycle = S(0.0);
  g.seal = seal_flow(leak, cathode, anode);
  return g;
}

template <class S>
S mass_flow(const TwoWay<S>& moles, const Composition<S>& gas) {
  return moles.net() * molar_mass(gas);
}

}  // namespace duskline::plant
