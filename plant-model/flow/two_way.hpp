/// A flow with a direction: both parts >= 0, each carrying the gas of the side that it leaves.
///
/// What it is   convection and diffusion along a line, as what goes out and what comes back
/// Equation     N+ = N + b(N), N- = b(N), with b of back_diffusion.hpp: N- = n0 without flow, N exp(-N/n0) well above n0
/// Symbols      N [mol/s] net flow, n0 [mol/s] exchange without flow = c D A/L
/// Validity     any N; one constant for all species
/// Source       as back_diffusion.hpp
#pragma once

#include "plant-model/flow/back_diffusion.hpp"

namespace duskline::plant {

template <class S>
struct TwoWay {
  S out, back;
  S net() const { return out - back; }
};

template <class S>
TwoWay<S> two_way(const S& net, double at_no_flow) {
  const S back = back_diffusion(at_no_flow, net);
  return {net + back, back};
}

}  // namespace duskline::plant
