/// The predictive law: one small quadratic programme plans flow and current together.
///
/// What it is   linear model-predictive control with blocked moves, soft limits and offset-free estimates; it
///              gives way to the adaptive law when the programme fails, a measurement is lost or the model is
///              suspect
/// Equation     dF/dt = (v + d - F)/tau; margin, utilisation, power and voltage linear about what is measured
///              now; least of sum w_I (I - wanted)^2 + w_F (F - F_U)^2 + w_dv dv^2 + w_dI dI^2 + w_s s + w_2
///              s^2 with margin >= kept - s, I <= U_max n(F) - s, power and voltage <= their limits + s
/// Symbols      F [kg/s] feed flow, v [kg/s] flow that the compressor draws, d [kg/s] what the model of it
///              misses, I [A], F_U [kg/s] set-point of the feed, s >= 0 slacks, one a limit
/// Validity     production; the planned moves hold for predictive_hold, the overrides of the cascade stand
///              guard in between; the first moves of a failed programme are never used
/// Source       offset-free targets: Pannocchia and Rawlings, AIChE J. 49 (2003) 426;
///              tests/unit/controller/controller_predictive_test.cpp
/// Left out     inlet CO and stack temperature (held by loops of their own); curvature within the horizon
#pragma once

#include "controller/laws/adaptive.hpp"
#include "controller/laws/qp.hpp"

namespace duskline::controller {

inline constexpr uint32_t kBlocks = 3;
inline constexpr float kBlockEnd[kBlocks] = {15.0f, 45.0f, 135.0f};  // s
inline constexpr float kFlowScale = 1e-5f;                           // kg/s
inline constexpr float kPerVolt = 100.0f;                            // slack of the margin in 10 mV
inline constexpr float kPerWatt = 0.1f;                              // slack of the bus in 10 W
inline constexpr float kReach = 1.0f;      // A, the plan looks no further: keeps the penalties exact
inline constexpr float kFlowGain = 0.15f;  // of the observer: poles at 6 s and 55 s
inline constexpr float kMissedGain = 0.1f;
inline constexpr float kMissedMost = 0.6f;        // of the flow drawn: beyond that the model is suspect
inline constexpr float kRatedPerAmpere = -0.04f;  // V/A, change of the margin
inline constexpr float kRatedPerFlow = 0.15f;     // V for a flow twice as large, in proportion
enum Slack : uint32_t { slack_margin = 2 * kBlocks, slack_utilisation, slack_bus, kPlanVariables };
inline constexpr uint32_t kPlanConstraints = 32;
using Plan = Qp<kPlanVariables, kPlanConstraints>;

/// Slopes of what is limited, per A and per kg/s.
struct Slopes {
  float margin_current, margin_flow;  // V
  float power_current, power_flow;    // W
  float voltage_current;              // V
};

/// The worst cell at another feed and current, by the estimator's own column at the voltage measured. The cathode is
/// emptied by a choked aperture, so its pressure goes with the feed; the anode's goes with the current.
inline Column column_at(const LawInput& in, float feed_ratio, float current_ratio) {
  const ctl_params& p = in.params;
  const Signals& y = in.signals;
  const uint32_t k = in.coke.worst < CTL_CELLS ? in.coke.worst : 0;
  Gas gas = in.gas;
  gas.conversion *= current_ratio / feed_ratio;
  const float share = in.coke.share[k] > 0.5f ? in.coke.share[k] : 1.0f;
  const auto held = [](float pressure) { return max_of(kLeastPressure, pressure); };
  const CellChemistry chemistry =
      with_constants(cell_chemistry(p, in.temperature, held(y[in_cathode_pressure] * feed_ratio),
                                    held(p.product_oxygen * y[in_anode_pressure] * current_ratio)),
                     in.coke.constants);
  return solve_column(p, chemistry, cell_gas(p, gas, share), in.coke.added[k],
                      in.applied_current * current_ratio, y[in_cell_voltage + k]);
}

/// What the margin changes from one column to another: the voltage moves by what the first does not explain less
/// what the second does not, the onset with it.
constexpr float margin_change(const Column& from, const Column& to) {
  const float voltage = from.innovation - to.innovation;
  return to.onset + to.onset_by_voltage * voltage - from.onset - voltage;
}

inline Slopes slopes(const LawInput& in) {
  const ctl_params& p = in.params;
  constexpr float kStep = 0.02f;
  const Column here = column_at(in, 1.0f, 1.0f);
  const Column by_current = column_at(in, 1.0f, 1.0f + kStep), by_flow = column_at(in, 1.0f + kStep, 1.0f);
  const float current = max_of(0.1f, in.applied_current), flow = max_of(p.flow_min, in.feed_flow);
  const bool known = here.identified && by_current.identified && by_flow.identified;
  float sum = 0.0f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) sum += in.signals[in_cell_voltage + k];
  Slopes s{};
  // V/A and V for a change of the flow by its own size: without a column the figures of the rated point
  const float per_ampere = known ? margin_change(here, by_current) / (kStep * current) : kRatedPerAmpere;
  const float per_flow = known ? margin_change(here, by_flow) / kStep : kRatedPerFlow;
  s.margin_current = clamp(per_ampere, -0.3f, -0.01f);
  s.margin_flow = clamp(per_flow, 0.01f, 1.0f) / flow;
  s.power_current = clamp(sum / p.converter_efficiency, 1.0f, 40.0f);
  s.power_flow = p.power_per_speed / flow_per_speed(p, in.density);
  s.voltage_current = -kRatedPerAmpere;
  return s;
}

