/// Self-calibration: zeros at rest, gains in steady production, thermocouples against each other in the cold.
///
/// What it is   corrections of our own instruments: learnt slowly, bounded, reported, taken back on request
/// Equation     e = reading - expected (gains: reading/expected - 1), averaged over tau; c moves towards the
///              average by at most bound/T a second and stays within the bound zeros and offsets are
///              subtracted, gains divide: y = (reading - zero)/(1 + gain)
/// Symbols      bound of CTL_CORRECTION_LIST; tau, T [s] of the table below
/// Validity     at rest: no flow, no current, bled down; gains: the relations of relations.hpp hold and no
///              fault is suspected; isothermal: heaters off, spread and rates small
/// Source       Faraday's law as standard of oxygen flow; zero at rest: common practice of flow laboratories
/// Left out     gains of pressures; errors of thermocouples that grow with temperature
#pragma once

#include "controller/detect/detect.hpp"

namespace duskline::controller {

struct Calibration {
  float correction[CTL_CORRECTIONS];
  float average[CTL_CORRECTIONS];  // of the error found
  float time[CTL_CORRECTIONS];     // s for which it has been averaged
  float rest_time;                 // s at rest
  float level;                     // K, slow mean of the thermocouples
  float efficiency;                // of the current, over the parameter's, less 1
  uint32_t corrected;              // bits
  uint32_t taken_back;             // bits that the operator took back at the tick before
};

struct CorrectionRow {
  uint32_t input;
  float bound;
  bool divides;
};
// arrays take the first free place: offsets of zones and ends count up from their first number
#define DETECT_CORRECTION(identifier, number, input, unit, bound, meaning)                               \
  {in_##input + (number >= CTL_OFFSET_ZONE_1 && number <= CTL_OFFSET_ZONE_5 ? number - CTL_OFFSET_ZONE_1 \
                 : number >= CTL_OFFSET_END_1 && number <= CTL_OFFSET_END_2 ? number - CTL_OFFSET_END_1  \
                                                                            : 0),                        \
   bound, sizeof(unit) == 2 && unit[0] == '1'},
inline constexpr CorrectionRow kCorrections[] = {CTL_CORRECTION_LIST(DETECT_CORRECTION)};
#undef DETECT_CORRECTION
static_assert(CTL_CORRECTIONS <= 31 && sizeof kCorrections / sizeof *kCorrections == CTL_CORRECTIONS,
              "one bit of a word a correction");
static_assert(CTL_OFFSET_ZONE_5 - CTL_OFFSET_ZONE_1 + 1 == CTL_ZONES &&
                  CTL_OFFSET_END_1 == CTL_OFFSET_ZONE_5 + 1 &&
                  CTL_OFFSET_END_2 - CTL_OFFSET_END_1 + 1 == CTL_ENDS,
              "one offset a thermocouple");
inline constexpr float kThermocouples = CTL_ZONES + CTL_ENDS;

inline constexpr float kRestSettled = 300.0f;         // s at rest until the gas has bled down
inline constexpr float kBeyondClass = 4.0f;           // deviations of a zero that is taken out at once
inline constexpr float kZeroAverage = 120.0f;         // s, tau of zeros and offsets
inline constexpr float kZeroTravel = 600.0f;          // s in which a zero or an offset may cross its bound
inline constexpr float kGainAverage = 1800.0f;        // s, tau of gains
inline constexpr float kGainTravel = 4.0f * 3600.0f;  // s
inline constexpr float kGainFirst = 3600.0f;          // s of averaging before a gain is believed
inline constexpr float kEfficiencyBound = 0.02f;      // that the product meter may take from the efficiency
inline constexpr float kEfficiencySigma =
    0.0025f;  // 1, what is known of the efficiency before it is measured (estimate)
inline constexpr float kIsothermalSpread = 16.0f;  // K, twice the bound of one
inline constexpr float kIsothermalRate = 0.5f;     // K of the mean against its slow mean

/// What the learning needs to know of the tick.
struct CalibrateInput {
  const ctl_params& params;
  const Signals& y;  // corrected and substituted
  const Relations& relations;
  const Detection& detection;
  const Gas& gas;
  const float (&zone)[CTL_ZONES];  // K
  float feed_flow;                 // kg/s, filtered
  uint32_t clear_corrections;
};

/// Applies what has been found.
inline void correct(const Calibration& m, const ctl_params& p, Signals& y) {
  if (p.calibration < 0.5f) return;
  for (const float c : m.correction)
    if (!is_finite(c)) return;
  for (uint32_t n = 0; n < CTL_OPEN_CIRCUIT; ++n)
    if (!kCorrections[n].divides) y.value[kCorrections[n].input] -= m.correction[n];
  for (uint32_t n = 0; n < CTL_OPEN_CIRCUIT; ++n)
    if (kCorrections[n].divides) y.value[kCorrections[n].input] /= 1.0f + m.correction[n];
}

/// The instruments have been calibrated at this tick.
constexpr bool calibrated(const Calibration& m, uint32_t clear_corrections) {
  return clear_corrections == CTL_CALIBRATED && m.taken_back != CTL_CALIBRATED;
}

