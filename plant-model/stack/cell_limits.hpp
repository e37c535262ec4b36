/// The watch over a group of cells: distance to carbon and nickel oxide, and the rates of both.
///
/// What it is   pure functions of the solved column and of what the cells already hold; see limits.hpp for
///              the laws
/// Equation     margin of a cell = least over its segments; carbon gasifies by the gas at the outlet, oxide
///              forms at the inlet
/// Symbols      rates [mol/s] per cell, margin [V], ratio [1] = (p_CO/p_CO2)/K_Ni at the inlet
/// Validity     see limits.hpp; below 600 degC the rates are frozen out and the margins mean nothing
/// Source       limits.hpp
/// Left out     where in a cell the carbon lies: one amount a cell
#pragma once

#include "plant-model/stack/limits.hpp"
#include "plant-model/stack/march.hpp"

namespace duskline::plant {

struct CellLimits {
  Pack margin, segment;       ///< V, least of the segments; which one
  Pack nickel_ratio;          ///< 1
  Pack carbon_formed;         ///< mol/s
  Pack carbon_removal;        ///< 1/s, per carbon held
  Pack oxidation, reduction;  ///< 1/s, per nickel and per oxide
};

/// What decides over carbon in one segment.
template <class S>
struct CarbonLimit {
  S activity, factor;  ///< a_C without overpotential; exp(F eta_c/RT)
  S margin;            ///< V
};
template <class S, std::size_t N>
CarbonLimit<S> carbon_limit(const CellParameters& cell, const ColumnInputs<S, N>& column,
                            const ColumnCurrents<S, N>& solved, const March<S, N>& flow, const S& m,
                            std::size_t k, bool with_margin) {
  const auto& chemistry = column.chemistry[k];
  const S& i = solved.density[k];
  S change = flow.charge[k] * m + i * chemistry.diffusion;
  const double middle = column.ribs.middle / (1.0 + column.ribs.mean);
  if (middle > 0.0) change = flow.charge[k] * m + i * chemistry.diffusion * (1.0 / (1.0 + column.ribs.mean));
  S u = not_below_trace(column.inlet_co + change), w = not_below_trace(column.inlet_co2 - change);
  if (middle > 0.0) {
    const LocalGas<S> local = under_rib(u, w, S(i * chemistry.diffusion * middle));
    u = not_below_trace(local.u);
    w = not_below_trace(local.w);
  }
  CarbonLimit<S> out;
  out.factor = cathode_factor(chemistry, i, w, column.pressure);
  out.activity = carbon_activity(chemistry.log_boudouard, u, w, column.pressure);
  if (with_margin)
    out.margin = coke_margin(out.activity, out.factor, chemistry.thermal_voltage, cell.overpotential_share);
  return out;
}

/// (p_CO/p_CO2)/K_Ni at the inlet.
template <class S, std::size_t N>
S nickel_ratio(const ColumnInputs<S, N>& column, const S& T) {
  return column.inlet_co / column.inlet_co2 * exp(-1.0 * log_nickel_oxidation(where_equilibria_hold(T)));
}

/// Margins are worked out where `with_margins`; rates always.
template <std::size_t N>
CellLimits cell_limits(const CellParameters& cell, const DegradationParameters& p,
                       const ColumnInputs<Pack, N>& column, const ColumnCurrents<Pack, N>& solved,
                       const std::array<Pack, N>& T, const March<Pack, N>& flow, bool with_margins) {
  const double segment_area = cell.area / static_cast<double>(N);
  const Pack m = 1.0 / (2.0 * kFaraday * column.flow);
  CellLimits out{Pack(1e9), Pack(0.0), Pack(0.0), Pack(0.0), Pack(0.0), Pack(0.0), Pack(0.0)};
  for (std::size_t k = 0; k < N; ++k) {
    const CarbonLimit<Pack> limit = carbon_limit(cell, column, solved, flow, m, k, with_margins);
    if (with_margins) {
      const auto lower = limit.margin.v < out.margin.v;
      out.segment = select(lower, Pack(static_cast<double>(k)), out.segment);
      out.margin = select(lower, limit.margin, out.margin);
    }
    out.carbon_formed += segment_area * carbon_formation(p, limit.activity * limit.factor, T[k]);
  }
  constexpr std::size_t last = N - 1;
  const Pack converted = flow.charge[last] * m;
  const Pack leaving =
      carbon_activity(column.chemistry[last].log_boudouard, not_below_trace(column.inlet_co + converted),
                      not_below_trace(column.inlet_co2 - converted), column.pressure);
  out.carbon_removal =
      arrhenius(p.carbon_energy, T[last]) * (1.0 / p.gasification_time) * ramp(1.0 - leaving, 0.05);
  out.nickel_ratio = nickel_ratio(column, T[0]);
  const Pack pace = arrhenius(p.oxidation_energy, T[0]);
  out.oxidation = pace * ramp(1.0 - out.nickel_ratio, 0.05) * (1.0 / p.oxidation_time);
  out.reduction = pace * ramp(1.0 - 1.0 / out.nickel_ratio, 0.05) * (1.0 / p.reduction_time);
  return out;
}

/// The margin alone, for scalars of one cell.
template <class S, std::size_t N>
S min_margin(const CellParameters& cell, const ColumnInputs<S, N>& column, const ColumnCurrents<S, N>& solved,
             const March<S, N>& flow) {
  const S m = 1.0 / (2.0 * kFaraday * column.flow);
  S least = S(1e9);
  for (std::size_t k = 0; k < N; ++k) {
    const S margin = carbon_limit(cell, column, solved, flow, m, k, true).margin;
    least = pick(less(margin - least, 0.0), margin, least);
  }
  return least;
}

}  // namespace duskline::plant
