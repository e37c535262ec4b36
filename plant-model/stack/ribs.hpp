/// Gas under the ribs of an interconnect: what the mean of a cell and the middle of a rib see.
///
/// What it is   two factors on the diffusive term d of cell.hpp, and the local gas at the middle of a rib
/// Equation     mean under a rib: b^2/(3 h), middle: b^2/(2 h), as lengths beside L; d_mean = d (1 + c b^2/(3 h L));
///              w = w_e^2/(w_e + i d b^2/(2 h L)), u = u_e + w_e - w, u_e and w_e at the edge of the rib (i < 0: the
///              same with u and w exchanged)
/// Symbols      c [1] covered share, b [m] half the width of a rib, h [m] height of the porous layer under it, L [m]
///              diffusion length of the electrode, u, w [1] shares of CO and CO2 at the electrolyte
/// Validity     ribs much wider than the layer is high; the local rate falls in proportion to what reacts, to first
///              order in the square of the Thiele modulus, so that no share falls below zero
/// Source       diffusion from the side with a sink (Bird, Stewart, Lightfoot); sizes: estimates for planar stacks (1 mm
///              ribs, 40 % covered, 0.15 mm contact layer); what they cost, 10-30 mV of margin, agrees with practice
/// Left out     current that moves from rib to channel, clogging
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

/// Factors on d: 0 where gas reaches the reaction freely.
struct RibTransport {
  double mean = 0.0;    ///< 1, of the voltage
  double middle = 0.0;  ///< 1, of the middle of a rib
};

constexpr RibTransport rib_transport(double diffusion_length) {
  constexpr double kCovered = 0.4, kHalfWidth = 0.5e-3, kLayer = 0.15e-3;  // 1, m, m
  constexpr double kSquare = kHalfWidth * kHalfWidth / kLayer;             // m
  return {kCovered * kSquare / 3.0 / diffusion_length, kSquare / 2.0 / diffusion_length};
}

template <class S>
struct LocalGas {
  S u, w;
};

/// `drop` = i d b^2/(2 h L).
template <class S>
LocalGas<S> under_rib(const S& u, const S& w, const S& drop) {
  const auto back = less(drop, 0.0);
  const S used = pick(back, u, w), size = pick(back, S(-1.0 * drop), drop);
  const S moved = used * size / (used + size);  // used - used^2/(used + size)
  const S signed_move = pick(back, S(-1.0 * moved), moved);
  return {u + signed_move, w - signed_move};
}

}  // namespace duskline::plant
