/// What a cell's voltage says of the cell: resistance beyond the model, share of the flow, offset.
///
/// What it is   a Kalman filter of what all cells share (constants.hpp) on their mean residual, and one a cell of
///              its deviation in resistance, ln of its share of the flow and offset of its voltage
/// Equation     mean nu = h x; nu_k - mean nu = <i> dr_k + (dV/dln share) dln share_k + do_k; means of dr,
///              ln share and o over the cells are kept at zero
/// Symbols      nu [V] measured less expected voltage (column.hpp), low-passed and taken once a minute, so
///              that the samples are independent; <i> [A/m2]
/// Validity     current above kIdentifiable and steady for a minute; at one working point resistance, share and offset of
///              a cell cannot be distinguished: their priors share out what is seen, and their covariance says
///              so
/// Source       priors: controller_parameters.h
/// Left out     exchange currents of single cells
#pragma once

#include "controller/estimate/constants.hpp"
#include "controller/estimate/filters.hpp"

namespace duskline::controller {

inline constexpr float kIdentifiable = 500.0f;   // A/m2, below this the resistance is not identified
inline constexpr float kSlot = 8.0f;             // s, one cell after the other: each once in 64 s
inline constexpr float kResidualMemory = 20.0f;  // s
inline constexpr float kResidualTime = 60.0f;  // s at a steady current before the low-passed residual is used
inline constexpr float kSettling = 60.0f;      // s
inline constexpr float kSteady = 0.03f;        // share by which the current may differ from its slow mean
inline constexpr float kSamePoint = 0.1f;      // share by which slopes may differ within one working point
inline constexpr float kDay = 86400.0f;        // s

inline constexpr float kInOrder = 3.0f;    // prior deviations
inline constexpr float kMostLost = -1.0f;  // ln of a share of the flow

struct ResistanceMemory {
  Kalman<kCommonStates> mean;     // units: constants.hpp
  Kalman<3> cell[CTL_CELLS];      // ohm m2, ln(1), V
  float residual[CTL_CELLS];      // V
  float at_density, at_share;     // A/m2 and V, slopes of the working point in use
  float at_constant[kConstants];  // V or A/m2, likewise
  float by_temperature;           // V/K, of a cell voltage, slow mean over the cells
  float steady_current;           // A, slow mean
  float steady_time;              // s, up to kResidualTime
  float since;                    // s since the last slot
  uint32_t slot;                  // cell whose turn comes next
  uint32_t learnt;                // 1 once a mean residual has been used
};

struct CellEstimate {
  float added;  // ohm m2, mean and deviation
  float share;  // 1, of the flow over that of the mean cell
};

constexpr void cell_variances(const ctl_params& p, float (&cell)[3]) {
  cell[0] = p.resistance_prior_sigma * p.resistance_prior_sigma;
  cell[1] = p.flow_prior_sigma * p.flow_prior_sigma;
  cell[2] = p.offset_prior_sigma * p.offset_prior_sigma;
}

/// How far outliers in a row may widen a covariance beyond its prior.
inline constexpr float kWidest = 100.0f;

/// Holds variances at their prior, except while outliers ask for more.
template <uint32_t N>
constexpr void hold(Kalman<N>& f, const float (&prior)[N], const float (&widest)[N]) {
  if (f.in_a_row < kPatience)
    bound(f, prior);
  else
    bound(f, widest);
}

/// Variances are set from the parameters at the first use: a memory at rest has none.
constexpr ResistanceMemory initial_resistance() {
  return ResistanceMemory{};
}

/// After a loss of power: what was learnt of the cells counts, what was in the filters does not.
constexpr ResistanceMemory restore(const ResistanceMemory& before) {
  ResistanceMemory m = initial_resistance();
  m.mean = before.mean;
  m.learnt = before.learnt;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) m.cell[k] = before.cell[k];
  return m;
}

DUSKLINE_INLINE constexpr CellEstimate cell_estimate(const ResistanceMemory& m, uint32_t k) {
  return {m.mean.x[common_added] + m.cell[k].x[0],
          exponential(clamp(m.cell[k].x[1] + m.mean.x[common_flow], -0.5f, 0.5f))};
}

/// Resistance beyond the model that would take as much voltage as all that is identified of the mean cell, ohm m2.
constexpr float resistance_beyond(const ResistanceMemory& m) {
  if (!(m.at_density > 0.0f)) return m.mean.x[common_added];
  float h[kCommonStates]{}, volts = 0.0f;
  common_row(h, m.at_density, m.at_constant, m.by_temperature, m.at_share);
  for (uint32_t i = 0; i < kCommonStates; ++i) volts += h[i] * m.mean.x[i];
  return volts / m.at_density;
}

