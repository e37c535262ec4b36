/// The feed on its way to the stack: recuperator, preheater, and the burning of the air's oxygen on hot
/// nickel.
///
/// What it is   a link: temperatures and enthalpy flows of the two gas streams
/// Equation     recuperator: recuperator.hpp; T_feed = T_co + eps (T_preheater - T_co); burnt = min(x_CO/2,
///              x_O2) s(T_feed), s rising from 0 to 1 around 700 K
/// Symbols      H [W] enthalpy flows, T [K], eps [1]
/// Validity     both streams positive; see recuperator.hpp
/// Source       first law on each stream; light-off of nickel around 700 K is an estimate
/// Left out     walls that hold heat; oxygen that passes without burning where there is CO
#pragma once

#include "plant-model/flow/gas_links.hpp"
#include "plant-model/heat/recuperator.hpp"

namespace duskline::plant {

template <class S>
struct FeedPath {
  S feed_temperature, exhaust_temperature;             ///< K, at the stack and behind the recuperator
  S feed_at_plenum, feed_recuperated, feed_heated;     ///< W
  S hot_at_manifold, hot_recuperated, hot_at_housing;  ///< W, exhaust and recycle together
  Composition<S> burnt;                                ///< mole fractions at the stack
  S burning_heat;                                      ///< W released by the burning
};

template <class S>
FeedPath<S> feed_path(const HeatParameters& heat, const GasLinks<S>& g, const GasStore<S>& plenum,
                      const GasStore<S>& cathode, const Composition<S>& manifold_cp,
                      const Composition<S>& housing_enthalpy, const S& preheater_temperature) {
  FeedPath<S> f;
  const S& feed = g.feed.out;
  const S hot = S(g.exhaust.out + g.recycle);
  const Recuperated<S> r =
      recuperate(heat.recuperator_ua, feed, dot(plenum.share, manifold_cp), plenum.temperature, hot,
                 dot(cathode.share, manifold_cp), cathode.temperature);
  f.exhaust_temperature = r.hot_out;
  f.feed_temperature = S(r.cold_out + heat.preheater_effectiveness * (preheater_temperature - r.cold_out));
  f.feed_at_plenum = S(feed * plenum.molar_enthalpy);
  f.feed_recuperated = S(feed * dot(plenum.share, gas_enthalpies(r.cold_out)));
  f.hot_at_manifold = S(hot * cathode.molar_enthalpy);
  f.hot_recuperated = S(hot * dot(cathode.share, gas_enthalpies(r.hot_out)));
  f.hot_at_housing = S(hot * dot(cathode.share, housing_enthalpy));
  const Composition<S> h = gas_enthalpies(f.feed_temperature);
  f.feed_heated = S(feed * dot(plenum.share, h));

  const S lit = S((f.feed_temperature - 700.0) * (1.0 / 30.0));
  const S burn = S(smooth_min(S(0.5 * plenum.share[CO]), plenum.share[O2], 1e-5) * 0.5 *
                   (1.0 + lit / sqrt(S(1.0 + lit * lit))));
  f.burnt = plenum.share;
  f.burnt[CO] = S(f.burnt[CO] - 2.0 * burn);
  f.burnt[CO2] = S(f.burnt[CO2] + 2.0 * burn);
  f.burnt[O2] = S(f.burnt[O2] - burn);
  f.burning_heat = S(f.feed_heated - feed * dot(f.burnt, h));
  return f;
}

}  // namespace duskline::plant
