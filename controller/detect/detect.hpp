/// Detection and isolation: from readings and relations to suspect measurements, diagnoses and a response.
///
/// What it is   single-sensor tests (lost, frozen, jumped), residual tests with signatures, a
///              likelihood-ratio test of the thermocouples, tests of commands, clock, link, bus and weather;
///              persistence, latch, re-admission; the response is the highest that a standing diagnosis asks
///              for
/// Equation     see residuals.hpp, signatures.hpp, vote.hpp
/// Symbols      suspect: bit of CTL_INPUT_LIST; diagnosed: bits of CTL_DIAGNOSIS_LIST
/// Validity     after read_signals; `raw` are the readings before substitution, `y` after it
/// Source       tests: docs/models/detection.md
/// Left out     faults of several measurements of one relation at a time, beyond what signatures.hpp says of them
#pragma once

#include "controller/detect/balances.hpp"
#include "controller/detect/taps.hpp"

namespace duskline::controller {

/// How far a reading may stand from its estimate while it is in order.
inline float allowance(const ctl_params& p, uint32_t i, float value) {
  const float own = 4.0f * sigma_of(p, i, value);
  if (i >= in_zone_temperature && i <= in_zone_temperature_last) return 12.0f;
  if (i >= in_end_temperature && i <= in_end_temperature_last) return 25.0f;
  if (i >= in_cell_voltage && i <= in_cell_voltage_last) return 0.03f;
  switch (i) {
    case in_ambient_pressure:
    case in_feed_flow:
    case in_cathode_pressure:
    case in_product_flow:
      return own + 0.04f * abs_of(value);
    case in_anode_pressure:
      return own + 0.06f * abs_of(value);
    case in_ambient_temperature:
      return 15.0f;
    case in_plenum_temperature:
    case in_compressor_temperature:
    case in_housing_temperature:
      return 8.0f;
    case in_preheater_temperature:
      return 25.0f;
    case in_stack_current:
      return 0.06f;
    case in_stack_voltage:
      return 0.05f * p.cells_per_tap;
    case in_compressor_speed:
      return 12.0f;
    case in_outlet_co_fraction:
      return own + 0.04f;
    case in_product_oxygen_fraction:
      return own + 0.02f;
    case in_bus_power:
      return own + 8.0f;
    case in_filter_differential_pressure:
    case in_bearing_vibration:
      return own + 0.3f * abs_of(value);
    default:
      return own + 0.5f;
  }
}

/// What every measurement should be; those that no relation gives keep their own slow mean.
inline void update_estimates(Detection& d, const DetectInput& x, const Relations& r, uint32_t absent) {
  const ctl_params& p = x.params;
  const Signals& y = x.y;
  const auto give = [&d](uint32_t i, bool usable, float value) {
    const bool good = usable && is_finite(value);
    if (good) d.estimate[i] = value;
    put_in(d.usable, i, good);
  };
  const auto keep = [&](uint32_t i, float time) {
    if (in_set(d.suspect, i) || !x.raw.has(i)) return;
    d.estimate[i] = d.started < time ? x.raw[i] : low_pass(d.estimate[i], x.raw[i], p.period, time);
    put_in(d.usable, i, true);
  };
  keep(in_plenum_temperature, 120.0f);
  keep(in_compressor_temperature, 120.0f);
  keep(in_housing_temperature, 120.0f);
  keep(in_bus_voltage, 600.0f);
  if (!r.flowing || (absent & bits(r_feed_compressor)) != 0) {
    keep(in_ambient_pressure, 120.0f);
    keep(in_ambient_temperature, 120.0f);
    keep(in_filter_differential_pressure, 120.0f);
  }
  const auto related = [absent](uint32_t residual) { return (absent >> residual & 1u) == 0; };
  if (d.applied.feed > 0.0f || d.applied.current > 0.0f) {
    const bool by_aperture = r.flowing && related(r_feed_aperture) && !in_set(d.suspect, in_cathode_pressure);
    const bool by_compressor = r.flowing && related(r_feed_compressor) &&
                               !in_set(d.suspect, in_compressor_speed) &&
                               !in_set(d.suspect, in_ambient_pressure);
    const Vote feed =
        vote_of_three(r.feed_compressor, by_compressor, r.feed_aperture, by_aperture, 0.0f, false);
    give(in_feed_flow, feed.voters > 0, feed.value);
    give(in_cathode_pressure, r.flowing && related(r_line) && !in_set(d.suspect, in_plenum_pressure),
         r.cathode_pressure);
    give(in_plenum_pressure, r.flowing && related(r_line) && !in_set(d.suspect, in_cathode_pressure),
         r.plenum_pressure);
    give(in_anode_pressure, r.making && related(r_product_aperture), r.anode_pressure);
    give(in_product_flow, r.making, r.product_faraday);
  } else {  // bled down the pressures are one, and nothing flows
    const bool bled = related(r_line) && y.has(in_ambient_pressure) && y[in_cathode_pressure] < 3000.0f;
    give(in_plenum_pressure, bled, y[in_ambient_pressure]);
    give(in_cathode_pressure, bled, y[in_ambient_pressure]);
    give(in_anode_pressure, bled, y[in_ambient_pressure]);
    give(in_feed_flow, bled, 0.0f);
    give(in_product_flow, bled, 0.0f);
  }
  if (r.flowing && related(r_feed_compressor)) {
    give(in_ambient_pressure, true, r.ambient_pressure);
    give(in_ambient_temperature, true, r.ambient_temperature);
    give(in_filter_differential_pressure, true, r.filter);
  }
  give(in_compressor_speed, true, r.speed);
  give(in_stack_current, true, r.current);
  give(in_outlet_co_fraction, r.making, r.outlet_co);
  give(in_product_oxygen_fraction, r.making, r.purity);
  give(in_bus_power, true, r.power);
  give(in_bearing_vibration, true, r.tone);
  const float *base = d.residuals.baseline, *built = d.residuals.as_built;
  const auto based = [&](uint32_t residual) {
    return static_cast<float>(d.residuals.counted[residual]) * p.period > kBaselineLent;
  };
  give(in_preheater_temperature, based(r_preheater),
       x.mean + built[r_preheater] + kPreheaterSigma * base[r_preheater]);
  for (uint32_t e = 0; e < CTL_ENDS; ++e)
    give(in_end_temperature + e, based(r_end_0 + e),
         x.zone[e == 0 ? 0 : CTL_ZONES - 1] + d.applied.end[e] * p.end_rise + built[r_end_0 + e] +
             kThermalSigma * base[r_end_0 + e]);
  for (uint32_t k = 0; k < CTL_ZONES; ++k)
    give(in_zone_temperature + k, based(r_zone_0 + k),
         zone_by_neighbours(x.zone, k) + built[r_zone_0 + k] + kThermalSigma * base[r_zone_0 + k]);
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    float others = 0.0f;
    for (uint32_t j = 0; j < CTL_CELLS; ++j)
      if (j != k) others += y[in_cell_voltage + j] / static_cast<float>(CTL_CELLS - 1);
    give(in_cell_voltage + k, true, others + (based(r_cell_0 + k) ? kCellSigma * base[r_cell_0 + k] : 0.0f));
  }
  give(in_stack_voltage, true, stack_voltage(p, y) * (1.0f - built[r_taps]));
}

