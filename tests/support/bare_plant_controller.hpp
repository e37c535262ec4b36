/// The plant controller alone, with inputs that a test moves.
///
/// What it is   inputs of a plant in order at 3 kg/h, its modules in service; a tick after the other
#pragma once

#include <catch2/catch.hpp>
#include <cmath>

#include "controller/plant/parameters.hpp"
#include "controller/plant/tick.hpp"

namespace duskline::test {

using namespace duskline::controller;

inline const ctl_plant_params kParams = default_plant_params();

/// A module in service that produces.
inline ctl_module_report producing(float oxygen = 1e-4F, float margin = 0.08F, float age = 0.0F) {
  ctl_module_report r{};
  r.feed_wanted = r.feed_flow = 5.0F * oxygen;
  r.oxygen_rate = oxygen, r.coke_margin = margin, r.added_resistance = age;
  r.power = 1500.0F, r.heating = 100.0F, r.temperature = 1060.0F, r.hottest = 1073.15F;
  r.mode = CTL_PRODUCTION, r.limiter = CTL_BY_DEMAND;
  return r;
}

inline ctl_plant_inputs inputs(uint32_t modules, const ctl_module_report& report = producing()) {
  ctl_plant_inputs in{};
  in.ambient_pressure = in.suction_pressure = 700.0F;
  in.ambient_temperature = 240.0F;
  in.compressor_speed = 4000.0F, in.compressor_flow = 4.4e-3F;
  in.discharge_pressure = in.feed_header_pressure = 65000.0F;
  in.discharge_temperature = 350.0F, in.feed_header_temperature = 300.0F, in.housing_temperature = 290.0F;
  in.exhaust_header_temperature = 300.0F, in.feed_header_co_fraction = 0.02F;
  in.exhaust_header_pressure = 55000.0F, in.product_header_pressure = 55500.0F;
  in.product_oxygen_fraction = 0.99F, in.product_flow = 8e-4F;
  in.bus_voltage = 120.0F, in.bus_power = 22000.0F;
  in.oxygen_demand = 8e-4F, in.power_ceiling = NAN;
  in.requested_mode = CTL_PLANT_PRODUCTION;
  for (uint32_t k = 0; k < modules; ++k) in.service[k] = CTL_SERVICE_IN, in.module[k] = report;
  return in;
}

/// The plant controller with inputs that a test moves.
struct Bare {
  ctl_plant_params params = kParams;
  ctl_plant_state state{};
  ctl_plant_inputs in;
  ctl_plant_outputs out{};
  explicit Bare(uint32_t modules, ctl_plant_params p = kParams) : params(p), in(inputs(modules)) {
    REQUIRE(ctl_plant_init(&state, &params) == CTL_OK);
  }
  const ctl_plant_outputs& step(int ticks = 1) {
    for (int n = 0; n < ticks; ++n) REQUIRE(ctl_plant_step(&state, &params, &in, &out) == CTL_OK);
    return out;
  }
};

inline float share_sum(const ctl_plant_outputs& out) {
  float sum = 0.0F;
  for (const auto& o : out.order) sum += o.oxygen_demand;
  return sum;
}

}  // namespace duskline::test
