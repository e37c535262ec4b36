/// Residuals: how far measurements and relations are apart, in standard deviations.
///
/// What it is   one row a residual: when it counts, its scale, and its CUSUM with a slow baseline beside it
/// Equation     z = (a - b - as_built)/sigma; db/dt = (z - b)/tau; C+ += max(z - k, z - b - k_step), C- likewise
/// Symbols      k [1] what class and model may make of a healthy plant, in sigma; k_step [1] the same for a
///              change within tau = 30 min; sigma from sensor_accuracy.hpp and the model error stated below;
///              as_built: a - b of this plant in order, 0 where it was not commissioned
/// Validity     a residual that does not count now lets its sums fall
/// Source       sums: cusum.hpp
/// Left out     correlation between residuals
#pragma once

#include "controller/detect/cusum.hpp"
#include "controller/detect/relations.hpp"

namespace duskline::controller {

#define DETECT_ENUM(identifier, ...) r_##identifier,
/// CTL_RESIDUAL_LIST, in its order.
enum Residual : uint32_t { CTL_RESIDUAL_LIST(DETECT_ENUM) kResiduals };
#undef DETECT_ENUM
static_assert(kResiduals <= 32, "one bit of a 32-bit mask per residual");
static_assert(r_end_1 - r_end_0 + 1 == CTL_ENDS && r_zone_4 - r_zone_0 + 1 == CTL_ZONES &&
                  r_cell_7 - r_cell_0 + 1 == CTL_CELLS,
              "one residual an end plate, a zone and a cell");

struct ResidualMemory {
  Cusum sum[kResiduals];
  float baseline[kResiduals];                       // z, slow
  uint16_t counted[kResiduals + (kResiduals & 1)];  // ticks for which it has counted, saturating
  float smooth[kResiduals];                         // z over ten seconds
  float as_built
      [kResiduals];    // constant difference of this plant, found at commissioning; unit of the residual
  float commissioned;  // s of production for which it has been looked for
  float built_at;      // A of the stack, mean of that time
  float built_leak;    // leak of the compressor by its feed, mean of that time
};

/// z of this tick; a bit says whether it counts.
struct Residuals {
  float z[kResiduals];
  float left[kResiduals],
      per[kResiduals];  // difference beyond that of the plant as built, and what it goes with
  uint32_t counts;
};

inline constexpr float kSumAlarm = 40.0f;
inline constexpr float kSumMost = 80.0f;
inline constexpr float kGreatestZ = 10.0f;       // one wild sample is no proof
inline constexpr float kThermalSigma = 6.0f;     // K: classes of three thermocouples
inline constexpr float kPreheaterSigma = 10.0f;  // K
inline constexpr float kBuiltElsewhere = 0.5f;   // of what was learnt at one rate, by the change of the rate
inline constexpr float kLeakElsewhere = 0.75f;   // of a change of the compressor's leak: half its range
inline constexpr float kVolumeShare =
    0.5f;  // of what the plenum or the anode takes up, by the range of their volumes
inline constexpr float kCellSigma = 0.008f;       // V
inline constexpr float kCellDensity = 900.0f;     // A/m2, above which cells are compared
inline constexpr float kCellReference = 1500.0f;  // A/m2, at which a cell's difference is stated
inline constexpr float kStackLeast = 4.0f;        // V of eight cells, from which their sum is compared
inline constexpr float kRootCells = 2.828f;       // root of the number of taps
inline constexpr float kVoltageSigma = 0.4f;      // A
inline constexpr float kVoltageSlope = 0.025f;    // V/A of a cell
inline constexpr float kVoltageLearnt = 0.002f;   // V at once that the estimator takes for known
inline constexpr float kLean = 0.8f;              // z that counts beside an alarm
inline constexpr float kLeanTime = 10.0f;         // s
inline constexpr float kBaselineTime = 1800.0f;   // s
inline constexpr float kBaselineFirst = 300.0f;   // s until the baseline counts
inline constexpr float kBaselineLent = 60.0f;     // s until it helps to stand in for a lost reading

struct ResidualRow {
  float k, k_step, most;
};
#define DETECT_ROW(identifier, k, k_step, most, word) {k, k_step, most},
inline constexpr ResidualRow kResidualRows[] = {CTL_RESIDUAL_LIST(DETECT_ROW)};
#undef DETECT_ROW

constexpr float root_of_squares(float a, float b, float c = 0.0f) {
  return square_root(a * a + b * b + c * c);
}

/// The mean composition along the cells.
inline Composition mean_composition(const ctl_params& p, const Signals& y, const Gas& g) {
  const float cathode = y[in_cathode_pressure], half = 0.5f * g.conversion;
  return composition(max_of(kLeastPressure, (g.inlet_co + half) * cathode),
                     max_of(kLeastPressure, (g.inlet_co2 - half) * cathode),
                     max_of(kLeastPressure, p.product_oxygen * y[in_anode_pressure]));
}

/// Cell voltage that the model gives at the mean composition, V.
inline float expected_voltage(const ctl_params& p, const Signals& y, const Gas& g, float temperature,
                              float current) {
  return model_voltage(p, mean_composition(p, y, g), temperature, max_of(0.0f, current) / p.cell_area);
}

/// What zone k should be by its neighbours, K: inside the mean of both, at the ends a straight line.
constexpr float zone_by_neighbours(const float (&zone)[CTL_ZONES], uint32_t k) {
  if (k == 0) return 2.0f * zone[1] - zone[2];
  if (k + 1 == CTL_ZONES) return 2.0f * zone[k - 1] - zone[k - 2];
  return 0.5f * (zone[k - 1] + zone[k + 1]);
}

/// Voltage of the stack, as many cells of it as there are taps, V.
inline float stack_of_taps(const ctl_params& p, const Signals& y) {
  return y[in_stack_voltage] / p.cells_per_tap;
}

/// Deviation of the sum of the taps from that, V.
inline float taps_sigma(const ctl_params& p, const Signals& y) {
  return root_of_squares(sigma_of(p, in_stack_voltage, y[in_stack_voltage]) / p.cells_per_tap,
                         kRootCells * sigma_of(p, in_cell_voltage, stack_of_taps(p, y) / CTL_CELLS));
}

inline Residuals find_residuals(const ctl_params& p, const Signals& y, const Relations& r, const Applied& u,
                                const Gas& g, const float (&zone)[CTL_ZONES], float added_resistance,
                                float voltage_sigma, const ResidualMemory& m) {
  Residuals out{};
  const float(&as_built)[kResiduals] = m.as_built;
  const float leak_elsewhere = m.built_at > 0.0f ? kLeakElsewhere * (r.leak_share - m.built_leak) : 0.0f;
  // what a plant differs by goes with the feed, its square or the current: at another rate that is not known
  const float elsewhere =
      m.built_at > 0.0f ? kBuiltElsewhere * min_of(1.0f, abs_of(1.0f - y[in_stack_current] / m.built_at))
                        : 0.0f;
  // per: the size that a difference of this plant goes with
  const auto put = [&](uint32_t i, bool counts, float difference, float sigma, float per = 1.0f) {
    const float left = difference - as_built[i] * per;
    out.left[i] = left;
    out.per[i] = per;
    const float scale = root_of_squares(sigma, elsewhere * as_built[i] * per);
    out.z[i] = clamp(left / scale, -kGreatestZ, kGreatestZ);
    if (counts && is_finite(difference) && is_finite(sigma)) out.counts |= 1u << i;
  };
  const float feed = max_of(kRelationFeed, r.feed_slow);
  const float by_meter = sigma_of(p, in_feed_flow, feed) / feed;
  const float by_air = root_of_squares(
      sigma_of(p, in_ambient_pressure, y[in_ambient_pressure]) / max_of(50.0f, y[in_ambient_pressure]),
      0.015f, root_of_squares(kVolumeShare * r.stored / feed, leak_elsewhere));
  const float by_cathode = root_of_squares(
      sigma_of(p, in_cathode_pressure, 0.0f) / max_of(3000.0f, y[in_cathode_pressure]), 0.01f);
  put(r_feed_compressor, r.flowing, (feed - r.feed_compressor) / feed, root_of_squares(by_meter, by_air));
  put(r_feed_aperture, r.flowing, (feed - r.feed_aperture) / feed, root_of_squares(by_meter, by_cathode));
  const float built_feed = as_built[r_feed_aperture] - as_built[r_feed_compressor];
  put(r_compressor_aperture, r.flowing, (r.feed_compressor - r.feed_aperture) / feed - built_feed,
      root_of_squares(by_air, by_cathode));
  put(r_line, r.flowing, y[in_plenum_pressure] - r.plenum_pressure,
      root_of_squares(sigma_of(p, in_plenum_pressure, 0.0f), sigma_of(p, in_cathode_pressure, 0.0f),
                      0.1f * (r.plenum_pressure - y[in_cathode_pressure])),
      r.plenum_pressure - y[in_cathode_pressure]);

  const float product = max_of(1e-7f, r.product_faraday);
  const float by_product =
      root_of_squares(sigma_of(p, in_product_flow, product), kVolumeShare * r.unsettled) / product;
  const float by_faraday =
      root_of_squares(sigma_of(p, in_stack_current, y[in_stack_current]) / max_of(0.1f, y[in_stack_current]),
                      0.01f, 0.5f * (1.0f - r.purity));
  const float by_anode =
      root_of_squares(sigma_of(p, in_anode_pressure, 0.0f) / max_of(1000.0f, y[in_anode_pressure]), 0.015f);
  put(r_product_faraday, r.producing, (y[in_product_flow] - product) / product,
      root_of_squares(by_product, by_faraday));
  put(r_product_aperture, r.producing, (y[in_product_flow] - r.product_aperture) / product,
      root_of_squares(by_product, by_anode));
  const float built_product = as_built[r_product_aperture] - as_built[r_product_faraday];
  put(r_faraday_aperture, r.producing, (product - r.product_aperture) / product - built_product,
      root_of_squares(by_faraday, by_anode));
  put(r_outlet_co, r.producing, y[in_outlet_co_fraction] - r.outlet_co,
      root_of_squares(sigma_of(p, in_outlet_co_fraction, r.outlet_co), 0.012f));
  put(r_purity, r.producing, y[in_product_oxygen_fraction] - r.purity,
      root_of_squares(sigma_of(p, in_product_oxygen_fraction, r.purity), 0.5f * (1.0f - r.purity)));

  put(r_current, true, y[in_stack_current] - r.current,
      root_of_squares(sigma_of(p, in_stack_current, r.current), 0.01f));
  float mean = 0.0f, middle = 0.0f, excess[CTL_CELLS];
  for (uint32_t k = 0; k < CTL_ZONES; ++k) mean += zone[k] / static_cast<float>(CTL_ZONES);
  const float density = max_of(0.0f, y[in_stack_current]) / p.cell_area;
  const Composition gas = mean_composition(p, y, g);
  float temperature[CTL_CELLS];
  for (uint32_t k = 0; k < CTL_CELLS; ++k) temperature[k] = cell_temperature(zone, k);
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    excess[k] = y.value[in_cell_voltage + k] - model_voltage(p, gas, temperature[k], density);
  for (uint32_t k = 0; k < CTL_CELLS; ++k) middle += excess[k] / static_cast<float>(CTL_CELLS);
  const bool hot = mean > 900.0f && r.flowing;
  put(r_voltage, hot && r.producing, (middle - added_resistance * density) / kVoltageSlope,
      root_of_squares(kVoltageSigma, voltage_sigma / kVoltageSlope));
  put(r_power, true, y[in_bus_power] - r.power,
      root_of_squares(sigma_of(p, in_bus_power, r.power), 2.0f, 0.04f * r.power_motor),
      r.power_motor + p.electronics_power);
  put(r_speed, true, y[in_compressor_speed] - r.speed, 3.0f);
  put(r_tone, y[in_compressor_speed] > 60.0f, y[in_bearing_vibration] - r.tone,
      root_of_squares(sigma_of(p, in_bearing_vibration, r.tone), 0.1f * r.tone), r.tone);

  put(r_preheater, y.has(in_preheater_temperature), y[in_preheater_temperature] - mean, kPreheaterSigma);
  put(r_filter, r.flowing, y[in_filter_differential_pressure] - r.filter,
      root_of_squares(sigma_of(p, in_filter_differential_pressure, r.filter), 0.15f * r.filter), r.filter);
  for (uint32_t e = 0; e < CTL_ENDS; ++e) {
    const float edge = zone[e == 0 ? 0 : CTL_ZONES - 1];
    put(r_end_0 + e, y.has(in_end_temperature + e), y[in_end_temperature + e] - edge - u.end[e] * p.end_rise,
        kThermalSigma);
  }
  for (uint32_t k = 0; k < CTL_ZONES; ++k)
    put(r_zone_0 + k, y.has(in_zone_temperature + k),
        y[in_zone_temperature + k] - zone_by_neighbours(zone, k), kThermalSigma);
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    const float others =
        (middle * static_cast<float>(CTL_CELLS) - excess[k]) / static_cast<float>(CTL_CELLS - 1);
    put(r_cell_0 + k, hot && r.producing && density > kCellDensity && y.has(in_cell_voltage + k),
        excess[k] - others, kCellSigma, density * (1.0f / kCellReference));
  }
  const float whole = stack_of_taps(p, y);
  put(r_taps, y.has(in_stack_voltage) && whole > kStackLeast, stack_voltage(p, y) / p.cells_per_tap - whole,
      taps_sigma(p, y), whole);
  return out;
}

