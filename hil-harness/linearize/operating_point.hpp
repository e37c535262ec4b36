/// Everything that a linear model of the closed loop needs to know of one instant of a run.
///
/// What it is   the plant with its state and held commands, the instruments, and the controller's memory and
///              inputs at this tick and the ticks just before it
/// Symbols      SI
/// Validity     plain values; nothing points back into the run, but the controller's code and layout are asked further
/// Left out     what the environment does next
#pragma once

#include <memory>
#include <vector>

#include "controller/include/controller.h"
#include "hil-harness/links/link.hpp"
#include "plant-model/instruments/sensor.hpp"
#include "plant-model/plant.hpp"

namespace duskline::harness {

/// The controller before a tick, and what it was given.
struct Moment {
  ctl_state before;
  ctl_inputs in;
};

/// Ticks over which the controller is looked at: some of its estimators act only every 8 or 20 ticks, so that a single
/// tick would show them at rest or at many times their mean pace.
inline constexpr std::size_t kMoments = 80;

class OperatingPoint {
 public:
  double time{};    ///< s since the start of the run
  double period{};  ///< s
  double local_time{};
  plant::Plant plant{plant::PlantParameters{}};
  plant::State state{};
  plant::PlantOutputs outputs{};
  plant::SensorBank sensors;
  ctl_params params{};
  ctl_outputs control{};        ///< of this tick
  std::vector<Moment> moments;  ///< the latest last
  std::shared_ptr<const Link> controller;
};

}  // namespace duskline::harness
