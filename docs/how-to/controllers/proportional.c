/* A small controller in C: proportional flow, current limited by the coke margin, two interlocks.
 *
 *   cc -std=c11 -O2 -fPIC -shared -I . -o proportional.so docs/how-to/controllers/proportional.c -lm
 *
 * It begins with a hot stack (initial state `producing`), holds it hot, makes oxygen to demand, and goes to safe
 * when a thermometer or a cell voltage is lost. It knows no warm-up, standby or cool-down: it shows how little a
 * controller needs, and is no advice for a plant.
 */
#include <math.h>
#include <stddef.h>
#include <string.h>

#include "controller/include/controller.h"

/* All that is remembered between two calls lives in ctl_state.words. */
typedef struct {
  uint32_t mode;
  float current; /* A, commanded at the last tick */
  float speed;   /* rad/s, commanded at the last tick */
  float heat;    /* W, integral part of the heaters */
} Memory;

_Static_assert(sizeof(Memory) <= sizeof(((ctl_state*)0)->words), "the memory fits the state");

static const float kFaraday = 96485.332f;    /* C/mol */
static const float kGasConstant = 8.314463f; /* J/mol/K */
static const float kOxygen = 0.0319988f;     /* kg/mol */
static const float kWorstShare = 0.9f;       /* flow of the worst cell over the mean */

static float held(float x, float lower, float upper) {
  return x < lower ? lower : x > upper ? upper : x; /* NaN passes: look at inputs before */
}

/* Least distance of a cell voltage to its coke-onset voltage, V; models of docs/models/controller.md. */
static float coke_margin(const ctl_params* p, const ctl_inputs* in, float temperature, float outlet_co) {
  const float t = (temperature - 1073.15f) / 100.0f;
  const float density = 0.6f * in->stack_current / p->cell_area; /* A/m2 at the outlet */
  const float gas = 0.5f * logf(fmaxf(in->anode_pressure, 10.0f) / 1e5f) -
                    logf(fmaxf(outlet_co * in->cathode_pressure, 10.0f) / 1e5f);
  const float equilibrium = 1.0713f + 0.04554f * t + kGasConstant * temperature / (2.0f * kFaraday) * gas;
  const float onset = equilibrium + density * (p->electrolyte_resistance + p->contact_resistance);
  float highest = in->cell_voltage[0];
  for (int k = 1; k < CTL_CELLS; ++k) highest = fmaxf(highest, in->cell_voltage[k]);
  return onset - highest;
}

/* A sum is finite only if all its parts are. */
static int measured(const ctl_inputs* in) {
  float sum = in->stack_current + in->feed_flow + in->cathode_pressure + in->anode_pressure +
              in->ambient_pressure + in->ambient_temperature + in->preheater_temperature +
              in->compressor_speed;
  for (int k = 0; k < CTL_ENDS; ++k) sum += in->end_temperature[k];
  for (int k = 0; k < CTL_ZONES; ++k) sum += in->zone_temperature[k];
  for (int k = 0; k < CTL_CELLS; ++k) sum += in->cell_voltage[k];
  return isfinite(sum) && in->ambient_temperature > 100.0f;
}

uint32_t ctl_abi_version(void) {
  return CTL_ABI_VERSION;
}

ctl_status ctl_init(ctl_state* state, const ctl_params* params) {
  if (state == NULL || params == NULL) return CTL_BAD_ARGUMENT;
  memset(state, 0, sizeof *state); /* mode off, nothing energised */
  state->abi_version = CTL_ABI_VERSION;
  state->size = CTL_STATE_BYTES;
  return CTL_OK;
}