/// What goes beyond the spread of cells in order may be lost flow as well as resistance, and lost flow is what brings
/// carbon: from two to three deviations of a cell in order on, all that speaks against it counts as lost flow, by the
/// slopes of the working point.
constexpr CellEstimate conservative_estimate(const ResistanceMemory& m, const ctl_params& p, uint32_t k,
                                             CellEstimate b) {
  if (!(m.at_share < 0.0f)) return b;
  const float(&x)[3] = m.cell[k].x, row[3] = {m.at_density, m.at_share, 1.0f};
  float spread[3]{}, volts = 0.0f, variance = 0.0f;
  cell_variances(p, spread);
  for (uint32_t i = 0; i < 3; ++i) {
    volts += row[i] * x[i];
    variance += row[i] * row[i] * spread[i];
  }
  const float beyond = clamp(volts / square_root(variance) - (kInOrder - 1.0f), 0.0f, 1.0f);
  const float added = beyond * max_of(0.0f, x[0]), offset = beyond * max_of(0.0f, x[2]);
  b.added -= added;
  b.share *= exponential(max_of(kMostLost, (added * m.at_density + offset) / m.at_share));
  return b;
}

/// Means of the deviations are zero: what they gather belongs to the mean, or means nothing.
constexpr void centre(ResistanceMemory& m) {
  for (uint32_t i = 0; i < 3; ++i) {
    float sum = 0.0f;
    for (const auto& c : m.cell) sum += c.x[i] / static_cast<float>(CTL_CELLS);
    for (auto& c : m.cell) c.x[i] -= sum;
    if (i == 0) m.mean.x[common_added] += sum;
  }
}

/// Whether the current has stood long enough for the gas to have followed it.
constexpr bool settled(ResistanceMemory& m, const ctl_params& p, float current) {
  m.steady_current = low_pass(m.steady_current, current, p.period, kSettling);
  return abs_of(current - m.steady_current) < kSteady * current && current > kIdentifiable * p.cell_area;
}

/// Slopes by which the cells are distinguished. They are the same for all and stand while the working point does:
/// slopes that follow every estimate would pretend to see what cannot be seen (false observability).
/// At another point the model is wrong by something else.
constexpr void take_slopes(ResistanceMemory& m, const ctl_params& p, float density, float share,
                           const float (&constant)[kConstants]) {
  const auto change = [](float was, float is) { return abs_of(is - was) > kSamePoint * abs_of(was); };
  if (!change(m.at_density, density) && !change(m.at_share, share)) return;
  m.at_density = density;
  m.at_share = share;
  for (uint32_t j = 0; j < kConstants; ++j) m.at_constant[j] = constant[j];
  begin_point(m.mean, p);
}

/// Before anything is learnt the deviations are those of the priors.
constexpr void begin_resistance(ResistanceMemory& m, const ctl_params& p) {
  if (m.mean.p[common_added][common_added] > 0.0f) return;
  float doubt[kCommonStates]{}, spread[3]{};
  common_variances(p, doubt);
  cell_variances(p, spread);
  m.mean.x[common_added] = p.mean_resistance_prior;
  m.mean = kalman_at(m.mean.x, doubt);
  for (auto& c : m.cell) c = kalman_at(c.x, spread);
}

/// A cell that is short of gas answers by more than the slope of all, and a full step would overshoot. Resistance, share
/// and offset are shortened together, so that the step keeps its direction: with the share alone shortened, swings of
/// the utilisation moved the three against one another, which one working point does not show.
constexpr void shorten_step(Kalman<3>& c, const float (&before)[3], const float (&h)[3], float by_share) {
  const float own[3] = {h[0], by_share, h[2]};
  float by_all = 0.0f, by_own = 0.0f;  // V
  for (uint32_t i = 0; i < 3; ++i) {
    by_all += h[i] * (c.x[i] - before[i]);
    by_own += own[i] * (c.x[i] - before[i]);
  }
  if (!(abs_of(by_own) > abs_of(by_all) && by_own * by_all > 0.0f)) return;
  const float length = by_all / by_own;
  for (uint32_t i = 0; i < 3; ++i) c.x[i] = before[i] + length * (c.x[i] - before[i]);
}