/// Commissioning: on a plant that is in order, what differs from the model and stays is how the plant is built. It is
/// looked for once, over `commissioning` seconds of production; until production has settled nothing is judged by it.
inline void commission(ResidualMemory& m, const Residuals& r, uint32_t held, const ctl_params& p,
                       float current, float leak, bool producing) {
  if (m.commissioned >= p.commissioning) return;
  if (producing) m.commissioned += p.period;
  const float tau = min_of(m.commissioned, 0.5f * p.commissioning);  // s
  if (producing) {
    m.built_at = low_pass(m.built_at, current, p.period, tau);
    m.built_leak = low_pass(m.built_leak, leak, p.period, tau);
  }
  for (uint32_t i = 0; i < kResiduals; ++i) {
    const float most = kResidualRows[i].most;
    if (most == 0.0f || (r.counts & ~held & (1u << i)) == 0) continue;
    const float found = clamp(m.as_built[i] + r.left[i] / max_of(1e-9f, r.per[i]), -most, most);
    // the resistances of the cells, which the voltage follows, are learnt meanwhile
    m.as_built[i] = low_pass(m.as_built[i], found, p.period, i == r_voltage ? 0.0f : tau);
  }
}

/// Residuals that wait until the first production of a new plant has settled: nothing is known of them yet.
inline uint32_t not_commissioned(const ResidualMemory& m, const ctl_params& p) {
  if (!(p.commissioning > 0.0f) || m.commissioned > 0.0f) return 0;
  uint32_t waits = (1u << r_compressor_aperture) | (1u << r_faraday_aperture);  // built of two others
  for (uint32_t i = 0; i < kResiduals; ++i) waits |= kResidualRows[i].most > 0.0f ? 1u << i : 0u;
  return waits;
}

