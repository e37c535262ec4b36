/// The C interfaces of the two controllers as types: what carries or runs one of them serves both.
///
/// Source       controller/include/controller.h, plant_controller.h
#pragma once

#include "controller/include/plant_controller.h"

namespace duskline::controller {

struct ModuleController {
  using Params = ctl_params;
  using Inputs = ctl_inputs;
  using Outputs = ctl_outputs;
  using State = ctl_state;
  using Retained = ctl_retained;
  static constexpr const char* kName = "controller";
  static constexpr uint32_t kVersion = CTL_ABI_VERSION;
  static constexpr auto init = ctl_init;
  static constexpr auto step = ctl_step;
  static constexpr auto retain = ctl_retain;
  static constexpr auto restart = ctl_restart;
};

struct PlantController {
  using Params = ctl_plant_params;
  using Inputs = ctl_plant_inputs;
  using Outputs = ctl_plant_outputs;
  using State = ctl_plant_state;
  using Retained = ctl_plant_retained;
  static constexpr const char* kName = "plant controller";
  static constexpr uint32_t kVersion = CTL_PLANT_ABI_VERSION;
  static constexpr auto init = ctl_plant_init;
  static constexpr auto step = ctl_plant_step;
  static constexpr auto retain = ctl_plant_retain;
  static constexpr auto restart = ctl_plant_restart;
};

}  // namespace duskline::controller
