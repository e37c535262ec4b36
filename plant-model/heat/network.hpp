/// Conduction among the solids of the hot box: stack nodes, end plates, manifolds, insulation.
///
/// What it is   links between thermal nodes; each flow leaves one node and enters another
/// Equation     q_ij = G_ij (T_i - T_j); zones along the stack, segments along the flow, edges to the
///              manifolds, sides outward
/// Symbols      q [W], G [W/K], T [K]; conductances of a zone are shared by its segments; `flow_conductance` stands for six
///              segments and grows as they come nearer
/// Validity     constant conductances; insulation rises with T^3 (housing.hpp)
/// Source       Fourier's law on lumped nodes
/// Left out     radiation inside the hot box as such (it is in the conductances)
#pragma once

#include "plant-model/heat/heat_parameters.hpp"
#include "plant-model/heat/housing.hpp"
#include "plant-model/stack/stack_parameters.hpp"

namespace duskline::plant {

/// Net heat into every solid by conduction, W.
template <class S, std::size_t N>
struct Conducted {
  std::array<S, kZones * N> stack;
  std::array<S, kEnds> end_plate;
  S manifold, preheater, inner, outer;
  S housing;  ///< from the outer insulation
};

/// Real cells in each zone.
inline std::array<double, kZones> cells_in_zones(const StackParameters& s) {
  std::array<double, kZones> cells{};
  for (const double zone : s.zone) cells[static_cast<std::size_t>(zone)] += s.repeats;
  return cells;
}

/// `x` are the implicit entries of the module; `insulation` one of the laws of variants.hpp.
template <std::size_t N, class S>
Conducted<S, N> conduct(const HeatParameters& heat, int insulation, const std::array<double, kZones>& cells,
                        const S* x, const S& housing) {
  using Solid = at::Solids<N>;
  constexpr double per_row = 1.0 / static_cast<double>(N);
  constexpr double per_node = 1.0 / static_cast<double>(kZones * N);
  constexpr double nearer = static_cast<double>(N) / static_cast<double>(kSegments);  // than the usual ones
  constexpr double per_edge = 0.5 / static_cast<double>(kZones);
  Conducted<S, N> q;
  q.stack.fill(S(0.0));
  q.end_plate.fill(S(0.0));
  q.manifold = q.preheater = q.inner = q.outer = q.housing = S(0.0);
  const auto move = [](S& from, S& to, const S& w) {
    from = from - w;
    to = to + w;
  };
  const S& inner = x[Solid::inner_insulation];
  const S& outer = x[Solid::outer_insulation];
  for (std::size_t z = 0; z < kZones; ++z)
    for (std::size_t k = 0; k < N; ++k) {
      const std::size_t i = z * N + k;
      const S& T = x[at::stack + i];
      if (z + 1 < kZones)
        move(q.stack[i], q.stack[i + N], (heat.axial_conductance * per_row) * (T - x[at::stack + i + N]));
      if (k + 1 < N)
        move(q.stack[i], q.stack[i + 1],
             (heat.flow_conductance * nearer * cells[z]) * (T - x[at::stack + i + 1]));
      move(q.stack[i], q.inner, (heat.side_loss * per_node) * (T - inner));
      if (k == 0 || k + 1 == N)
        move(q.stack[i], q.manifold, (heat.manifold_conductance * per_edge) * (T - x[Solid::manifold]));
      if (z == 0 || z + 1 == kZones) {
        const std::size_t e = z == 0 ? 0 : 1;
        move(q.stack[i], q.end_plate[e], (heat.end_conductance * per_row) * (T - x[Solid::end_plate + e]));
      }
    }
  for (std::size_t e = 0; e < kEnds; ++e)
    move(q.end_plate[e], q.inner, heat.end_loss * (x[Solid::end_plate + e] - inner));
  move(q.manifold, q.inner, heat.manifold_loss * (x[Solid::manifold] - inner));
  move(q.preheater, q.inner, heat.preheater_loss * (x[Solid::preheater] - inner));
  move(q.inner, q.outer,
       insulation_by(insulation, kInnerAtWork, heat.inner_conductance, heat.radiative_growth, inner, outer) *
           (inner - outer));
  move(
      q.outer, q.housing,
      insulation_by(insulation, kOuterAtWork, heat.outer_conductance, heat.radiative_growth, outer, housing) *
          (outer - housing));
  return q;
}

}  // namespace duskline::plant