/// The relations as this plant was built, for what stands in for a reading.
inline void correct_for_build(Relations& r, const ctl_params& p, const Signals& y,
                              const float (&b)[kResiduals]) {
  if (p.commissioning == 0.0f) return;
  const float compressor = 1.0f / (1.0f - b[r_feed_compressor]);
  r.feed_compressor *= compressor;
  r.feed_aperture *= 1.0f / (1.0f - b[r_feed_aperture]);
  r.ambient_pressure *= 1.0f / compressor;
  r.ambient_temperature *= compressor;
  r.plenum_pressure += b[r_line] * (r.plenum_pressure - y[in_cathode_pressure]);
  r.cathode_pressure -= b[r_line] * (y[in_plenum_pressure] - r.cathode_pressure);
  r.anode_pressure *= 1.0f - (b[r_product_aperture] - b[r_product_faraday]);
  r.outlet_co += b[r_outlet_co];
  r.purity += b[r_purity];
  r.power += b[r_power] * (r.power_motor + p.electronics_power);
  r.tone *= 1.0f + b[r_tone];
  r.filter *= 1.0f + b[r_filter];
}

/// Alarms of this tick, one bit a residual and direction.
struct Alarms {
  uint32_t up, down;              // CUSUM above its threshold
  uint32_t leans_up, leans_down;  // beyond the soft limit
};