/// Learns from the columns of this tick, of which `measured` says which have a voltage of their own.
template <uint32_t N>
constexpr void learn_resistance(ResistanceMemory& m, const ctl_params& p, const Columns<N>& column,
                                const bool (&measured)[CTL_CELLS], float current, Consistency& consistency) {
  float doubt[kCommonStates]{}, spread[3]{}, most[kCommonStates]{}, widest[3]{};
  common_variances(p, doubt);
  cell_variances(p, spread);
  for (uint32_t i = 0; i < kCommonStates; ++i) most[i] = (widens(i) ? kWidest : 1.0f) * doubt[i];
  for (uint32_t i = 0; i < 3; ++i) widest[i] = kWidest * spread[i];
  m.since = min_of(m.since + p.period, 2.0f * kSlot);
  const bool steady = settled(m, p, current);
  // at another current the residuals begin with what they are then
  const float memory = min_of(kResidualMemory, m.steady_time);
  if (steady)
    m.steady_time = min_of(kResidualTime, m.steady_time + p.period);
  else
    m.steady_time = abs_of(current - m.steady_current) < kSamePoint * current
                        ? min_of(m.steady_time, kResidualTime - kResidualMemory)
                        : 0.0f;
  float mean = 0.0f, by_current = 0.0f, by_share = 0.0f, count = 0.0f, constant[kConstants]{};
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    if (!steady || !measured[k] || column.identified[k] == 0) continue;
    m.residual[k] = low_pass(m.residual[k], clamp(column.innovation[k], -0.5f, 0.5f), p.period, memory);
    mean += m.residual[k];
    by_current += column.mean_density[k];
    by_share += column.by_share[k];
    for (uint32_t j = 0; j < kConstants; ++j) constant[j] += column.by_constant[j][k];
    count += 1.0f;
  }
  if (m.since < kSlot) return;
  m.since -= kSlot;
  const uint32_t k = m.slot < CTL_CELLS ? m.slot : 0;
  m.slot = k + 1 < CTL_CELLS ? k + 1 : 0;
  const float round = kSlot * static_cast<float>(CTL_CELLS);

  Kalman<3>& c = m.cell[k];
  const float day = round / kDay;
  c.p[0][0] += p.resistance_process_noise * p.resistance_process_noise * day;
  c.p[1][1] += p.flow_process_noise * p.flow_process_noise * day;
  c.p[2][2] += p.offset_process_noise * p.offset_process_noise * day;
  hold(c, spread, widest);
  if (k == 0) {
    predict_rate(m.mean, common_added, common_growth, round);
    age(m.mean, p, doubt, day);
    hold(m.mean, doubt, most);
  }
  if (count < 2.0f || m.steady_time < kResidualTime) return;
  mean /= count;
  for (float& slope : constant) slope /= count;
  take_slopes(m, p, by_current / count, by_share / count, constant);
  const float noise = p.residual_noise * p.residual_noise;
  float change = 0.0f;  // of the mean residual, V
  if (k == 0) {
    float before[kCommonStates];
    for (uint32_t i = 0; i < kCommonStates; ++i) before[i] = m.mean.x[i];
    float h[kCommonStates]{};
    common_row(h, m.at_density, m.at_constant, m.by_temperature, m.at_share);
    // The first one is used however large it is, and all constants share it: kept out as an outlier until the resistance
    // had been widened, it was taken for resistance, which brings no carbon.
    const float gate = m.learnt == 0 ? kNoGate : kGate;
    note(consistency, update(m.mean, h, mean - m.mean.x[common_point], noise, most, gate),
         p.consistency_memory);
    m.learnt = 1;
    hold_states(m.mean, p);
    // what the filter has explained is no longer in the residual, but for the error of the point
    for (uint32_t i = 0; i < common_point; ++i) {
      const float by = m.mean.x[i] - before[i];
      change += h[i] * by;
      for (uint32_t j = 0; j < CTL_CELLS; ++j) m.residual[j] -= h[i] * by;
    }
  }
  if (!measured[k] || column.identified[k] == 0) return;
  const float h[3] = {m.at_density, m.at_share, 1.0f};
  const float before[3] = {c.x[0], c.x[1], c.x[2]};
  const float deviation = m.residual[k] - (mean - change) - c.x[2];
  note(consistency, update(c, h, deviation, noise, widest), p.consistency_memory);
  shorten_step(c, before, h, column.by_share[k]);
  c.x[0] = clamp(c.x[0], -p.resistance_max, p.resistance_max);
  c.x[1] = clamp(c.x[1], -0.5f, 0.5f);
  c.x[2] = clamp(c.x[2], -0.1f, 0.1f);
  // what the filter has explained is no longer in the residual
  m.residual[k] -= column.mean_density[k] * (c.x[0] - before[0]) + column.by_share[k] * (c.x[1] - before[1]);
  if (k + 1 == CTL_CELLS) centre(m);
}

}  // namespace duskline::controller
