/* A small plant controller in C: four loops of the headers, the demand in equal shares, an anti-surge valve, two interlocks.
 *
 *   cc -std=c11 -O2 -fPIC -shared -ffp-contract=off -I . -o even_shares.so docs/how-to/controllers/even_shares.c -lm
 *
 * It takes over a plant that produces (initial state `producing`) and holds its headers. It goes to safe when one of the nine
 * instruments that it reads is lost, the pressure of the feed header is too high or that across the cells is, and stays there
 * until it is asked for off. Asked for anything but production it shuts down. It knows no start-up, power ceiling, spare or
 * alarms: it shows how little a plant controller needs, and is not for use on a plant.
 */
#include <math.h>
#include <stddef.h>
#include <string.h>

#include "controller/include/plant_controller.h"

/* A PI loop that adds its steps to the command (velocity form): it does not wind up at the ends of its range. */
typedef struct {
  float command, error; /* of the last tick */
} Loop;

/* All that is remembered between two calls lives in ctl_plant_state.words. */
typedef struct {
  uint32_t mode;
  Loop speed, recycle, exhaust, product;
  float anti_surge; /* opening at the last tick */
  float demand;     /* kg/s that is shared; it falls slowly */
} Memory;

_Static_assert(sizeof(Memory) <= sizeof(((ctl_plant_state*)0)->words), "the memory fits the state");

static const float kOxygen = 0.0319988f; /* kg/mol */

static float held(float x, float lower, float upper) {
  return x < lower ? lower : x > upper ? upper : x; /* NaN passes: look at inputs before */
}

static float pi_step(Loop* loop, float error, float gain, float time, float period, float upper) {
  loop->command = held(loop->command + gain * (error - loop->error + error * period / time), 0.0f, upper);
  loop->error = error;
  return loop->command;
}

/* Opening at which a valve passes this share of its open flow: linear, or equal percentage. */
static float opening(const ctl_plant_params* p, float share) {
  const float y = held(share, 0.01f, 1.0f);
  return p->valve_rangeability > 1.0f ? fmaxf(0.0f, 1.0f + logf(y) / logf(p->valve_rangeability)) : y;
}

/* Flow through the compressor over that at surge, less 1: the surge line of the parameters at this pressure ratio. */
static float surge_margin(const ctl_plant_params* p, const ctl_plant_inputs* in) {
  const float ratio = in->discharge_pressure / in->suction_pressure;
  const float flow = in->compressor_flow * sqrtf(in->ambient_temperature / p->map_temperature) *
                     p->map_pressure / in->suction_pressure;
  int k = 1;
  while (k < CTL_PLANT_MAP_ROWS - 1 && p->map_ratio[k] < ratio) ++k;
  const float part =
      held((ratio - p->map_ratio[k - 1]) / (p->map_ratio[k] - p->map_ratio[k - 1]), 0.0f, 1.0f);
  const float at_surge = p->map_surge_flow[k - 1] + part * (p->map_surge_flow[k] - p->map_surge_flow[k - 1]);
  return flow / at_surge - 1.0f;
}

/* A sum is finite only if all its parts are. */
static int in_order(const ctl_plant_params* p, const ctl_plant_inputs* in) {
  const float sum = in->feed_header_pressure + in->exhaust_header_pressure + in->product_header_pressure +
                    in->feed_header_co_fraction + in->compressor_speed + in->compressor_flow +
                    in->suction_pressure + in->discharge_pressure + in->ambient_temperature;
  return isfinite(sum) && in->suction_pressure > 10.0f && in->ambient_temperature > 100.0f &&
         in->feed_header_pressure < p->header_pressure_max &&
         fabsf(in->product_header_pressure - in->exhaust_header_pressure) < p->across_max;
}

uint32_t ctl_plant_abi_version(void) {
  return CTL_PLANT_ABI_VERSION;
}

ctl_status ctl_plant_init(ctl_plant_state* state, const ctl_plant_params* params) {
  if (state == NULL || params == NULL) return CTL_BAD_ARGUMENT;
  memset(state, 0, sizeof *state); /* mode off */
  state->abi_version = CTL_PLANT_ABI_VERSION;
  state->size = CTL_PLANT_STATE_BYTES;
  return CTL_OK;
}

/* Without power: compressor off, valves open, modules in safe; no estimates. */
static void write_safe(ctl_plant_outputs* out) {
  memset(out, 0, sizeof *out);
  out->anti_surge_opening = out->exhaust_opening = out->product_opening = 1.0f;
  out->mode = CTL_PLANT_SAFE;
  for (int k = 0; k < CTL_PLANT_MODULES; ++k) out->order[k] = (ctl_module_order){0.0f, NAN, 1.0f, CTL_SAFE};
#define NOT_MADE(name, ...) out->name = NAN;
#define NONE_MADE(name, count, ...) \
  for (int k = 0; k < (count); ++k) out->name[k] = NAN;
  CTL_PLANT_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
}