/// Bits of a word of measurements, lowest first: the number of the measurement.
template <class Act>
inline void each_bit(uint32_t bits, uint32_t first, Act act) {
  for (; bits != 0; bits &= bits - 1) act(first + static_cast<uint32_t>(__builtin_ctz(bits)));
}

/// What one look at a word of measurements finds.
struct Readings {
  uint32_t frozen, jumped, aged;  // aged: missing at this tick
};

inline Readings look_at(Detection& d, const DetectInput& x, uint32_t word) {
  Readings r{};
  const uint32_t first = 32 * word, last = min_count(first + 32, kInputs);
  const bool settled = d.started > 5.0f;
  const float second = max_of(1.0f, x.params.period);
  for (uint32_t i = first; i < last; ++i) {
    if (!fitted(x.params, i)) continue;
    const uint32_t bit = 1u << (i - first);
    const ctl_input_sheet& sheet = sheet_of(x.params, i);
    const float value = x.signals.good[i], change = abs_of(value - d.before[i]);
    const bool repeats = bits_of(value) == bits_of(d.before[i]);
    const uint32_t same = repeats ? min_count(d.same[i] + 1u, 255u) : 0u;
    d.same[i] = static_cast<uint8_t>(same);
    d.before[i] = value;
    if (!repeats && change < 20.0f * sheet.noise + 1e-6f) d.moving[word] |= bit;
    if (x.signals.age[i] != 0) r.aged |= bit;
    const bool leaps = sheet.jump > 0.0f && change > sheet.jump * second;
    if (leaps && settled && x.raw.has(i)) r.jumped |= bit;
    if (same < kEndTicks) continue;
    const bool at_lower_end = value <= sheet.span.lower;  // the end of the span cuts the noise off
    if (same >= kFrozenTicks && (d.moving[word] & bit) != 0 && !at_lower_end && x.raw.has(i)) r.frozen |= bit;
    if (value >= sheet.span.upper || (at_lower_end && !row_of(i).reaches_lower)) r.jumped |= bit;
  }
  return r;
}

