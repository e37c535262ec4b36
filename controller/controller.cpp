/// The controller: one tick from measurements to commands, and the plain C interface around it.
///
/// What it is   read signals, estimate, supervise, heat, flow and current, later stages, back-calculation
/// Equation     (state', outputs) = f(state, parameters, inputs), a pure function
/// Symbols      as in controller/include/controller.h
/// Validity     any input; the work of a tick is bounded and has no data-dependent loop
/// Left out     start-up and I/O of a target (port/)
#include "controller/laws/fixed.hpp"
#include "controller/laws/predictive.hpp"
#include "controller/memory.hpp"
#include "controller/parameters.hpp"
#include "controller/retain.hpp"
#include "controller/supervise/ceiling.hpp"
#include "controller/supervise/derate.hpp"
#include "controller/takeover.hpp"

namespace duskline::controller {
namespace {

constexpr float kColdTarget = 200.0f;  // K, where cool-down ends

/// What the mode and the state of the plant permit at this tick.
struct Permission {
  bool heat, flow, current;
  bool priming;  // the flow has begun but does not show yet
  bool stop_flow_at_once;
};

/// In safe the compressor may run: nothing that flow would make worse.
bool safe_flow(const Memory& m, const Facts& f, uint32_t observed) {
  constexpr float kCooled = 15.0f;  // K
  const bool hot = f.signals.has(in_compressor_temperature) &&
                   f.signals[in_compressor_temperature] > f.params.compressor_max - kCooled;
  return !hot && ((observed | m.mode.tripped) & (CTL_OVER_PRESSURE | CTL_BUS_LOW)) == 0;
}
/// A current that does not stop keeps its feed, so that no cell starves; not for long, for the meter may be wrong.
bool holds_feed_for_stuck_current(const Memory& m, const ctl_params& p, const Signals& y) {
  constexpr float kFed = 60.0f, kFlows = 0.2f;  // s, A
  if (m.mode.mode != CTL_SAFE || m.applied_current > 0.0f || !(m.applied_speed > 0.0f)) return false;
  const bool suspect =
      in_set(m.detection.suspect, in_stack_current) && (m.diagnosed & CTL_CURRENT_DEVIATION) != 0;
  const bool flows = y.has(in_stack_current) && y[in_stack_current] > p.protective_current + kFlows;
  return m.safe_time <= kFed && (suspect || flows);
}
/// Flow without current: only until it is known whether one may follow.
bool safe_purge(const Memory& m, const Facts& f, uint32_t observed) {
  return safe_flow(m, f, observed) &&
         (m.safe_time <= f.params.safe_flow_time || holds_feed_for_stuck_current(m, f.params, f.signals));
}
/// Current is off when safe begins. After a rest a protective one may flow if no reason stands, because CO2 and
/// air oxidise a hot cathode that makes no CO; a reason that comes back ends that until the next reset.
bool safe_protection(Memory& m, const Facts& f, uint32_t observed) {
  const bool rested = m.safe_time > max_of(f.params.trip_dwell, f.params.period);  // never in the first tick
  const bool reason = (observed & (kDanger | CTL_MARGIN_LOST | CTL_FAULT_FOUND)) != 0;
  if (rested && reason && m.applied_current > 0.0f) m.locked_out = 1;
  return rested && !reason && m.locked_out == 0 && safe_flow(m, f, observed) && heat_sensors(f.signals) &&
         current_sensors(f.signals);
}

inline constexpr float kDry = 5.0f;  // of flow_min: the feed has ended, and its noise is no feed

/// Without recycle the feed is CO2 alone. The feed ends, and while what is left of it comes the current stays, as far
/// as its limits let it: the cathode is left full of CO.
bool runs_dry(const Memory& m) {
  return m.response >= CTL_RESPOND_STANDBY && (m.diagnosed & CTL_RECYCLE_LOST) != 0;
}

Permission permit(Memory& m, const Facts& f, uint32_t observed, uint32_t mode) {
  const ctl_params& p = f.params;
  const Signals& y = f.signals;
  const ModeRow& row = kModes[mode];
  m.warm =
      f.thermal.coldest > p.protection_temperature || (m.warm != 0 && f.thermal.hottest > p.protection_end);
  const bool safe = mode == CTL_SAFE;
  if (!safe) m.locked_out = 0;
  const bool zones_known = lost_among(y, in_zone_temperature, CTL_ZONES) <= 1;
  m.safe_time = safe ? min_of(m.safe_time + p.period, 1e7f) : 0.0f;

  Permission allow{};
  allow.heat = row.heaters && zones_known && f.thermal.hottest < p.zone_max && (observed & CTL_BUS_LOW) == 0;
  // flow without current brings CO2 alone and oxidises nickel: no flow that current cannot follow
  allow.flow = row.flow && m.warm != 0;
  const bool protective = safe && safe_protection(m, f, observed);
  if (safe && !protective) allow.flow = allow.flow && safe_purge(m, f, observed);
  if ((mode == CTL_WARM_UP || mode == CTL_COOL_DOWN) && !current_sensors(y)) allow.flow = false;
  const bool dry = runs_dry(m), followed = allow.flow && !safe;
  if (dry) allow.flow = false;
  m.flow_integral_time = allow.flow ? min_of(m.flow_integral_time + p.period, 1e7f) : 0.0f;
  allow.priming = f.feed_flow < p.flow_min && m.flow_integral_time < p.priming_time;
  allow.current = row.current && allow.flow && (!safe || protective) && current_sensors(y) &&
                  (f.feed_flow >= p.flow_min || allow.priming);
  if (dry)
    allow.current = row.current && followed && current_sensors(y) && m.applied_current > 0.0f &&
                    f.feed_flow >= kDry * p.flow_min;
  allow.stop_flow_at_once = mode == CTL_OFF || safe || dry;
  return allow;
}

/// A shaft that does not follow must find no full command when it turns again: CO2 alone would rush over the nickel.
float speed_in_reach(const Memory& m, const ctl_params& p, const Signals& y) {
  if ((m.diagnosed & CTL_COMPRESSOR_STOPPED) == 0 || !y.has(in_compressor_speed)) return p.speed_max;
  return max_of(p.speed_min, y[in_compressor_speed] + p.speed_rate * p.period);
}

float limited_speed(const Memory& m, const ctl_params& p, const Signals& y, float output,
                    const Permission& allow) {
  const float step = p.speed_rate * p.period;
  if (allow.flow) {
    if (holds_feed_for_stuck_current(m, p, y)) return m.applied_speed;
    const float target = min_of(clamp(output, p.speed_min, p.speed_max), speed_in_reach(m, p, y));
    // noise in the output is no reason to move the machine; the flow loop's integral brings the rest
    if (m.applied_speed > 0.0f && abs_of(target - m.applied_speed) < p.speed_step) return m.applied_speed;
    return clamp(target, m.applied_speed - step, m.applied_speed + step);
  }
  return allow.stop_flow_at_once ? 0.0f : max_of(0.0f, m.applied_speed - step);
}

/// Magnitude and rate of the current; the limiter says what held it.
float limited_current(const Memory& m, const ctl_params& p, LawOutput& output, const Permission& allow) {
  if (!allow.current) return 0.0f;
  const float target = clamp(output.current, 0.0f, p.current_max);
  const bool overridden = output.limiter == CTL_BY_COKE_MARGIN || output.limiter == CTL_BY_VOLTAGE ||
                          output.limiter == CTL_BY_POWER || output.limiter == CTL_BY_UTILISATION;
  if (overridden && target > p.protective_current && abs_of(target - m.applied_current) < p.current_step)
    return m.applied_current;
  // what protects the nickel comes at once, what makes oxygen comes gently
  const float quick = min_of(p.protective_current, m.applied_current + p.current_rate_down * p.period);
  const float highest = max_of(quick, m.applied_current + p.current_rate_up * p.period);
  const float fall =
      output.limiter == CTL_BY_POWER ? max_of(p.shed_rate, p.current_rate_down) : p.current_rate_down;
  const float lowest = m.applied_current - fall * p.period;
  if (target > highest) output.limiter = CTL_BY_RATE;
  return clamp(target, lowest, highest);
}

float demanded_current(const ctl_params& p, const ctl_inputs& in) {
  const bool usable = is_finite(in.oxygen_demand) && in.oxygen_demand > 0.0f;
  return usable ? min_of(p.current_max, current_for_oxygen(p, min_of(in.oxygen_demand, 1.0f))) : 0.0f;
}

float stack_power(const Signals& y, float current) {
  float sum = 0.0f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) sum += y[in_cell_voltage + k];
  return max_of(0.0f, current * sum);
}

/// What the estimators of a tick believe.
struct Estimates {
  Gas gas;
  Density density;
  Coke coke;
  Health health;
};

void write_estimates(ctl_outputs& out, const Estimates& b, const Consistency& consistency) {
  out.intake_density = b.density.value;
  out.intake_density_rate = b.density.rate;
  out.intake_density_sigma = b.density.sigma;
  out.compressor_efficiency = b.density.efficiency;
  out.utilisation = b.gas.utilisation;
  out.inlet_co_ratio = b.gas.inlet_co / b.gas.inlet_co2;
  out.outlet_co_fraction = b.gas.inlet_co + b.gas.conversion;
  out.coke_onset_voltage = b.coke.onset;
  out.coke_margin = b.coke.margin;
  out.coke_sigma = b.coke.sigma;
  out.margin_in_sigmas = b.coke.in_sigmas;
  out.worst_cell = b.coke.worst;
  out.added_resistance = b.coke.added_resistance;
  out.resistance_growth = b.coke.growth;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    out.cell_resistance[k] = b.coke.added[k];
    out.cell_coke_margin[k] = b.coke.cell[k];
  }
  out.filter_loading = b.health.filter_loading;
  out.bearing_wear = b.health.bearing_wear;
  out.consistency = consistency.mean;
}

