/// Everything that a linear model of the closed loop needs to know of one instant of a run.
///
/// What it is   the plant with its state and held commands, the instruments, and the controller's memory and
///              inputs at this tick and the ticks just before it
/// Symbols      SI
/// Validity     plain values; nothing points back into the run, but the controller's code and layout are asked further
/// Left out     what the environment does next
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
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

/// A module and its controller; on the bench the only one.
struct ModulePoint {
  double period{};  ///< s
  plant::SensorBank sensors;
  ctl_params params{};
  ctl_outputs control{};        ///< of this tick
  std::vector<Moment> moments;  ///< the latest last
  std::shared_ptr<const Link> controller;
};

/// The plant controller before a tick, and what it was given.
struct PlantMoment {
  ctl_plant_state before;
  ctl_plant_inputs in;
};

/// What modules between headers share, and the plant controller.
struct SharedPoint {
  plant::SensorBank sensors;
  ctl_plant_params params{};
  ctl_plant_outputs control{};
  std::vector<PlantMoment> moments;  ///< the latest last
};

class OperatingPoint : public ModulePoint {
 public:
  double time{};  ///< s since the start of the run
  double local_time{};
  plant::Plant plant{plant::PlantParameters{}};
  plant::State state{};
  plant::PlantOutputs outputs{};

  // Of a plant with headers; there the members of ModulePoint are the first module's.
  std::vector<ModulePoint> modules;
  std::optional<SharedPoint> shared;
};

}  // namespace duskline::harness