/// Lost, frozen and jumped readings; ends doubts whose reading agrees again.
inline void test_readings(Detection& d, const DetectInput& x) {
  const Readings found[2] = {look_at(d, x, 0), look_at(d, x, 1)};
  const uint32_t steps = truncate(d.started / kCleanStep);
  const bool step = steps != truncate((d.started - x.params.period) / kCleanStep);
  const bool one_by_one = ones(found[0].frozen) + ones(found[1].frozen) <= kFrozenMost;
  for (uint32_t word = 0; word < 2; ++word) {
    const Readings& r = found[word];
    const uint32_t wrong = r.jumped | (one_by_one ? r.frozen : 0u);
    each_bit(d.suspect[word] | r.aged | wrong, 32 * word, [&](uint32_t i) {
      const bool known = d.same[i] > 0 || in_set(d.moving, i);
      // reported before the hold of a missing reading ends, so that its estimate is there in time
      const float missing = static_cast<float>(x.signals.age[i]) * x.params.period;
      const bool lost = known && (!x.raw.has(i) || missing > 0.5f * x.params.sensor_hold);
      if (lost || (wrong >> (i & 31u) & 1u) != 0) {
        put_in(d.suspect, i, true);
        d.clean[i] = 0;
        return;
      }
      if (!in_set(d.suspect, i)) return;
      // two ends that are kept alike agree with their estimates even if they are exchanged
      const bool end = i >= in_end_temperature && i <= in_end_temperature_last;
      const bool tap = i >= in_cell_voltage && i <= in_cell_voltage_last;
      const float should = tap && by_difference(d, x.raw) ? x.y[i] : d.estimate[i];
      const bool agrees = in_set(d.usable, i) && !(end && d.exchanged != 0) &&
                          abs_of(x.raw[i] - should) < 0.4f * allowance(x.params, i, should) && d.same[i] < 10;
      if (!agrees) {
        d.clean[i] = 0;
      } else if (step && static_cast<float>(++d.clean[i]) * kCleanStep > kCleanTime) {
        put_in(d.suspect, i, false);
      }
    });
  }
}