Estimates estimate(Memory& m, const ctl_params& p, const Signals& y, const Thermal& t, float current) {
  Estimates b{};
  b.gas = estimate_gas(m.gas, p, y, m.feed_flow, current, m.applied_opening);
  b.density = estimate_density(m.density, p, y, b.gas);
  b.coke = estimate_coke(m.coke, p, y, b.gas, t.zone, current, m.consistency);
  b.health = estimate_health(m.health, p, y, b.gas, b.density);
  note(m.consistency, b.density.ambient, p.consistency_memory);
  note(m.consistency, b.density.machine, p.consistency_memory);
  return b;
}

void write_outputs(ctl_outputs& out, const Memory& m, const ctl_params& p, const Supervision& s,
                   const Estimates& b, const HeatOutput& h, uint32_t limiter) {
  write_estimates(out, b, m.consistency);
  out.compressor_speed = m.applied_speed;
  out.stack_current = m.applied_current;
  out.recycle_opening = m.applied_opening;
  out.preheater_power = h.preheater;
  for (uint32_t k = 0; k < CTL_ENDS; ++k) out.end_power[k] = h.end[k];
  out.oxygen_rate = oxygen_rate(p, m.applied_current);
  out.utilisation_setpoint = utilisation_setpoint(p, m.law);
  out.temperature_setpoint = m.heat.setpoint;
  out.feed_setpoint = m.applied_speed > 0.0f ? m.law.feed_setpoint : 0.0f;
  out.margin_setpoint = m.margin_kept;
  out.suspect[0] = m.detection.suspect[0];
  out.suspect[1] = m.detection.suspect[1];
  for (uint32_t n = 0; n < CTL_CORRECTIONS; ++n) out.correction[n] = m.calibration.correction[n];
  out.corrected = m.calibration.corrected;
  out.law = m.law_in_force;
  out.mode = s.mode;
  out.limiter = limiter;
  out.unmet_permissives = s.unmet_permissives;
  out.tripped = m.mode.tripped;
}

