/// The map of a turbo train: what it gives in its steady state, and where it surges and chokes.
///
/// What it is   the stages of the plant file at one suction, with coolers as at the design point
/// Equation     surge and choke: the margin of the stage that is nearest to it is 0, found by halving
/// Symbols      flow [mol/s], speed [rad/s], pressure [Pa] and temperature [K] of the suction
/// Validity     one gas; a train whose margin rises (surge) or falls (choke) with the flow
/// Left out     fouled stages; coolers that warm up with the housing
#pragma once

#include "plant-model/compressors/train_parameters.hpp"

namespace duskline::plant {

struct TrainMap {
  const TrainParameters& train;
  const TrainSize& size;
  double pressure, temperature;

  TrainResult<double> at(double speed, double flow) const {
    return turbo_train<double>(size.all(), size.gas, design_coolers(train), flow, pressure, temperature,
                               speed);
  }
  double surge_flow(double speed) const {
    return zero([&](double flow) { return at(speed, flow).surge_margin; });
  }
  double choke_flow(double speed) const {
    return zero([&](double flow) { return -at(speed, flow).choke_margin; });
  }

 private:
  template <class Rising>
  double zero(const Rising& f) const {
    double low = 0.01 * train.design_flow, high = 3.0 * train.design_flow;
    for (int n = 0; n < 50; ++n) {
      const double middle = 0.5 * (low + high);
      (f(middle) < 0.0 ? low : high) = middle;
    }
    return high;
  }
};

}  // namespace duskline::plant
