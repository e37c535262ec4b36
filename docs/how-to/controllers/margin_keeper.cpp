// A controller in C++: the current holds the coke margin, the flow follows the demand, lost signals are bridged.
//
//   c++ -std=c++20 -O2 -fPIC -shared -I . -o margin_keeper.so docs/how-to/controllers/margin_keeper.cpp
//
// It warms up along a ramp, makes oxygen, and goes to safe when a signal stays away. After a reset it goes on in
// the mode that it had (ctl_retain, ctl_restart). It is an example, and no advice for a plant.
#include <algorithm>
#include <cmath>
#include <cstring>
#include <type_traits>

#include "controller/include/controller.h"

namespace {

constexpr float kFaraday = 96485.332f;     // C/mol
constexpr float kGasConstant = 8.314463f;  // J/mol/K
constexpr float kOxygen = 0.0319988f;      // kg/mol
constexpr float kBridged = 5.0f;           // s that the last good values may stand in for lost ones
constexpr float kWorstShare = 0.9f;        // flow of the worst cell over the mean
constexpr float kPerAmpere = CTL_CELLS / (2.0f * kFaraday);  // mol/s of CO2 converted

/// A PI loop that learns what became of its output, so that it does not wind up.
struct Pi {
  float integral;
  float output(float gain, float error) const { return integral + gain * error; }
  void learn(float gain, float time, float error, float applied, float period) {
    integral +=
        std::min(1.0f, period / time) * (applied - output(gain, error)) + gain * error * period / time;
  }
};

/// All that is remembered: plain, without pointers, inside ctl_state.words.
struct Memory {
  ctl_inputs good;  // last value of every measurement inside its span
  float lost;       // s since all measurements were inside theirs
  uint32_t mode;
  uint32_t settled;  // 0: what runs already has to be taken over
  float setpoint;    // K, ramped
  float current, speed;
  Pi margin, flow, heat;
};
static_assert(std::is_trivially_copyable_v<Memory> && sizeof(Memory) <= sizeof(ctl_state::words));

Memory load(const ctl_state& state) {
  Memory m;
  std::memcpy(&m, state.words, sizeof m);
  return m;
}
void store(ctl_state& state, const Memory& m) {
  std::memcpy(state.words, &m, sizeof m);
}

/// Takes what is inside the span of its instrument; the list of controller.h knows them all.
void listen(Memory& m, const ctl_inputs& in, const ctl_params& p) {
  bool all = true;
  const auto take = [&all](float& good, float x, const ctl_span& span) {
    const bool fits = x >= span.lower && x <= span.upper;  // false for NaN
    if (fits) good = x;
    all = all && fits;
  };
#define TAKE(name, ...) take(m.good.name, in.name, p.input[CTL_INPUT_##name].span);
#define TAKE_ALL(name, count, ...) \
  for (int k = 0; k < (count); ++k) take(m.good.name[k], in.name[k], p.input[CTL_INPUT_##name].span);
  CTL_INPUT_LIST(TAKE, TAKE_ALL)
#undef TAKE
#undef TAKE_ALL
  m.lost = all ? 0.0f : std::min(m.lost + p.period, 1e6f);
}

/// FNV-1a over the words of the state.
uint32_t checksum(const ctl_state& state) {
  uint32_t sum = 2166136261u;
  for (const uint32_t word : state.words) sum = (sum ^ word) * 16777619u;
  return sum;
}

float mean_of(const float (&x)[CTL_ZONES]) {
  float sum = 0.0f;
  for (const float one : x) sum += one;
  return sum / CTL_ZONES;
}

/// Margin of the highest cell to its coke-onset voltage at the outlet, V; docs/models/controller.md.
float coke_margin(const ctl_params& p, const Memory& m, float temperature, float outlet_co) {
  const ctl_inputs& y = m.good;
  const float t = (temperature - 1073.15f) / 100.0f;
  const float gas = 0.5f * std::log(std::max(y.anode_pressure, 10.0f) / 1e5f) -
                    std::log(std::max(outlet_co * y.cathode_pressure, 10.0f) / 1e5f);
  const float density = 0.6f * y.stack_current / p.cell_area;
  const float ohmic = p.electrolyte_resistance + p.contact_resistance;
  const float onset =
      1.0713f + 0.04554f * t + kGasConstant * temperature / (2.0f * kFaraday) * gas + density * ohmic;
  return onset - *std::max_element(y.cell_voltage, y.cell_voltage + CTL_CELLS);
}

void next_mode(Memory& m, const ctl_params& p, const ctl_inputs& in, float mean) {
  const float hottest = *std::max_element(m.good.zone_temperature, m.good.zone_temperature + CTL_ZONES);
  const uint32_t before = m.mode;
  if (in.requested_mode == CTL_OFF)
    m.mode = CTL_OFF;
  else if (m.mode != CTL_OFF && (m.lost > kBridged || hottest > p.zone_max))
    m.mode = CTL_SAFE;
  else if (m.mode == CTL_OFF && m.lost == 0.0f)
    m.mode = CTL_WARM_UP;
  else if (m.mode == CTL_WARM_UP && in.requested_mode == CTL_PRODUCTION &&
           mean > p.stack_setpoint - p.standby_band)
    m.mode = CTL_PRODUCTION;
  if (m.mode == before && m.settled != 0) return;
  // what runs already is taken over without a bump
  m.settled = 1;
  m.setpoint = mean;
  m.current = m.margin.integral = std::clamp(m.good.stack_current, 0.0f, p.current_max);
  m.speed = std::clamp(m.good.compressor_speed, 0.0f, p.speed_max);
  m.flow.integral = 0.0f;
  m.heat.integral = 0.5f * p.heat_loss * (mean - 273.15f);
}

void keep_warm(Memory& m, const ctl_params& p, float mean, ctl_outputs& out) {
  const ctl_inputs& y = m.good;
  const float step = p.ramp / 60.0f * p.period;
  if (mean > m.setpoint - p.ramp_lead) m.setpoint = std::min(m.setpoint + step, p.stack_setpoint);
  const float error = m.setpoint - mean;
  const float output = m.heat.output(p.end_gain, error);
  const float given = std::clamp(output, 0.0f, p.end_power_max);
  m.heat.learn(p.end_gain, 600.0f, error, given, p.period);
  for (int k = 0; k < CTL_ENDS; ++k) {
    const float power = given + 2.0f * (m.setpoint - y.end_temperature[k]);
    out.end_power[k] = y.end_temperature[k] < p.end_max ? std::clamp(power, 0.0f, p.end_power_max) : 0.0f;
  }
  out.preheater_power = std::clamp(m.setpoint - y.preheater_temperature, 0.0f, p.preheater_power_max);
}

void make_oxygen(Memory& m, const ctl_params& p, const ctl_inputs& in, float mean, ctl_outputs& out) {
  const ctl_inputs& y = m.good;
  const float inlet_co = p.inlet_co_setpoint, inlet_co2 = p.air_co2_fraction - inlet_co;
  const float molar_mass = p.air_molar_mass - 0.016f * inlet_co;
  const float feed = std::max(y.feed_flow / molar_mass, 1e-7f);
  const float made = kPerAmpere * std::max(y.stack_current, 0.0f);
  out.utilisation = made / (feed * inlet_co2);
  out.coke_margin = coke_margin(p, m, mean, std::min(inlet_co + made / feed / kWorstShare, 0.95f));

  // current: the least of demand, feed and margin; the margin loop learns which it was
  const float demand = std::isfinite(in.oxygen_demand) ? std::max(in.oxygen_demand, 0.0f) : 0.0f;
  const float asked = std::min(demand * 4.0f * kFaraday / (kOxygen * CTL_CELLS), p.current_max);
  const float carried = p.utilisation_setpoint * feed * inlet_co2 / kPerAmpere;
  const float error = out.coke_margin - p.margin_setpoint;
  const float kept = m.margin.output(p.margin_gain, error);
  float output = asked;
  out.limiter = CTL_BY_DEMAND;
  if (carried < output) output = carried, out.limiter = CTL_BY_UTILISATION;
  if (kept < output) output = kept, out.limiter = CTL_BY_COKE_MARGIN;
  m.current = std::clamp(std::max(output, 0.0f), m.current - p.current_rate_down * p.period,
                         m.current + p.current_rate_up * p.period);
  m.margin.learn(p.margin_gain, p.margin_time, error, m.current, p.period);

  // flow: what the demand needs at a utilisation a little below the set-point, trimmed to what is measured
  const float needed = molar_mass * kPerAmpere * asked / (0.9f * p.utilisation_setpoint * inlet_co2);
  const float air = y.ambient_pressure * p.air_molar_mass / (kGasConstant * y.ambient_temperature);
  const float per_speed =
      std::max(air, 1e-3f) * p.compressor_displacement * p.volumetric_efficiency / 6.2832f;
  const float trim = m.flow.output(0.5f, needed - y.feed_flow);
  const float speed = std::clamp((needed + trim) / per_speed, p.speed_min, p.speed_max);
  m.speed = std::clamp(speed, m.speed - p.speed_rate * p.period, m.speed + p.speed_rate * p.period);
  m.flow.learn(0.5f, 60.0f, needed - y.feed_flow, m.speed * per_speed - needed, p.period);

  out.stack_current = m.current;
  out.compressor_speed = m.speed;
  out.recycle_opening = p.recycle_opening;
}

}  // namespace

extern "C" {

uint32_t ctl_abi_version() {
  return CTL_ABI_VERSION;
}

ctl_status ctl_init(ctl_state* state, const ctl_params* params) {
  if (state == nullptr || params == nullptr) return CTL_BAD_ARGUMENT;
  *state = ctl_state{CTL_ABI_VERSION, CTL_STATE_BYTES, {}};
  Memory m{};
  m.mode = CTL_OFF;
  store(*state, m);
  return CTL_OK;
}

ctl_status ctl_step(ctl_state* state, const ctl_params* params, const ctl_inputs* in, ctl_outputs* out) {
  if (state == nullptr || params == nullptr || in == nullptr || out == nullptr) return CTL_BAD_ARGUMENT;
  if (state->abi_version != CTL_ABI_VERSION) return CTL_BAD_VERSION;
  Memory m = load(*state);
  listen(m, *in, *params);
  const float mean = mean_of(m.good.zone_temperature);
  next_mode(m, *params, *in, mean);

  out->compressor_speed = out->stack_current = out->preheater_power = out->recycle_opening = 0.0f;
  std::fill_n(out->end_power, CTL_ENDS, 0.0f);
  out->limiter = CTL_BY_NOTHING;
  out->law = CTL_LAW_CASCADE;  // the nearest word of the list
  out->mode = m.mode;
  if (m.mode == CTL_WARM_UP || m.mode == CTL_PRODUCTION) keep_warm(m, *params, mean, *out);
  if (m.mode == CTL_PRODUCTION) make_oxygen(m, *params, *in, mean, *out);
  store(*state, m);
  return CTL_OK;
}

void ctl_retain(const ctl_state* state, ctl_retained* retained) {
  retained->state = *state;
  retained->checksum = checksum(*state);
}

ctl_status ctl_restart(ctl_state* state, const ctl_params* params, const ctl_retained* retained) {
  const ctl_status fresh = ctl_init(state, params);
  if (fresh != CTL_OK) return fresh;
  if (retained->checksum != checksum(retained->state) || retained->state.abi_version != CTL_ABI_VERSION)
    return CTL_NOT_RETAINED;
  Memory m = load(retained->state);
  m.settled = 0;
  store(*state, m);
  return CTL_OK;
}

}  // extern "C"