/// What has been learnt of the cells is no change of theirs: the residual of their voltage begins anew.
inline void restart_voltage(ResidualMemory& m, float learnt, float density) {
  if (!(abs_of(learnt) * density > kVoltageLearnt)) return;
  m.sum[r_voltage] = Cusum{};
  m.counted[r_voltage] = 0;
}

/// Residuals in `held` wait as they are: they look at a measurement that has been replaced.
inline Alarms test_residuals(ResidualMemory& m, const Residuals& r, uint32_t held, float period) {
  Alarms a{};
  for (uint32_t i = 0; i < kResiduals; ++i) {
    Cusum& c = m.sum[i];
    if ((held & (1u << i)) != 0) continue;
    if ((r.counts & (1u << i)) == 0) {
      c.up = max_of(0.0f, c.up - 1.0f);
      c.down = max_of(0.0f, c.down - 1.0f);
      m.counted[i] = 0;
      continue;
    }
    m.smooth[i] = m.counted[i] == 0 ? r.z[i] : low_pass(m.smooth[i], r.z[i], period, kLeanTime);
    const float k = kResidualRows[i].k, step = kResidualRows[i].k_step, z = r.z[i];
    if (m.counted[i] == 0) m.baseline[i] = z;
    const float seen = static_cast<float>(m.counted[i]) * period;
    const bool by_change = step > 0.0f && seen > kBaselineFirst;
    const float d = by_change ? z - m.baseline[i] : 0.0f;
    const float up = by_change ? max_of(z - k, d - step) : z - k;
    const float down = by_change ? max_of(-z - k, -d - step) : -z - k;
    c.up = clamp(c.up + up, 0.0f, kSumMost);
    c.down = clamp(c.down + down, 0.0f, kSumMost);
    if (c.up > kSumAlarm) a.up |= 1u << i;
    if (c.down > kSumAlarm) a.down |= 1u << i;
    const float lean = by_change ? m.smooth[i] - m.baseline[i] : m.smooth[i];
    if (lean > kLean || c.up > kSumAlarm) a.leans_up |= 1u << i;
    if (lean < -kLean || c.down > kSumAlarm) a.leans_down |= 1u << i;
    if (c.up < 0.5f * kSumAlarm && c.down < 0.5f * kSumAlarm)
      m.baseline[i] = low_pass(m.baseline[i], z, period, min_of(kBaselineTime, seen));
    if (m.counted[i] < 0xffffu) ++m.counted[i];
  }
  return a;
}

}  // namespace duskline::controller