/// What the plan knows about the feed at the end of block k: free response and the share of each move.
struct FlowResponse {
  float at_rest[kBlocks];
  float of_move[kBlocks][kBlocks];
};

inline FlowResponse flow_response(const ctl_params& p, float flow, float drawn, float flow_disturbance) {
  FlowResponse r{};
  for (uint32_t k = 0; k < kBlocks; ++k) {
    const float decay = exponential(-kBlockEnd[k] / p.plenum_lag);
    r.at_rest[k] = drawn + flow_disturbance + (flow - drawn - flow_disturbance) * decay;
    float start = 0.0f;
    for (uint32_t j = 0; j <= k; ++j) {
      r.of_move[k][j] = exponential(-(kBlockEnd[k] - kBlockEnd[j]) / p.plenum_lag) -
                        exponential(-(kBlockEnd[k] - start) / p.plenum_lag);
      start = kBlockEnd[j];
    }
  }
  return r;
}

/// Builds the programme row by row; variables: moves of flow in kFlowScale, moves of current in A, slacks.
struct PlanBuilder {
  Plan& plan;

  /// weight (gradient . x - target)^2
  void square(const float (&gradient)[kPlanVariables], float target, float weight) {
    for (uint32_t i = 0; i < kPlanVariables; ++i) {
      for (uint32_t j = 0; j < kPlanVariables; ++j)
        plan.hessian[i][j] += 2.0f * weight * gradient[i] * gradient[j];
      plan.gradient[i] -= 2.0f * weight * gradient[i] * target;
    }
  }
  /// row . x >= bound
  void require(const float (&row)[kPlanVariables], float bound) {
    if (plan.constraints >= kPlanConstraints) return;
    for (uint32_t i = 0; i < kPlanVariables; ++i) plan.row[plan.constraints][i] = row[i];
    plan.bound[plan.constraints++] = bound;
  }
  void require_one(uint32_t variable, float sign, float bound) {
    float row[kPlanVariables]{};
    row[variable] = sign;
    require(row, bound);
  }
};

/// Flow from which the moves count: the one planned last, where the machine stands as near to it as it can.
constexpr float plan_base(const LawMemory& m, const LawInput& in) {
  const float least = in.params.speed_step * flow_per_speed(in.params, in.density);
  return abs_of(m.plan.flow_planned - m.plan.drawn) <= least ? m.plan.flow_planned : m.plan.drawn;
}