void tick(Memory& m, const ctl_params& p, const ctl_inputs& in, ctl_outputs& out) {
  // measure and estimate
  Signals read = read_signals(m.signals, p, in);
  correct(m.calibration, p, read);
  const Signals y = substitute(m.detection, p, read);
  const Thermal t = estimate_thermal(m.thermal, p, y);
  const bool first = m.started == 0;
  const bool taken_over = first && m.mode.mode != CTL_SAFE && take_over(m, p, y, t, in.requested_mode);
  m.started = 1;
  if (y.has(in_feed_flow))
    m.feed_flow = low_pass(m.feed_flow, max_of(0.0f, y[in_feed_flow]), p.period, p.flow_filter);
  const float current = y.has(in_stack_current) ? y[in_stack_current] : m.applied_current;
  const Estimates b = estimate(m, p, y, t, current);
  const Gas& g = b.gas;
  const Coke& c = b.coke;
  const Relations relations =
      detect(m.detection, {p, in, m.signals, read, y, g, t.zone, t.mean, c.added_resistance, m.mode.mode});
  m.diagnosed = m.detection.diagnosed;
  m.response = p.detection < 1.5f ? uint32_t{CTL_RESPOND_NONE} : m.detection.response;
  const float nernst = open_circuit(p, y, g, t.zone, m.feed_flow);
  calibrate(m.calibration, {p, y, relations, m.detection, nernst, in.clear_corrections});

  // supervise
  if (first || !kModes[m.mode.mode].heaters) m.heat = initial_heat(t.mean);
  const Facts facts{p, y, t, g, c, m.feed_flow, m.applied_current, m.response};
  const uint32_t observed = observed_conditions(facts);
  const Supervision s = supervise(m.mode, facts, observed, in.requested_mode);
  const Permission allow = permit(m, facts, observed, s.mode);
  const float ceiling = power_ceiling(p, in);

  // heat
  const bool down = s.mode == CTL_COOL_DOWN || s.mode == CTL_SAFE;
  HeatOutput powers{};
  if (kModes[s.mode].heaters)
    powers = run_heat(m.heat, {p, y, t.mean, t.hottest - t.coldest, down ? kColdTarget : p.stack_setpoint,
                               ceiling, stack_power(y, current), current, allow.heat});

  // flow and current: the law wishes
  const bool producing = s.mode == CTL_PRODUCTION;
  const float share = derate(m.derated, facts);
  const float asked = producing ? demanded_current(p, in) : 0.0f;
  const bool by_demand = asked > p.protective_current;
  const float demand = by_demand ? p.protective_current + share * (asked - p.protective_current) : asked;
  const float wanted = !allow.current ? 0.0f
                       : runs_dry(m)  ? max_of(p.protective_current, m.applied_current)
                       : by_demand    ? demand
                                      : min_of(p.protective_current, p.current_max);
  const ctl_params law_params = derated_params(p, facts.response);
  const uint32_t law = producing ? select_law(m.law, p, y, ceiling, (m.diagnosed & CTL_MODEL_SUSPECT) != 0)
                                 : uint32_t{CTL_LAW_CASCADE};
  const float rate = preview(m.preview, p, b.density.value, b.density.rate, in.local_time);
  const float density = adapts(law) ? density_ahead(p, b.density.value, rate) : b.density.value;
  const LawInput law_input{law_params,
                           y,
                           g,
                           c,
                           t.mean,
                           density,
                           m.feed_flow,
                           wanted,
                           m.applied_current,
                           ceiling,
                           !by_demand && (observed & CTL_NO_PROTECTION) != 0,
                           static_cast<float>(in.tick) * p.period,
                           m.selected,
                           !by_demand       ? uint32_t{CTL_BY_MODE}
                           : demand < asked ? uint32_t{CTL_BY_DERATING}
                                            : uint32_t{CTL_BY_DEMAND},
                           law,
                           c.sigma,
                           rate};
  if (taken_over) m.law.feed_setpoint = m.feed_flow;
  if (adapts(law))
    set_adaptive_flow(m.law, law_input);
  else
    set_flow(m.law, law_input);
  if (allow.flow && m.applied_speed == 0.0f) {
    m.law.flow = Pi{};
    m.law.flow_reference = m.law.feed_setpoint = m.feed_flow;
  } else if (law != m.law_in_force || taken_over) {
    align_flow(m.law, law_input, m.applied_speed);
    begin_plan(m.law, law_input, m.applied_speed);
  }
  if (taken_over) align_current(m.law, law_input, m.applied_current);
  LawOutput output =
      law == CTL_LAW_PREDICTIVE ? predictive_law(m.law, law_input) : cascade_law(m.law, law_input);
  if (law == CTL_LAW_FIXED) output = fixed_law(m.law, law_input);

  if (allow.priming) output.current = p.priming_current;
  const float under_ceiling = current_under_ceiling(p, y, m.heat, ceiling);
  if (under_ceiling < output.current) output = {output.speed, under_ceiling, CTL_BY_POWER};

  m.selected = output.limiter;

  // later stages, then every loop learns what came of its output
  m.applied_speed = limited_speed(m, p, y, output.speed, allow);
  m.applied_current = limited_current(m, p, output, allow);
  m.applied_opening = recycle_loop(m.recycle, p, g, m.applied_opening, allow.flow, law == CTL_LAW_FIXED);
  if (allow.flow && (m.diagnosed & CTL_COMPRESSOR_STOPPED) != 0) m.applied_opening = p.recycle_max;
  m.law_in_force = law;
  m.margin_kept = margin_setpoint(law_input);
  law_applied(m.law, law_input, m.applied_speed, m.applied_current);

  m.detection.applied = {m.applied_speed,
                         m.applied_current,
                         m.applied_opening,
                         powers.preheater,
                         {powers.end[0], powers.end[1]}};
  const uint32_t idle = kModes[s.mode].current ? CTL_BY_MODE : CTL_BY_NOTHING;
  write_outputs(out, m, p, s, b, powers, allow.current ? output.limiter : idle);

  const bool fell_back = producing && p.law == CTL_LAW_PREDICTIVE && law == CTL_LAW_ADAPTIVE;
  m.diagnosed = (m.diagnosed & ~uint32_t{CTL_LAW_FELL_BACK}) | (fell_back ? uint32_t{CTL_LAW_FELL_BACK} : 0u);

  // alarms
  m.restarted = in.alarm_action == CTL_ALARM_ACKNOWLEDGE_ALL ? 0.0f : max_of(0.0f, m.restarted - p.period);
  out.diagnosed = m.diagnosed | (m.restarted > 0.0f ? uint32_t{CTL_RESTARTED} : 0u);
  out.response = m.response;
  run_alarms(m.alarms, p,
             alarm_facts(facts, observed, s, m.mode.tripped, m.diagnosed, suspect_mask(m.detection)),
             {in.alarm_action, in.alarm_number, in.maintenance, in.shelve_time});
  write_alarms(out, m.alarms);
}