/// What calibrated instruments leave of the detection: commands, and the diagnoses, which end without their evidence.
inline Detection with_new_readings(const Detection& before) {
  Detection d{};
  d.applied = before.applied;
  d.diagnosed = before.diagnosed;
  d.response = before.response;
  d.request = before.request;
  d.open = before.open;
  return d;
}

/// Bled down: zeros of class are small, and a plant that is still pressurised is not at rest.
inline bool bled_down(const Signals& y) {
  const float span = kCorrections[CTL_ZERO_PLENUM].bound;
  return abs_of(y[in_plenum_pressure] - y[in_cathode_pressure]) < 2.0f * span &&
         abs_of(y[in_cathode_pressure] - y[in_anode_pressure]) < 2.0f * span &&
         y[in_cathode_pressure] < 3.0f * span;
}

/// At the first tick of a plant at rest the feed meter shows its zero, and what it shows beyond its class is taken out
/// at once: the flow of the start is smaller than such an error, and the relations say nothing of it yet.
inline void zero_at_start(Calibration& m, const ctl_params& p, Signals& y) {
  const bool still = feed_stands(p, y) && bled_down(y);
  const float found = y[in_feed_flow], bound = kCorrections[CTL_ZERO_FEED].bound;
  if (p.calibration < 0.5f || !still || !y.has(in_feed_flow)) return;
  if (abs_of(found) < kBeyondClass * sigma_of(p, in_feed_flow, 0.0f)) return;
  const float before = m.correction[CTL_ZERO_FEED];
  m.correction[CTL_ZERO_FEED] = m.average[CTL_ZERO_FEED] = clamp(before + found, -bound, bound);
  m.time[CTL_ZERO_FEED] = p.period;
  m.corrected |= 1u << CTL_ZERO_FEED;
  y.value[in_feed_flow] -= m.correction[CTL_ZERO_FEED] - before;
}

/// One correction: `found` is the error left in the corrected reading.
inline void learn(Calibration& m, uint32_t n, float found, const ctl_params& p, float average, float travel,
                  float first) {
  const CorrectionRow& row = kCorrections[n];
  if (!is_finite(found)) return;
  const float whole =
      row.divides ? (1.0f + found) * (1.0f + m.correction[n]) - 1.0f : m.correction[n] + found;
  const float error = clamp(whole, -2.0f * row.bound, 2.0f * row.bound);
  m.average[n] =
      m.time[n] == 0.0f ? error : low_pass(m.average[n], error, p.period, min_of(average, m.time[n]));
  m.time[n] = min_of(m.time[n] + p.period, 1e6f);
  if (m.time[n] < first) return;
  const float target = clamp(m.average[n], -row.bound, row.bound);
  const float step = row.bound / travel * p.period;
  m.correction[n] = clamp(target, m.correction[n] - step, m.correction[n] + step);
  if (abs_of(m.correction[n] - target) <= step) m.corrected |= 1u << n;
}

/// What the product meter shows beyond the current is its own gain or the efficiency of the current: by their
/// deviations. No current makes more than its own oxygen.
inline void identify_efficiency(Calibration& m, const ctl_params& p) {
  if (m.time[CTL_GAIN_PRODUCT] < kGainFirst) return;
  const float own = kEfficiencySigma, meter = 0.5f * sheet_of(p, in_product_flow).gain;
  const float share = own * own / (own * own + meter * meter);
  const float shown = (1.0f + m.average[CTL_GAIN_PRODUCT]) * (1.0f + m.efficiency) - 1.0f;
  const float most = min_of(kEfficiencyBound, 1.0f / p.faraday_efficiency - 1.0f);
  const float step = kEfficiencyBound / kGainTravel * p.period;
  m.efficiency =
      clamp(clamp(share * shown, -kEfficiencyBound, most), m.efficiency - step, m.efficiency + step);
}

/// Voltage of a cell without current at the gas of the inlet; not a number where it is cold or without flow.
inline float open_circuit(const ctl_params& p, const Signals& y, const Gas& g, const float (&zone)[CTL_ZONES],
                          float feed_flow) {
  float mean = 0.0f;
  for (const float t : zone) mean += t / static_cast<float>(CTL_ZONES);
  if (mean < kReferenceTemperature - 50.0f || feed_flow < p.flow_min || g.inlet_co < 0.005f)
    return float_of(0x7fc00000u);
  return expected_voltage(p, y, g, mean, 0.0f);
}

