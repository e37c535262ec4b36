/// A flow with a direction: both parts >= 0, each carrying the gas of the side that it leaves.
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

template <class S>
struct TwoWay {
  S out, back;
  S net() const { return out - back; }
};

template <class S>
TwoWay<S> two_way(const S& net, double width) {
  const S out = positive_part(net, width);
  return {out, out - net};
}

}  // namespace duskline::plant