void write_safe_outputs(ctl_outputs& out) {
  out = ctl_outputs{};
  out.mode = CTL_SAFE;
  out.limiter = CTL_BY_NOTHING;
}

/// The last guard: a command is finite, inside the list and the parameters, and of the mode, or it is off.
void guard(ctl_outputs& out, const ctl_params& p) {
  const auto hold = [](float& x, float lower, float upper) {
    x = is_finite(x) ? clamp(x, lower, upper) : lower;
  };
#define CTL_HOLD_SCALAR(name, unit, lower, upper, meaning) hold(out.name, lower, upper);
#define CTL_HOLD_ARRAY(name, count, unit, lower, upper, meaning) \
  for (uint32_t k = 0; k < count; ++k) hold(out.name[k], lower, upper);
  CTL_OUTPUT_LIST(CTL_HOLD_SCALAR, CTL_HOLD_ARRAY)
#undef CTL_HOLD_SCALAR
#undef CTL_HOLD_ARRAY
  const ModeRow& row = kModes[out.mode];
  out.compressor_speed = row.flow ? min_of(out.compressor_speed, p.speed_max) : 0.0f;
  out.stack_current = row.current ? min_of(out.stack_current, p.current_max) : 0.0f;
  out.preheater_power = row.heaters ? min_of(out.preheater_power, p.preheater_power_max) : 0.0f;
  for (float& power : out.end_power) power = row.heaters ? min_of(power, p.end_power_max) : 0.0f;
}

}  // namespace
}  // namespace duskline::controller

