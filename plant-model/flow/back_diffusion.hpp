/// Gas that diffuses from the cathode volume back to the inlet of the cells against the feed.
///
/// What it is   the weight with which the cells' inlet sees the gas of the cathode volume
/// Equation     b(n) = n/(exp(n/n0) - 1): steady convection against diffusion over a length; b(0) = n0,
///              b = n exp(-n/n0) well above n0, b = -n for reverse flow
/// Symbols      n [mol/s] net feed, n0 [mol/s] exchange at no flow = c D A/L
/// Validity     any n; one constant for all species
/// Source       exact solution of dN/dz = 0 with N = n x - c D A dx/dz (Bird, Stewart, Lightfoot)
/// Left out     storage of gas in the channel (below a second)
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

/// S is double or a dual.
template <class S>
S back_diffusion(double at_no_flow, const S& net) {
  const S x = net * (1.0 / at_no_flow);
  const double v = value_of(x);
  if (std::abs(v) < 1e-3) {  // the series errs by 3e-23 here, the quotient by 1e-13 outside
    const S x2 = x * x;
    return at_no_flow * (1.0 - 0.5 * x + x2 * (1.0 / 12.0) - x2 * x2 * (1.0 / 720.0));
  }
  // written with exp of a negative number, which cannot overflow
  if (v > 0.0) {
    const S e = exp(-1.0 * x);
    return net * e / (1.0 - e);
  }
  return net / (exp(x) - 1.0);
}

}  // namespace duskline::plant