inline void calibrate(Calibration& m, const CalibrateInput& x) {
  const ctl_params& p = x.params;
  const Signals& y = x.y;
  const Detection& d = x.detection;
  if (p.calibration < 0.5f) {
    m = Calibration{};
    m.taken_back = x.clear_corrections;
    return;
  }
  m.taken_back = x.clear_corrections;
  const auto good = [&](uint32_t input) { return y.has(input) && !in_set(d.suspect, input); };
  const auto held = [&](uint32_t n) { return (x.clear_corrections & (1u << n)) != 0; };
  const auto zero = [&](uint32_t n, float expected) {
    const uint32_t input = kCorrections[n].input;
    if (!held(n) && good(input)) learn(m, n, y[input] - expected, p, kZeroAverage, kZeroTravel, kRestSettled);
  };

  // at rest
  const bool still =
      d.applied.feed == 0.0f && d.applied.current == 0.0f && d.applied.opening == 0.0f && feed_stands(p, y);
  m.rest_time = still && bled_down(y) ? min_of(m.rest_time + p.period, 1e6f) : 0.0f;
  if (m.rest_time > kRestSettled) {
    // the air outside is the standard; without it two pressures that agree
    const float middle = mid_value(y[in_plenum_pressure], y[in_cathode_pressure], y[in_anode_pressure]);
    const float outside = good(in_ambient_pressure) ? y[in_ambient_pressure] : middle;
    zero(CTL_ZERO_PLENUM, outside);
    zero(CTL_ZERO_CATHODE, outside);
    zero(CTL_ZERO_ANODE, outside);
    zero(CTL_ZERO_FILTER, 0.0f);
    zero(CTL_ZERO_FEED, 0.0f);
    zero(CTL_ZERO_PRODUCT, 0.0f);
    zero(CTL_ZERO_CURRENT, 0.0f);
  }

  // thermocouples against each other, heaters off
  float sum = 0.0f, coldest = 1e9f, hottest = -1e9f;
  bool all = true;
  for (uint32_t n = CTL_OFFSET_ZONE_1; n <= CTL_OFFSET_END_2; ++n) {
    const uint32_t input = kCorrections[n].input;
    all = all && good(input);
    sum += (y[input] + m.correction[n]) * (1.0f / kThermocouples);  // of the readings, so that it stays
    coldest = min_of(coldest, y[input]);
    hottest = max_of(hottest, y[input]);
  }
  const bool unheated = d.applied.preheater == 0.0f && d.applied.end[0] == 0.0f && d.applied.end[1] == 0.0f;
  m.level = m.level == 0.0f ? sum : low_pass(m.level, sum, p.period, 600.0f);
  if (m.rest_time > kRestSettled && all && unheated && hottest - coldest < kIsothermalSpread &&
      abs_of(sum - m.level) < kIsothermalRate)
    for (uint32_t n = CTL_OFFSET_ZONE_1; n <= CTL_OFFSET_END_2; ++n) zero(n, sum);

  // gains against the balances, while nothing is suspected
  const bool calm = x.relations.producing && d.diagnosed == 0 && d.relations.full_time > kBaselineTime;
  const auto gain = [&](uint32_t n, float expected, uint32_t residual) {
    const uint32_t input = kCorrections[n].input;
    const bool quiet =
        d.residuals.sum[residual].up < 0.5f * kSumAlarm && d.residuals.sum[residual].down < 0.5f * kSumAlarm;
    const bool learns = calm && quiet && !held(n) && good(input) && expected > 0.0f;
    if (learns) learn(m, n, y[input] / expected - 1.0f, p, kGainAverage, kGainTravel, kGainFirst);
    return learns;
  };
  if (gain(CTL_GAIN_PRODUCT, x.relations.product_faraday * (1.0f + m.efficiency), r_product_faraday))
    identify_efficiency(m, p);
  gain(CTL_GAIN_OUTLET_CO, x.relations.outlet_co, r_outlet_co);
  gain(CTL_GAIN_OXYGEN, x.relations.purity, r_purity);

  // open circuit: a check, never applied
  if (!held(CTL_OPEN_CIRCUIT) && d.applied.current == 0.0f) {
    float mean = 0.0f;
    for (uint32_t k = 0; k < CTL_CELLS; ++k) mean += y[in_cell_voltage + k] / static_cast<float>(CTL_CELLS);
    const float off = mean - open_circuit(p, y, x.gas, x.zone, x.feed_flow);
    if (is_finite(off))
      m.correction[CTL_OPEN_CIRCUIT] =
          clamp(low_pass(m.correction[CTL_OPEN_CIRCUIT], off, p.period, 30.0f),
                -kCorrections[CTL_OPEN_CIRCUIT].bound, kCorrections[CTL_OPEN_CIRCUIT].bound);
  }

  for (uint32_t n = 0; n < CTL_CORRECTIONS; ++n) {
    const float bound = kCorrections[n].bound;
    m.correction[n] = is_finite(m.correction[n]) ? clamp(m.correction[n], -bound, bound) : 0.0f;
    if (!held(n)) continue;
    if (n == CTL_GAIN_PRODUCT) m.efficiency = 0.0f;
    m.correction[n] = m.average[n] = m.time[n] = 0.0f;
    m.corrected &= ~(1u << n);
  }
  m.efficiency = is_finite(m.efficiency) ? clamp(m.efficiency, -kEfficiencyBound, kEfficiencyBound) : 0.0f;
  m.corrected &= CTL_CALIBRATED;  // whatever a retained copy brought
}

}  // namespace duskline::controller