/// Thermocouples of ends and zones: the one whose error explains most of the change of their residuals.
/// Neighbouring residuals share measurements, so that each thermocouple has a column of signs and sizes.
inline void test_thermocouples(Detection& d, const Signals& raw, const Alarms& a) {
  constexpr uint32_t kCount = CTL_ENDS + CTL_ZONES;
  constexpr float kColumn[kCount][kCount] = {
      // end 0, end 1, zone 0 .. 4 as rows; what an error of 1 K in each does to them
      {1, 0, -1, 0, 0, 0, 0},        {0, 1, 0, 0, 0, 0, -1},        {0, 0, 1, -2, 1, 0, 0},
      {0, 0, -0.5f, 1, -0.5f, 0, 0}, {0, 0, 0, -0.5f, 1, -0.5f, 0}, {0, 0, 0, 0, -0.5f, 1, -0.5f},
      {0, 0, 0, 0, 1, -2, 1}};
  constexpr uint32_t kZonesOnly = bits(r_zone_0, r_zone_1, r_zone_2, r_zone_3, r_zone_4, r_end_0, r_end_1);
  d.thermal_time = ((a.up | a.down) & kZonesOnly) != 0 ? min_count(d.thermal_time + 1u, 0xffffu) : 0u;
  if (d.thermal_time < kPatternTicks) return;
  float best = 0.0f, second = 0.0f;
  uint32_t suspect = 0;
  // first by change; a drift of hours is in the baseline, so that it shows by value only
  for (uint32_t pass = 0; pass < 2; ++pass) {
    best = second = 0.0f;
    float left[kCount];
    for (uint32_t j = 0; j < kCount; ++j) {
      const uint32_t i = j < CTL_ENDS ? r_end_0 + j : r_zone_0 + j - CTL_ENDS;
      left[j] = d.residuals.smooth[i] - (pass == 0 ? d.residuals.baseline[i] : 0.0f);
    }
    for (uint32_t k = 0; k < kCount; ++k) {
      float with = 0.0f, size = 0.0f;
      for (uint32_t j = 0; j < kCount; ++j) {
        with += kColumn[j][k] * left[j];
        size += kColumn[j][k] * kColumn[j][k];
      }
      const float ratio = with * with / size;
      if (ratio > best) {
        second = best;
        best = ratio;
        suspect = k;
      } else {
        second = max_of(second, ratio);
      }
    }
    if (best >= 2.0f) break;
  }
  // an end that leaves its zone for a real reason, a heater, is in the signatures; here it must stand alone
  const bool heater = ((a.leans_up | a.leans_down) & bits(r_power)) != 0;
  if (best < 2.0f || best < 1.3f * second || (heater && suspect < CTL_ENDS)) return;
  const uint32_t input =
      suspect < CTL_ENDS ? in_end_temperature + suspect : in_zone_temperature + suspect - CTL_ENDS;
  put_in(d.suspect, input, true);
  d.clean[input] = 0;
  if (suspect >= CTL_ENDS) return;
  const uint32_t other = in_end_temperature + 1 - suspect;
  if (in_set(d.suspect, other) && raw.has(other)) d.exchanged = 1;
}

/// The current against its command: a vote between meter, command and what the cells say. A meter that steps away from
/// the current makes the cells disagree with it by as much in the same tick; otherwise the converter does not follow.
inline uint32_t test_current(Detection& d, const DetectInput& x, const Residuals& r, const Relations& rel) {
  const float off = x.raw[in_stack_current] - rel.current;
  const bool far = x.raw.has(in_stack_current) &&
                   abs_of(off) > 0.15f + 0.6f * x.params.current_rate_down * x.params.period;
  const bool known = (r.counts & bits(r_voltage)) != 0, suspect = in_set(d.suspect, in_stack_current);
  const float by_cells = r.z[r_voltage] * kVoltageSigma;  // A beyond what the meter says, or what replaces it
  const bool deviates = four_of_five(d.away, far);
  if (!far && known)
    d.voltage_slow = d.voltage_slow == 0.0f
                         ? by_cells
                         : low_pass(d.voltage_slow, by_cells, x.params.period, kVoltageMemory);
  if (!deviates) return 0;
  const float implied = by_cells - d.voltage_slow;
  const float most = kGreatestZ * kVoltageSigma;
  if (suspect) {  // the command stands in: the cells agree with it, or the current is another
    const bool agrees = known && abs_of(implied) < max_of(kImpliedLeast, 0.5f * min_of(abs_of(off), most));
    return agrees ? 0u : uint32_t{CTL_CURRENT_DEVIATION};
  }
  if (known && implied * off < 0.0f && abs_of(implied) > 0.5f * min_of(abs_of(off), most)) {
    put_in(d.suspect, in_stack_current, true);
    d.clean[in_stack_current] = 0;
    return 0;
  }
  return CTL_CURRENT_DEVIATION;
}