extern "C" uint32_t ctl_abi_version(void) {
  return CTL_ABI_VERSION;
}

extern "C" ctl_status ctl_init(ctl_state* state, const ctl_params* params) {
  using namespace duskline::controller;
  if (state == nullptr || params == nullptr) return CTL_BAD_ARGUMENT;
  *state = ctl_state{};
  if (!valid_params(*params)) return CTL_BAD_PARAMETER;
  state->abi_version = CTL_ABI_VERSION;
  state->size = CTL_STATE_BYTES;
  store(*state, initial_memory());
  return CTL_OK;
}

extern "C" void ctl_retain(const ctl_state* state, ctl_retained* retained) {
  using namespace duskline::controller;
  if (state == nullptr || retained == nullptr) return;
  retained->state = *state;
  retained->checksum = checksum_of(*state);
}

extern "C" ctl_status ctl_restart(ctl_state* state, const ctl_params* params, const ctl_retained* retained) {
  using namespace duskline::controller;
  const ctl_status fresh = ctl_init(state, params);
  if (fresh != CTL_OK) return fresh;
  if (retained == nullptr || retained->checksum != checksum_of(retained->state) ||
      retained->state.abi_version != CTL_ABI_VERSION || retained->state.size != CTL_STATE_BYTES)
    return CTL_NOT_RETAINED;
  const Memory before = load(retained->state);
  if (!plausible(before)) return CTL_NOT_RETAINED;
  store(*state, warm_restart(before, *params));
  return CTL_OK;
}

extern "C" ctl_status ctl_step(ctl_state* state, const ctl_params* params, const ctl_inputs* in,
                               ctl_outputs* out) {
  using namespace duskline::controller;
  if (out == nullptr) return CTL_BAD_ARGUMENT;
  write_safe_outputs(*out);
  if (state == nullptr || params == nullptr || in == nullptr) return CTL_BAD_ARGUMENT;
  if (state->abi_version != CTL_ABI_VERSION || state->size != CTL_STATE_BYTES) return CTL_BAD_VERSION;
  if (!valid_params(*params)) return CTL_BAD_PARAMETER;
  Memory m = load(*state);
  if (!plausible(m)) return CTL_BAD_VERSION;
  tick(m, *params, *in, *out);
  guard(*out, *params);
  store(*state, m);
  return CTL_OK;
}
