/// The plant controller's plain C interface, and the wires between it and the controllers of the modules.
///
/// Left out     start-up and I/O of a target (port/)
#include "controller/include/plant_controller.h"

#include "controller/plant/parameters.hpp"
#include "controller/plant/tick.hpp"

namespace duskline::controller {
namespace {

/// Compressor off, valves open, modules in safe.
void write_safe_outputs(ctl_plant_outputs& out) {
  out = ctl_plant_outputs{};
  out.mode = CTL_PLANT_SAFE;
  out.anti_surge_opening = out.exhaust_opening = out.product_opening = 1.0f;
  for (ctl_module_order& o : out.order) o = {0.0f, __builtin_nanf(""), 1.0f, CTL_SAFE};
}

/// The last guard: a command is finite and inside its span, or at the end of it that is safe.
void guard(ctl_plant_outputs& out, const ctl_plant_params& p) {
  const auto hold = [](float& x, const ctl_span& span, bool high) {
    x = is_finite(x) ? clamp(x, span.lower, span.upper) : high ? span.upper : span.lower;
  };
#define CTL_HOLD(name, unit, lower, upper, step, without_power, ...) \
  hold(out.name, p.output_span[CTL_PLANT_OUTPUT_##name], (without_power) == 2);
  CTL_PLANT_OUTPUT_LIST(CTL_HOLD)
#undef CTL_HOLD
  if (out.mode == CTL_PLANT_OFF || out.mode == CTL_PLANT_SAFE)
    out.compressor_speed = min_of(out.compressor_speed, out.mode == CTL_PLANT_SAFE ? 0.0f : p.speed_max);
}

}  // namespace
}  // namespace duskline::controller

extern "C" uint32_t ctl_plant_abi_version(void) {
  return CTL_PLANT_ABI_VERSION;
}

extern "C" void ctl_plant_default_params(ctl_plant_params* params) {
  if (params != nullptr) *params = duskline::controller::default_plant_params();
}

extern "C" ctl_status ctl_plant_init(ctl_plant_state* state, const ctl_plant_params* params) {
  using namespace duskline::controller;
  if (state == nullptr || params == nullptr) return CTL_BAD_ARGUMENT;
  *state = ctl_plant_state{};
  if (!valid_params(*params)) return CTL_BAD_PARAMETER;
  state->abi_version = CTL_PLANT_ABI_VERSION;
  state->size = CTL_PLANT_STATE_BYTES;
  store(*state, initial_plant_memory());
  return CTL_OK;
}

extern "C" void ctl_plant_retain(const ctl_plant_state* state, ctl_plant_retained* retained) {
  if (state == nullptr || retained == nullptr) return;
  retained->state = *state;
  retained->checksum = duskline::controller::checksum_of(*state);
}

extern "C" ctl_status ctl_plant_restart(ctl_plant_state* state, const ctl_plant_params* params,
                                        const ctl_plant_retained* retained) {
  using namespace duskline::controller;
  const ctl_status fresh = ctl_plant_init(state, params);
  if (fresh != CTL_OK) return fresh;
  if (retained == nullptr || retained->checksum != checksum_of(retained->state) ||
      retained->state.abi_version != CTL_PLANT_ABI_VERSION || retained->state.size != CTL_PLANT_STATE_BYTES)
    return CTL_NOT_RETAINED;
  const PlantMemory before = load(retained->state);
  if (!plausible(before)) return CTL_NOT_RETAINED;
  store(*state, warm_restart(before));
  return CTL_OK;
}

extern "C" ctl_status ctl_plant_step(ctl_plant_state* state, const ctl_plant_params* params,
                                     const ctl_plant_inputs* in, ctl_plant_outputs* out) {
  using namespace duskline::controller;
  if (out == nullptr) return CTL_BAD_ARGUMENT;
  write_safe_outputs(*out);
  if (state == nullptr || params == nullptr || in == nullptr) return CTL_BAD_ARGUMENT;
  if (state->abi_version != CTL_PLANT_ABI_VERSION || state->size != CTL_PLANT_STATE_BYTES)
    return CTL_BAD_VERSION;
  if (!valid_params(*params)) return CTL_BAD_PARAMETER;
  PlantMemory m = load(*state);
  if (!plausible(m)) return CTL_BAD_VERSION;
  plant_tick(m, *params, *in, *out);
  guard(*out, *params);
  store(*state, m);
  return CTL_OK;
}

extern "C" void ctl_plant_orders_to_module(const ctl_plant_inputs* plant, const ctl_plant_outputs* orders,
                                           uint32_t module, ctl_inputs* in) {
  using namespace duskline::controller;
  if (plant == nullptr || orders == nullptr || in == nullptr || module >= CTL_PLANT_MODULES) return;
  const ctl_module_order& o = orders->order[module];
  in->requested_mode = o.requested_mode;
  in->oxygen_demand = o.oxygen_demand;
  in->power_ceiling = o.power_ceiling;
  in->ambient_pressure = plant->ambient_pressure;
  in->ambient_temperature = plant->ambient_temperature;
  in->plenum_pressure = plant->feed_header_pressure;
  in->plenum_temperature = plant->feed_header_temperature;
  in->inlet_co_fraction = plant->feed_header_co_fraction;
  in->housing_temperature = plant->housing_temperature;
  in->bus_voltage = plant->bus_voltage;
  if (!is_finite(in->bus_power)) in->bus_power = plant->module[module].power;
}

extern "C" void ctl_plant_report_of_module(const ctl_params* params, const ctl_inputs* in,
                                           const ctl_outputs* out, ctl_module_report* report) {
  using namespace duskline::controller;
  if (params == nullptr || in == nullptr || out == nullptr || report == nullptr) return;
  ctl_module_report r{};
  float volts = 0.0f, heaters = out->preheater_power;
  for (const float v : in->cell_voltage) volts += is_finite(v) ? v : 0.0f;
  for (const float w : out->end_power) heaters += w;
  const float current = is_finite(in->stack_current) ? max_of(0.0f, in->stack_current) : out->stack_current;
  r.heating = heaters / params->heater_converter;
  r.power = r.heating + max_of(0.0f, current * volts * params->cells_per_tap) / params->stack_converter;
  r.feed_wanted = out->feed_setpoint;
  r.feed_flow = is_finite(in->feed_flow) ? in->feed_flow : out->feed_setpoint;
  r.oxygen_rate = out->oxygen_rate;
  r.coke_margin = out->coke_margin;
  r.coke_sigma = out->coke_sigma;
  r.added_resistance = out->added_resistance;
  // without any thermometer the set-point has to do
  bool found = false;
  for (const float t : in->zone_temperature) {
    if (!is_finite(t)) continue;
    r.temperature = found ? min_of(r.temperature, t) : t;
    r.hottest = found ? max_of(r.hottest, t) : t;
    found = true;
  }
  if (!found) r.temperature = r.hottest = out->temperature_setpoint;
  r.mode = out->mode;
  r.limiter = out->limiter;
  r.response = out->response;
  r.diagnosed = out->diagnosed;
  r.unmet_permissives = out->unmet_permissives;
  r.tripped = out->tripped;
  *report = r;
}