inline Plan make_plan(const LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  const Slopes s = slopes(in);
  const float drawn = plan_base(m, in), current = in.applied_current;
  const FlowResponse f = flow_response(p, in.feed_flow, drawn, m.plan.flow_disturbance);
  const float ampere_per_flow = p.utilisation_max / flow_for_current(in, 1.0f, 1.0f);
  const float kept = margin_setpoint(in);

  Plan plan{};
  plan.variables = kPlanVariables;
  plan.constraints = 0;
  PlanBuilder b{plan};
  for (uint32_t k = 0; k < kBlocks; ++k) {
    const uint32_t at_flow = k, at_current = kBlocks + k;
    float flow[kPlanVariables]{};  // of x, in kFlowScale
    for (uint32_t j = 0; j <= k; ++j) flow[j] = f.of_move[k][j];
    const float flow_free = f.at_rest[k];

    // what is wanted
    float row[kPlanVariables]{};
    row[at_current] = 1.0f;
    b.square(row, min_of(in.wanted_current - current, kReach), p.weight_current);
    b.square(flow, (m.feed_setpoint - flow_free) / kFlowScale, p.weight_flow);
    float move[kPlanVariables]{};
    move[at_flow] = 1.0f;
    if (k > 0) move[at_flow - 1] = -1.0f;
    b.square(move, 0.0f, p.weight_flow_move);
    float step[kPlanVariables]{};
    step[at_current] = 1.0f;
    if (k > 0) step[at_current - 1] = -1.0f;
    b.square(step, 0.0f, p.weight_current_move);

    // soft limits at the end of the block
    float margin[kPlanVariables]{};
    for (uint32_t j = 0; j <= k; ++j) margin[j] = s.margin_flow * kFlowScale * flow[j] * kPerVolt;
    margin[at_current] = s.margin_current * kPerVolt;
    margin[slack_margin] = 1.0f;
    b.require(margin, (kept - in.coke.margin - s.margin_flow * (flow_free - in.feed_flow)) * kPerVolt);
    float feed[kPlanVariables]{};
    for (uint32_t j = 0; j <= k; ++j) feed[j] = ampere_per_flow * kFlowScale * flow[j];
    feed[at_current] = -1.0f;
    feed[slack_utilisation] = 1.0f;
    b.require(feed, current - ampere_per_flow * flow_free);
    if (is_finite(in.power_ceiling)) {
      float power[kPlanVariables]{};
      power[at_flow] = -kPerWatt * s.power_flow * kFlowScale;
      power[at_current] = -kPerWatt * s.power_current;
      power[slack_bus] = 1.0f;
      b.require(power, kPerWatt * (in.signals[in_bus_power] - in.power_ceiling));
    }

    // hard limits of the moves
    const float most = flow_per_speed(p, max_of(kLeastDensity, in.density + in.density_rate * kBlockEnd[k]));
    b.require_one(at_flow, 1.0f, (p.speed_min * most - drawn) / kFlowScale);
    const float held = max_of(p.speed_min * most, flow_held_by_pressure(in) - m.plan.flow_disturbance);
    b.require_one(at_flow, -1.0f, (drawn - min_of(p.speed_max * most, held)) / kFlowScale);
    b.require_one(at_current, 1.0f, -current);
    const float voltage_room = (p.voltage_max - in.coke.highest_voltage) / s.voltage_current;
    const float asked = min_of(in.wanted_current, p.current_max) - current;
    const float highest = min_of(min_of(asked, p.current_rate_up * kBlockEnd[k]), voltage_room);
    b.require_one(at_current, -1.0f, -max_of(highest, -current));
  }
  for (uint32_t i = slack_margin; i < kPlanVariables; ++i) {
    b.require_one(i, 1.0f, 0.0f);
    plan.hessian[i][i] += p.weight_slack_square;
    plan.gradient[i] += p.weight_slack;
  }
  return plan;
}