/// Tests that need no residual.
inline uint32_t test_surroundings(Detection& d, const DetectInput& x) {
  const ctl_params& p = x.params;
  uint32_t found = 0;
  const bool low = x.raw.has(in_bus_voltage) && x.raw[in_bus_voltage] < p.bus_nominal - p.bus_sag;
  if (four_of_five(d.sagged, low)) found |= CTL_BUS_WEAK;
  if (is_finite(x.in.command_age) && x.in.command_age > p.link_timeout) found |= CTL_LINK_LOST;
  const float now = x.in.local_time;
  if (is_finite(now) && is_finite(d.local_time) && d.started > 0.0f) {
    float moved = now - d.local_time - p.period / kSolSeconds;
    if (moved < -0.5f) moved += 1.0f;
    if (abs_of(moved) > max_of(1.5f * p.period, 2.0f) / kSolSeconds) found |= CTL_CLOCK_JUMPED;
  }
  d.local_time = now;
  const bool station = !in_set(d.suspect, in_ambient_pressure) && !in_set(d.suspect, in_ambient_temperature);
  if (station && x.y.has(in_ambient_pressure) && x.y.has(in_ambient_temperature)) {
    const float density = intake_density(p, x.y);
    d.density_slow = d.started < 5.0f ? density : low_pass(d.density_slow, density, p.period, 300.0f);
    if (abs_of(density / d.density_slow - 1.0f) > kWeatherFast) found |= CTL_WEATHER_FAST;
  }
  if (x.y.has(in_bearing_vibration) && x.y[in_compressor_speed] > 100.0f &&
      !in_set(d.suspect, in_bearing_vibration) && d.residuals.smooth[r_tone] > 0.95f * kGreatestZ &&
      d.residuals.sum[r_tone].up > kSumAlarm) {
    const float turn = x.y[in_compressor_speed] / 300.0f;
    if (x.y[in_bearing_vibration] > p.tone_max * p.bearing_tone * turn * turn) found |= CTL_BEARING_WORN;
  }
  return found;
}

/// Measurements without which current cannot be watched.
constexpr bool needed(uint32_t i) {
  return i == in_cathode_pressure || i == in_anode_pressure || i == in_feed_flow || i == in_stack_current ||
         (i >= in_end_temperature && i <= in_zone_temperature_last);
}

/// Diagnoses and doubts by signature, once it has stood.
inline uint32_t read_pattern(Detection& d, const Alarms& a, uint32_t blind, uint32_t absent) {
  if ((a.up | a.down) == 0) {  // no row matches
    for (uint8_t& ticks : d.stood) ticks = 0;
    d.unexplained = 0;
    return 0;
  }
  uint32_t found = 0, explained = kThermalResiduals;
  uint32_t alike = 0;  // rows that match at this tick
  for (uint32_t n = 0; n < kSignatureCount; ++n) {
    const Signature& s = kSignatures[n];
    if (left_out(s, absent) || may_hide(d, s) || !matches(s, a, blind | absent)) {
      d.stood[n] = 0;
      continue;
    }
    explained |= s.up | s.down;
    if (recovers(d, s)) {
      d.stood[n] = 0;
      continue;
    }
    ++alike;
    if (d.stood[n] < 255) ++d.stood[n];
  }
  for (uint32_t n = 0; n < kSignatureCount; ++n) {
    const Signature& s = kSignatures[n];
    if (d.stood[n] < (s.suspect == in_bus_power ? kPowerTicks : kPatternTicks)) continue;
    found |= s.diagnosis;
    if (s.suspect >= kInputs) continue;
    // of what cannot be distinguished no measurement is replaced, except where that is the cautious side
    if (alike > 1 && in_part(s, blind) && !cautious(s)) {
      if (!needed(s.suspect)) continue;
      found |= CTL_MODEL_SUSPECT;
      d.open |= (s.up | s.down) & ~blind;
      continue;
    }
    put_in(d.suspect, s.suspect, true);
    d.clean[s.suspect] = 0;
  }
  // a meter between two that differ from each other agrees with both: what it measures is known
  constexpr uint32_t kFeed = bits(r_feed_compressor, r_feed_aperture);
  constexpr uint32_t kProduct = bits(r_product_faraday, r_product_aperture);
  if (((a.up | a.down) & kFeed) == 0) explained |= bits(r_compressor_aperture);
  if (((a.up | a.down) & kProduct) == 0) explained |= bits(r_faraday_aperture);
  const uint32_t open = (a.up | a.down) & ~explained;
  d.unexplained = open != 0 ? min_count(d.unexplained + 1u, 0xffffu) : 0u;
  if (d.unexplained > kUnexplainedTicks) {
    found |= CTL_MODEL_SUSPECT;
    d.open |= open;
  }
  return found;
}