ctl_status ctl_plant_step(ctl_plant_state* state, const ctl_plant_params* p, const ctl_plant_inputs* in,
                          ctl_plant_outputs* out) {
  if (out == NULL) return CTL_BAD_ARGUMENT;
  write_safe(out);
  if (state == NULL || p == NULL || in == NULL) return CTL_BAD_ARGUMENT;
  if (state->abi_version != CTL_PLANT_ABI_VERSION) return CTL_BAD_VERSION;
  Memory m;
  memcpy(&m, state->words, sizeof m);

  float feed = 1e-6f, oxygen = 0.0f; /* kg/s that the modules ask for, and make */
  int producing = 0;
  for (int k = 0; k < CTL_PLANT_MODULES; ++k) {
    if (in->service[k] != CTL_SERVICE_IN) continue;
    producing += in->module[k].mode == CTL_PRODUCTION;
    feed += isfinite(in->module[k].feed_wanted) ? in->module[k].feed_wanted : 0.0f;
    oxygen += isfinite(in->module[k].oxygen_rate) ? in->module[k].oxygen_rate : 0.0f;
  }

  /* modes: production as long as it is asked for and everything is in order; safe until off is asked for */
  const int asked = in->requested_mode == CTL_PLANT_PRODUCTION;
  const int valid = in_order(p, in);
  const float across = in->product_header_pressure - in->exhaust_header_pressure - p->product_offset;
  const float conversion = 2.0f * oxygen / kOxygen * p->air_molar_mass / feed; /* CO that the cells make */
  if (in->requested_mode == CTL_PLANT_OFF)
    m.mode = CTL_PLANT_OFF;
  else if (!valid)
    m.mode = CTL_PLANT_SAFE;
  else if (m.mode == CTL_PLANT_PRODUCTION && !asked)
    m.mode = CTL_PLANT_OFF;
  else if (m.mode == CTL_PLANT_OFF && asked && producing > 0) {
    m.mode = CTL_PLANT_PRODUCTION; /* take over what runs already: valves at what their flows need */
    m.demand = oxygen;
    m.speed = (Loop){in->compressor_speed, p->header_pressure - in->feed_header_pressure};
    m.recycle =
        (Loop){opening(p, p->co_setpoint / (p->co_setpoint + conversion) * feed / p->recycle_capacity),
               p->co_setpoint - in->feed_header_co_fraction};
    m.exhaust = (Loop){opening(p, (feed - oxygen) / p->exhaust_capacity),
                       in->exhaust_header_pressure - p->exhaust_pressure};
    m.product = (Loop){opening(p, oxygen / p->product_capacity), across};
  }

  out->mode = m.mode;
  const int produces = m.mode == CTL_PLANT_PRODUCTION;
  if (produces) {
    /* less speed at once means less margin to surge */
    const float speed = m.speed.command, step = p->speed_rate * p->period;
    pi_step(&m.speed, p->header_pressure - in->feed_header_pressure, p->pressure_gain, p->pressure_time,
            p->period, p->speed_max);
    m.speed.command = held(m.speed.command, fmaxf(p->speed_min, speed - 0.1f * step), speed + step);
    out->compressor_speed = m.speed.command;
    out->recycle_opening = pi_step(&m.recycle, p->co_setpoint - in->feed_header_co_fraction, p->recycle_gain,
                                   p->recycle_time, p->period, 1.0f);
    out->exhaust_opening = pi_step(&m.exhaust, in->exhaust_header_pressure - p->exhaust_pressure,
                                   p->exhaust_gain, p->exhaust_time, p->period, 1.0f);
    out->product_opening = pi_step(&m.product, across, p->product_gain, p->product_time, p->period, 1.0f);
    /* opens at once with the margin that is missing, closes slowly */
    const float needed = 4.0f * (p->surge_line - surge_margin(p, in));
    m.anti_surge = held(fmaxf(needed, m.anti_surge - p->period / p->surge_close_time), 0.0f, 1.0f);
    out->anti_surge_opening = m.anti_surge;
    out->liquefier_run = 1.0f;
    m.demand = fmaxf(held(in->oxygen_demand, 0.0f, 1.0f), m.demand - p->demand_fall * p->period);
    out->limiter = oxygen < 0.97f * m.demand ? CTL_PLANT_BY_MODULES : CTL_PLANT_BY_DEMAND;
    out->feed_wanted = feed;
    out->oxygen_rate = oxygen;
    out->header_setpoint = p->header_pressure;
    out->exhaust_setpoint = p->exhaust_pressure;
    out->surge_margin = surge_margin(p, in);
  }
  for (int k = 0; k < CTL_PLANT_MODULES; ++k) {
    const int serves = in->service[k] == CTL_SERVICE_IN && in->module[k].mode == CTL_PRODUCTION;
    ctl_module_order* order = &out->order[k];
    order->requested_mode = !produces ? (m.mode == CTL_PLANT_SAFE ? CTL_SAFE : CTL_COOL_DOWN)
                            : in->service[k] == CTL_SERVICE_IN ? CTL_PRODUCTION
                                                               : CTL_OFF;
    order->oxygen_demand = produces && serves ? fminf(m.demand / (float)producing, p->module_oxygen) : 0.0f;
  }
  memcpy(state->words, &m, sizeof m);
  return CTL_OK;
}