/// What the plan needs and cannot replace.
inline bool plan_sensors(const ctl_params&, const Signals& y, float power_ceiling) {
  return y.has(in_feed_flow) && y.has(in_stack_current) && y.has(in_cathode_pressure) &&
         y.has(in_anode_pressure) && lost_among(y, in_cell_voltage, CTL_CELLS) == 0 &&
         (!is_finite(power_ceiling) || y.has(in_bus_power));
}

/// Whether the predictive law can be in force: it gives way while something it needs is missing, and for a while after.
inline bool plan_ready(LawMemory& m, const ctl_params& p, const Signals& y, float power_ceiling,
                       bool suspect) {
  const bool disturbed_much =
      abs_of(m.plan.flow_disturbance) > kMissedMost * max_of(m.plan.drawn, p.flow_protective);
  if (disturbed_much) m.plan.flow_disturbance = 0.0f;
  if (suspect || disturbed_much || !plan_sensors(p, y, power_ceiling)) m.plan.away = p.predictive_return;
  if (!(m.plan.away > 0.0f)) return true;
  m.plan.away -= p.period;
  return false;
}

/// Offset-free: what the compressor draws beyond its model is found from the measured feed.
constexpr void observe_flow(PlanMemory& q, const LawInput& in) {
  q.flow +=
      in.params.period / (in.params.plenum_lag + in.params.period) * (q.drawn + q.flow_disturbance - q.flow);
  const float innovation = in.feed_flow - q.flow;
  q.flow += kFlowGain * innovation;
  q.flow_disturbance += kMissedGain * innovation;
}

/// Which limit holds the current of this plan: the one with the greatest price.
inline uint32_t limit_of(const LawInput& in, const QpAnswer<kPlanVariables, kPlanConstraints>& a) {
  if (a.x[kBlocks] + in.applied_current > in.wanted_current - in.params.current_step) return in.wanted_by;
  const bool bus = is_finite(in.power_ceiling);
  const uint32_t rows = bus ? 7u : 6u;
  float price[4]{};  // margin, utilisation, power, voltage or rate
  for (uint32_t c = 0; c < kBlocks * rows; ++c) {
    const uint32_t kind = c % rows;
    const uint32_t at = kind == rows - 1 ? 3u : kind < rows - 4 ? kind : 4u;
    if (at < 4) price[at] += a.multiplier[c];
  }
  constexpr uint32_t kNames[4] = {CTL_BY_COKE_MARGIN, CTL_BY_UTILISATION, CTL_BY_POWER, CTL_BY_VOLTAGE};
  uint32_t binding_limit = 3;
  for (uint32_t k = 0; k < 3; ++k)
    if (price[k] > price[binding_limit]) binding_limit = k;
  return binding_limit == 3 && in.coke.highest_voltage < in.params.voltage_max ? uint32_t{CTL_BY_RATE}
                                                                               : kNames[binding_limit];
}

inline LawOutput predictive_law(LawMemory& m, const LawInput& in) {
  const ctl_params& p = in.params;
  PlanMemory& q = m.plan;
  LawOutput output = adaptive_law(m, in);  // its loops track, its overrides stand guard
  observe_flow(q, in);
  q.age += p.period;
  if (q.age >= p.predictive_hold) {
    const Plan plan = make_plan(m, in);
    const auto answer = solve(plan);
    q.status = static_cast<uint32_t>(answer.status);
    if (answer.status != QpStatus::solved) {
      q.away = p.predictive_return;
      return output;
    }
    q.flow_planned = plan_base(m, in) + answer.x[0] * kFlowScale;
    q.current_planned = in.applied_current + answer.x[kBlocks];
    q.limiter = limit_of(in, answer);
    q.age = 0.0f;
  }
  output.speed = q.flow_planned / flow_per_speed(p, in.density);
  if (q.current_planned < output.current) {
    output.current = q.current_planned;
    output.limiter = q.limiter;
  }
  return output;
}

}  // namespace duskline::controller
