/// What a control law sees, at rest near the rated point, for tests of a law alone.
#pragma once

#include "controller/laws/table.hpp"
#include "tests/support/controller_rig.hpp"

namespace duskline::test {

struct Scene {
  ctl_params params = default_params();
  controller::Signals signals{};
  controller::Gas gas{3.6e-4f, 0.0425f, 0.05f, 0.901f, 0.45f, 0.3f, 0.1f, 0.5f};
  controller::Coke coke{0.12f, 1.16f, 4, 1.04f, 0.0f};
  float wanted = 4.2f, applied = 4.2f, ceiling = NAN, feed = 1.53e-5f, density = 0.0152f, speed = 300.0f;
  uint32_t law, active_limiter = CTL_BY_DEMAND;
  controller::LawMemory memory{};

  explicit Scene(uint32_t in_force = CTL_LAW_CASCADE) : law(in_force) {
    using namespace controller;
    params.law = in_force;
    signals.value[in_cathode_pressure] = 42000.0f;
    signals.value[in_anode_pressure] = 36000.0f;
    signals.value[in_stack_current] = applied;
    signals.value[in_bus_power] = 200.0f;
    for (uint32_t k = 0; k < CTL_CELLS; ++k) signals.value[in_cell_voltage + k] = 1.03f;
  }

  controller::LawInput input() {
    signals.value[controller::in_feed_flow] = feed;
    return {.params = params,
            .signals = signals,
            .gas = gas,
            .coke = coke,
            .temperature = 1073.15f,
            .feed = {controller::flow_per_speed(params, density), 0.0f},
            .feed_flow = feed,
            .wanted_current = wanted,
            .wanted_by = CTL_BY_DEMAND,
            .applied_current = applied,
            .applied_feed = speed,
            .power_ceiling = ceiling,
            .unprotected = false,
            .elapsed = 0.0f,
            .active_limiter = active_limiter,
            .adapts = controller::kLaws[law].adapts};
  }
  /// One tick of the flow and current loops of the cascade, with limits that do not act.
  controller::LawOutput tick() {
    const controller::LawOutput output = controller::run_law(law, memory, input());
    applied = controller::clamp(output.current, 0.0f, 6.0f);
    speed = controller::clamp(output.feed, 100.0f, 600.0f);
    controller::law_applied(memory, input(), speed, applied);
    return output;
  }
};

}  // namespace duskline::test