/// The shaft far from its command and the plenum emptying: no need to wait for the residuals.
inline uint32_t test_shaft(Detection& d, const DetectInput& x, const Relations& rel) {
  const float off = x.raw[in_compressor_speed] - rel.speed;
  const bool far = x.raw.has(in_compressor_speed) && off < -15.0f - 0.1f * rel.speed;
  const bool stalled = four_of_five(d.stalled, far);
  const bool emptying = x.y[in_plenum_pressure] < 0.985f * d.relations.plenum_slow;
  return stalled && emptying ? uint32_t{CTL_COMPRESSOR_STOPPED} : 0u;
}

/// Cells without a voltage of their own, beyond which no oxygen is made (estimate: half of them).
inline constexpr uint32_t kBlindCellsMax = 3;

inline uint32_t response_to(const Detection& d, const Signals& raw) {
  uint32_t response = CTL_RESPOND_NONE, doubts = 0;
#define DETECT_RESPONSE(identifier, bit, word, answer, meaning) \
  if ((d.diagnosed & identifier) != 0 && response < answer) response = answer;
  CTL_DIAGNOSIS_LIST(DETECT_RESPONSE)
#undef DETECT_RESPONSE
  const auto at_least = [&response](uint32_t answer) {
    if (response < answer) response = answer;
  };
  for (uint32_t word = 0; word < 2; ++word)
    each_bit(d.suspect[word], 32 * word, [&](uint32_t i) {
      at_least(in_set(d.usable, i) ? CTL_RESPOND_SUBSTITUTE : CTL_RESPOND_FLAG);
      if (needed(i)) ++doubts;
    });
  const uint32_t cells = suspect_taps(d);
  if (cells > 1) at_least(cells > kBlindCellsMax ? CTL_RESPOND_STANDBY : CTL_RESPOND_DERATE);
  // a cell that is known to be worse than the others is watched by its own voltage alone
  if (cells > 0 && !by_difference(d, raw) && (d.diagnosed & kWeakCell) != 0) at_least(CTL_RESPOND_STANDBY);
  if (doubts == 2) at_least(CTL_RESPOND_DERATE);
  if (doubts > 2) at_least(CTL_RESPOND_STANDBY);
  return response;
}

/// Residuals that say nothing, because they look at a measurement that has been replaced.
inline uint32_t blind_residuals(const Detection& d, const ctl_params& p) {
  uint32_t blind = 0;
  const bool all = p.detection > 1.5f;
  for (uint32_t word = 0; word < 2; ++word)
    each_bit(d.suspect[word], 32 * word, [&](uint32_t i) {
      if (all || i == in_preheater_temperature || i >= in_cell_voltage) blind |= blind_without(i);
    });
  return blind;
}