ctl_status ctl_step(ctl_state* state, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  if (state == NULL || p == NULL || in == NULL || out == NULL) return CTL_BAD_ARGUMENT;
  if (state->abi_version != CTL_ABI_VERSION) return CTL_BAD_VERSION;
  Memory m;
  memcpy(&m, state->words, sizeof m);

  float mean = 0.0f, hottest = 0.0f;
  for (int k = 0; k < CTL_ZONES; ++k) {
    mean += in->zone_temperature[k] / CTL_ZONES;
    hottest = fmaxf(hottest, in->zone_temperature[k]);
  }

  /* modes: production as long as it is asked for and everything is in order; safe until off is asked for */
  const int trusted = measured(in);
  if (in->requested_mode == CTL_OFF)
    m.mode = CTL_OFF;
  else if (!trusted || hottest > p->zone_max)
    m.mode = CTL_SAFE;
  else if (m.mode == CTL_OFF && in->requested_mode == CTL_PRODUCTION && mean > p->current_temperature) {
    m.mode = CTL_PRODUCTION; /* take over what runs already, without a bump */
    m.current = held(in->stack_current, 0.0f, p->current_max);
    m.speed = held(in->compressor_speed, 0.0f, p->speed_max);
    m.heat = 0.5f * p->heat_loss * (mean - 273.15f);
  }

  out->mode = m.mode;
  out->limiter = CTL_BY_NOTHING;
  out->law = CTL_LAW_CASCADE; /* the nearest word of the list */
  out->compressor_speed = out->stack_current = out->preheater_power = out->recycle_opening = 0.0f;
  for (int k = 0; k < CTL_ENDS; ++k) out->end_power[k] = 0.0f;

  if (m.mode == CTL_PRODUCTION) {
    /* what the plant does now */
    const float inlet_co = p->inlet_co_setpoint, inlet_co2 = p->air_co2_fraction - inlet_co;
    const float molar_mass = p->air_molar_mass - 0.016f * inlet_co;
    const float per_ampere = CTL_CELLS / (2.0f * kFaraday); /* mol/s of CO2 converted */
    const float feed = fmaxf(in->feed_flow / molar_mass, 1e-7f);
    const float made = per_ampere * fmaxf(in->stack_current, 0.0f);
    const float margin = coke_margin(p, in, mean, fminf(inlet_co + made / feed / kWorstShare, 0.95f));

    /* current: what is asked for, what the feed carries, what the margin leaves; the least of them */
    const float demand = isfinite(in->oxygen_demand) ? fmaxf(in->oxygen_demand, 0.0f) : 0.0f;
    const float asked = fminf(demand * 4.0f * kFaraday / (kOxygen * CTL_CELLS), p->current_max);
    const float carried = p->utilisation_setpoint * feed * inlet_co2 / per_ampere;
    const float safe = m.current + 2.0f * (margin - p->margin_setpoint);
    float output = asked;
    out->limiter = CTL_BY_DEMAND;
    if (carried < output) output = carried, out->limiter = CTL_BY_UTILISATION;
    if (safe < output) output = safe, out->limiter = CTL_BY_COKE_MARGIN;
    output = held(output, 0.0f, p->current_max);
    m.current =
        held(output, m.current - p->current_rate_down * p->period, m.current + p->current_rate_up * p->period);

    /* flow: what the demand needs, and a little more in proportion to what is missing */
    const float needed = molar_mass * per_ampere * asked / (0.9f * p->utilisation_setpoint * inlet_co2);
    const float flow = fmaxf(needed + 0.5f * (needed - in->feed_flow), p->flow_min);
    const float air = in->ambient_pressure * p->air_molar_mass / (kGasConstant * in->ambient_temperature);
    const float per_speed = fmaxf(air, 1e-3f) * p->compressor_displacement * p->volumetric_efficiency / 6.2832f;
    const float speed = held(flow / per_speed, p->speed_min, p->speed_max);
    m.speed = held(speed, m.speed - p->speed_rate * p->period, m.speed + p->speed_rate * p->period);

    /* heat: proportional and integral on the mean of the zones, shared by the two ends */
    const float cold = p->stack_setpoint - mean;
    m.heat = held(m.heat + cold * p->period / 600.0f, 0.0f, p->end_power_max);
    for (int k = 0; k < CTL_ENDS; ++k) {
      const float power = m.heat + 2.0f * (p->stack_setpoint - in->end_temperature[k]);
      out->end_power[k] = in->end_temperature[k] < p->end_max ? held(power, 0.0f, p->end_power_max) : 0.0f;
    }
    out->preheater_power =
        held(1.0f * (p->stack_setpoint - in->preheater_temperature), 0.0f, p->preheater_power_max);

    out->stack_current = m.current;
    out->compressor_speed = m.speed;
    out->recycle_opening = p->recycle_opening;
    out->coke_margin = margin; /* an estimate that is not written is NaN in the trace */
    out->utilisation = made / (feed * inlet_co2);
  } else {
    m.current = m.speed = m.heat = 0.0f;
  }
  memcpy(state->words, &m, sizeof m);
  return CTL_OK;
}

/* What the memory consists of: `duskline linearize --link plugin:./proportional.so` reads it. A plug-in may leave it out. */
uint32_t ctl_state_layout(const ctl_field** fields) {
  static const ctl_field list[] = {
      {"mode", "1", offsetof(Memory, mode), 1, CTL_FIELD_WORD, 0},
      {"current", "A", offsetof(Memory, current), 1, CTL_FIELD_NUMBER, 1},
      {"speed", "rad/s", offsetof(Memory, speed), 1, CTL_FIELD_NUMBER, 1},
      {"heat", "W", offsetof(Memory, heat), 1, CTL_FIELD_NUMBER, 1},
  };
  if (fields != NULL) *fields = list;
  return sizeof list / sizeof *list;
}
