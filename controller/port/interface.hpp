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
  /// Everything off; estimates 0.
  static Outputs safe_outputs() {
    Outputs out{};
    out.mode = CTL_SAFE;
    return out;
  }
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
  /// Commands where they go without power, valves that stay in place shut, modules in safe; estimates 0.
  static Outputs safe_outputs() {
    Outputs out{};
#define CTL_TO_SAFE(name, unit, lower, upper, step, without_power, meaning) \
  out.name = (without_power) == 2 ? static_cast<float>(upper) : 0.0f;
    CTL_PLANT_OUTPUT_LIST(CTL_TO_SAFE)
#undef CTL_TO_SAFE
    out.mode = CTL_PLANT_SAFE;
    for (ctl_module_order& order : out.order) order = {0.0f, __builtin_nanf(""), 1.0f, CTL_SAFE};
    return out;
  }
};

}  // namespace duskline::controller