/// At the first tick the plant may run already: commands and lags begin at what is measured.
inline void begin_detection(Detection& d, const DetectInput& x) {
  const Signals& y = x.y;
  const uint32_t reading = feed_row(x.params).reading;
  d.applied.feed = reading == kInputs ? 0.0f : max_of(0.0f, y[reading]);
  d.applied.current = max_of(0.0f, y[in_stack_current]);
  const float speed = feed_row(x.params).compressor ? d.applied.feed : 0.0f;
  for (Follower& f : d.relations.speed) f.slewed = f.lagged = speed;
  for (Follower& f : d.relations.current) f.slewed = f.lagged = d.applied.current;
  d.relations.analyser = clamp(y[in_outlet_co_fraction], 0.0f, 1.0f);
  d.relations.inlet_co = clamp(d.relations.analyser - x.gas.conversion, 0.0f, 0.5f);
  d.relations.plenum_slow = y[in_plenum_pressure];
  d.relations.feed = max_of(0.0f, y[in_feed_flow]);
}

inline Relations detect(Detection& d, const DetectInput& x) {
  const ctl_params& p = x.params;
  if (p.detection < 0.5f) {
    for (uint32_t i = 0; i < 2; ++i) d.suspect[i] = d.usable[i] = 0;
    d.diagnosed = d.response = 0;
    return {};
  }
  if (d.started == 0.0f) begin_detection(d, x);
  Relations r = relate(d.relations, p, x.y, d.applied, x.mean, x.in.inlet_co_fraction);
  Signals seen = x.y;  // the power is evidence of the heaters even while it is suspect
  seen.value[in_bus_power] = x.raw[in_bus_power];
  ResidualMemory& m = d.residuals;
  const uint32_t absent = absent_residuals(p);
  Residuals z = find_residuals(p, seen, r, d.applied, x.gas, x.zone, x.added_resistance, x.voltage_sigma, m);
  z.counts &= ~absent;
  restart_voltage(m, x.added_resistance - d.added_resistance,
                  max_of(0.0f, x.y[in_stack_current]) / p.cell_area);
  d.added_resistance = x.added_resistance;
  const uint32_t blind = blind_residuals(d, p);
  commission(m, z, blind, p, x.y[in_stack_current], r.leak_share, r.producing);
  correct_for_build(r, p, x.y, m.as_built);
  const Alarms a = test_residuals(m, z, blind | not_commissioned(m, p), p.period);
  test_taps(d, z, blind, p.period);
  test_readings(d, x);
  uint32_t found = read_pattern(d, a, blind, absent);
  test_thermocouples(d, x.raw, a);
  found |= test_current(d, x, z, r);
  if (feed_row(p).compressor) found |= test_shaft(d, x, r) | test_balances(d, x, r);
  found |= test_surroundings(d, x);
  update_estimates(d, x, r, absent);

  const uint32_t clean = truncate(kCleanTime / p.period);
  each_bit((found | d.diagnosed) & kAnyDiagnosis, 0, [&](uint32_t bit) {
    const uint32_t mask = 1u << bit;
    if ((found & mask) != 0) {
      d.quiet[bit] = 0;
      if ((d.diagnosed & mask) == 0 && (mask & kLatched) != 0) d.request = x.in.requested_mode;
      d.diagnosed |= mask;
    } else {
      const bool held = (mask & kLatched) != 0 && x.in.requested_mode == d.request;
      // cells are compared in production only: standby is no evidence that a weak one is in order, nor is its tap
      // while the taps lack some of the stack's voltage
      const bool compared =
          (mask & kWeakCell) == 0 || ((z.counts & kCellResiduals) != 0 && (a.down & bits(r_taps)) == 0);
      if (compared && d.quiet[bit] < 0xffffu) ++d.quiet[bit];
      if (d.quiet[bit] > clean && !held) d.diagnosed &= ~mask;
    }
  });
  d.diagnosed &= kAnyDiagnosis;  // whatever a damaged copy brought
  if ((d.diagnosed & CTL_MODEL_SUSPECT) == 0) d.open = 0;
  d.response = response_to(d, x.raw);
  d.started = clamp(d.started + p.period, 0.0f, 1e7f);  // a damaged one begins again
  return r;
}

}  // namespace duskline::controller
