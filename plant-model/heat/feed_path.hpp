/// The feed on its way to the stack: recuperator, preheater, and the burning of the air's oxygen on hot
/// nickel.
///
/// What it is   a link: temperatures and enthalpy flows of the two gas streams
/// Equation     recuperator: recuperator.hpp; T_feed = T_co + eps (T_preheater - T_co); 2 CO + O2 -> 2 CO2
///              by min(x_CO/2, x_O2) s(T_feed), s rising from 0 to 1 around 700 K
/// Symbols      H [W] enthalpy flows, T [K], eps [1]
/// Validity     both streams positive; see recuperator.hpp
/// Source       first law on each stream; light-off of nickel around 700 K is an estimate
/// Left out     walls that hold heat; oxygen that passes without burning where there is CO
#pragma once

#include "plant-model/flow/module_flows.hpp"
#include "plant-model/heat/heat_parameters.hpp"
#include "plant-model/heat/recuperator.hpp"

namespace duskline::plant {

template <class S>
struct FeedPath {
  S feed_temperature, exhaust_temperature;          ///< K, at the stack and behind the recuperator
  S feed_at_plenum, feed_recuperated, feed_heated;  ///< W
  S hot_at_manifold, hot_recuperated, hot_at_exit;  ///< W, exhaust and recycle together
  Composition<S> per_feed;                          ///< mol at the stack per mol of feed, after the burning
  S stack_flow;                                     ///< mol/s at the stack
  Composition<S> burnt;                             ///< mole fractions there
  S burning_heat;                                   ///< W released by the burning
};

template <class S>
FeedPath<S> feed_path(const HeatParameters& heat, const ModuleFlows<S>& g, const GasStore<S>& plenum,
                      const GasStore<S>& cathode, const Composition<S>& exit_enthalpy,
                      const S& preheater_temperature) {
  FeedPath<S> f;
  const S& feed = g.feed.out;
  const S hot = g.exhaust.out + g.recycle;
  const Recuperated<S> r =
      recuperate(heat.recuperator_ua, Stream<S>{feed, plenum.share, plenum.temperature, plenum.enthalpy},
                 Stream<S>{hot, cathode.share, cathode.temperature, cathode.enthalpy});
  f.exhaust_temperature = r.hot_out;
  f.feed_temperature = r.cold_out + heat.preheater_effectiveness * (preheater_temperature - r.cold_out);
  f.feed_at_plenum = feed * plenum.molar_enthalpy;
  f.feed_recuperated = f.feed_at_plenum + feed * r.cold_gain;
  f.hot_at_manifold = hot * cathode.molar_enthalpy;
  f.hot_recuperated = f.hot_at_manifold - hot * r.hot_loss;
  f.hot_at_exit = hot * dot(cathode.share, exit_enthalpy);
  const Composition<S> h = gas_enthalpies(f.feed_temperature);
  f.feed_heated = feed * dot(plenum.share, h);

  const S lit = (f.feed_temperature - 700.0) * (1.0 / 30.0);
  const S burn =
      smooth_min(0.5 * plenum.share[CO], plenum.share[O2], 1e-5) * 0.5 * (1.0 + lit / sqrt(1.0 + lit * lit));
  f.per_feed = plenum.share;
  f.per_feed[CO] = f.per_feed[CO] - 2.0 * burn;
  f.per_feed[CO2] = f.per_feed[CO2] + 2.0 * burn;
  f.per_feed[O2] = f.per_feed[O2] - burn;
  const S left = 1.0 - burn;  // three moles become two
  f.stack_flow = feed * left;
  for (std::size_t i = 0; i < kSpecies; ++i) f.burnt[i] = f.per_feed[i] / left;
  f.burning_heat = f.feed_heated - f.stack_flow * dot(f.burnt, h);
  return f;
}

}  // namespace duskline::plant
