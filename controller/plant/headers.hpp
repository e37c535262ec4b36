/// Loops of the headers: speed from the feed header's pressure, recycle valve from CO, exhaust and product valves.
///
/// What it is   four PIs with feed-forward; the set-points of the two outlet headers bind each other, so that the pressure
///              across the cells stays within its band while they fill and empty
/// Equation     n = n_ff(sum of feeds, p_set) + PI; x_set = max(x_min, c s L/(1 + s L)), L = nickel limit of the hottest
///              module; recycle: a = r F/C, r = x/(x + dx); p_exhaust,set <= p_product + band; p_product,set = p_exhaust +
///              offset
/// Symbols      F [kg/s] feeds, x [1] mole fraction of CO, dx [1] made by the cells, c [1] CO and CO2 of the air, s [1]
///              protection_factor, C [kg/s] capacity of the open valve at the set-point of the pressure, a [1] opening
/// Validity     choked outlet valves (flow in proportion to the pressure before them), linear or equal percentage
/// Source       mole balance of estimate/composition.hpp; tuning SIMC (Skogestad 2003)
/// Left out     interaction of recycle and header pressure beyond the feed-forward
#pragma once

#include "controller/estimate/composition.hpp"
#include "controller/estimate/filters.hpp"
#include "controller/laws/pi.hpp"
#include "controller/plant/intake.hpp"

namespace duskline::controller {

struct HeaderMemory {
  Pi speed, recycle, exhaust, product;
  float applied_speed;  // rad/s that the shaft is to have
  float expected;       // rad/s, that behind the lag of the drive
  float trim;           // rad/s added to the command for a drive that gives less
  float setpoint;       // Pa of the feed header; it falls slowly
};

struct HeaderView {
  float header_setpoint, exhaust_setpoint, product_setpoint;  // Pa
  float co_setpoint, nickel_ratio;                            // 1
  float speed, recycle, exhaust, product;                     // commands
};

struct HeaderInput {
  const ctl_plant_params& params;
  const PlantSignals& signals;
  const ModulesSeen& modules;
  float surge_margin;  // 1 at the last tick, NaN unknown
  bool runs;           // the compressor may turn
  bool stop_at_once;   // it does not ramp down
  bool open;           // nothing runs: both outlet headers empty together while they are measured
  bool shed;           // the header pressure gives way to the power ceiling
};

inline constexpr float kLeastHeader = 3000.0f;  // Pa, that an outlet header may always have

/// Share of the rate at which the speed may fall: less speed means less margin to surge while the header is full.
constexpr float fall_allowed(const ctl_plant_params& p, float surge_margin) {
  constexpr float kUnknown = 0.2f;
  if (!is_finite(surge_margin)) return kUnknown;
  return clamp((surge_margin - 0.5f * p.surge_line) / max_of(1e-3f, p.surge_line), 0.0f, 1.0f);
}

/// The command for a speed of the shaft: a drive that gives less than asked for is asked for more.
inline float shaft_command(HeaderMemory& m, const ctl_plant_params& p, const PlantSignals& y) {
  m.expected = low_pass(m.expected, m.applied_speed, p.period, p.drive_lag);
  if (!y.has(rd_compressor_speed) || m.applied_speed < p.speed_min) {
    m.trim = 0.0f;
    m.expected = m.applied_speed;
    return m.applied_speed;
  }
  const float lack = m.expected - y[rd_compressor_speed];
  m.trim = clamp(m.trim + p.shaft_gain * lack * p.period / p.shaft_time, 0.0f, 0.1f * p.speed_max);
  return clamp(m.applied_speed + m.trim + max_of(0.0f, p.shaft_gain * lack), 0.0f, p.speed_max);
}

inline void header_speed(HeaderMemory& m, const HeaderInput& in, float setpoint) {
  const ctl_plant_params& p = in.params;
  const PlantSignals& y = in.signals;
  const float step = p.speed_rate * p.period;
  const PiGains gains{p.pressure_gain, p.pressure_time, p.pressure_time, 1.0f};
  if (!in.runs || !kIntakes[p.intake].turns) {
    m.speed = Pi{};
    m.applied_speed =
        in.stop_at_once || !kIntakes[p.intake].turns ? 0.0f : max_of(0.0f, m.applied_speed - step);
    return;
  }
  const float ahead = speed_feed_forward(p, suction_of(y, {}), in.modules.feed_wanted, setpoint);
  const float output = y.has(rd_feed_header_pressure)
                           ? pi_output(m.speed, gains, setpoint, y[rd_feed_header_pressure], ahead)
                           : pi_open(m.speed, ahead);
  const float wanted = clamp(output, min_of(p.speed_min, p.speed_max), p.speed_max);
  const float fall = kIntakes[p.intake].surges ? step * fall_allowed(p, in.surge_margin) : step;
  m.applied_speed = clamp(wanted, m.applied_speed - fall, m.applied_speed + step);
  // no integral while the header still fills; a shaft on its way up is tracked
  if (y[rd_feed_header_pressure] < 0.8f * setpoint)
    m.speed.integral = 0.0f;
  else
    pi_track(m.speed, gains, p.period, max_of(m.applied_speed, wanted));
}

/// Opening at which a valve passes this share of its open flow.
inline float opening_for(const ctl_plant_params& p, float share) {
  const float y = clamp(share, 0.0f, 1.0f);
  if (p.valve_rangeability <= 1.0f || y <= 0.0f) return y;
  return max_of(0.0f, 1.0f + logarithm(y) / logarithm(p.valve_rangeability));
}

/// Share of its open flow that a valve passes at an opening.
inline float share_at(const ctl_plant_params& p, float opening) {
  if (p.valve_rangeability <= 1.0f || opening <= 0.0f) return opening;
  return exponential((opening - 1.0f) * logarithm(p.valve_rangeability));
}

/// A valve that lowers the pressure before it: opens when that is above its set-point.
inline float relief_loop(Pi& loop, const PiGains& gains, float period, float setpoint, float pressure,
                         float ahead) {
  const float opening = clamp(pi_output(loop, gains, -setpoint, -pressure, ahead), 0.0f, 1.0f);
  pi_track(loop, gains, period, opening);
  return opening;
}

/// CO that the hottest module needs in the feed, mole fraction.
inline float co_wanted(const ctl_plant_params& p, float hottest) {
  const float ratio = p.protection_factor * nickel_limit(hottest);
  return clamp(p.carbon_fraction * ratio / (1.0f + ratio), min_of(p.co_setpoint, 0.5f), 0.5f);
}

inline float recycle_valve(Pi& loop, const HeaderInput& in, float setpoint) {
  const ctl_plant_params& p = in.params;
  const PlantSignals& y = in.signals;
  const float feed = in.modules.feed_wanted;
  if (!in.runs || !(feed > 0.0f)) {
    loop = Pi{};
    return 0.0f;
  }
  const float made = 2.0f * in.modules.oxygen_rate / kOxygenMolarMass;  // mol/s of CO
  const float conversion = clamp(made * p.air_molar_mass / feed, 0.0f, p.carbon_fraction);
  const float share = setpoint / (setpoint + conversion + 1e-3f);
  const float pressure = max_of(1000.0f, y[rd_exhaust_header_pressure]);
  const float ahead = opening_for(p, share * feed / p.recycle_capacity * p.exhaust_pressure / pressure);
  const PiGains gains{p.recycle_gain, p.recycle_time, p.recycle_time, 1.0f};
  const float output = y.has(rd_feed_header_co_fraction)
                           ? pi_output(loop, gains, setpoint, y[rd_feed_header_co_fraction], ahead)
                           : pi_open(loop, ahead);
  const float opening = clamp(output, 0.0f, 1.0f);
  pi_track(loop, gains, p.period, opening);
  return opening;
}

inline HeaderView run_headers(HeaderMemory& m, const HeaderInput& in) {
  const ctl_plant_params& p = in.params;
  const PlantSignals& y = in.signals;
  HeaderView v{};
  const float aim = p.header_pressure * (in.shed ? 1.0f - p.compressor_shed : 1.0f);
  m.setpoint = in.runs ? max_of(aim, m.setpoint - p.pressure_rate * p.period) : aim;
  v.header_setpoint = m.setpoint;
  header_speed(m, in, v.header_setpoint);
  v.speed = shaft_command(m, p, y);
  v.co_setpoint = co_wanted(p, in.modules.hottest);
  const float co = y.has(rd_feed_header_co_fraction)
                       ? clamp(y[rd_feed_header_co_fraction], 0.0f, 0.98f * p.carbon_fraction)
                       : __builtin_nanf("");
  v.nickel_ratio = co / (p.carbon_fraction - co) / nickel_limit(in.modules.hottest);
  v.recycle = recycle_valve(m.recycle, in, v.co_setpoint);

  const bool measured = y.has(rd_exhaust_header_pressure) && y.has(rd_product_header_pressure);
  const float exhaust = y[rd_exhaust_header_pressure], product = y[rd_product_header_pressure];
  // while they empty the exhaust goes ahead by half of the band, else it follows the product when that is low
  const float aside = in.open ? -0.5f * p.across_band : p.across_band;
  v.exhaust_setpoint = min_of(p.exhaust_pressure, max_of(kLeastHeader, product + aside));
  v.product_setpoint = max_of(kLeastHeader, exhaust + p.product_offset);
  v.exhaust = v.product = 1.0f;
  const PiGains exhaust_gains{p.exhaust_gain, p.exhaust_time, p.exhaust_time, 1.0f};
  const PiGains product_gains{p.product_gain, p.product_time, p.product_time, 1.0f};
  const auto ahead = [&](float flow, float capacity, float pressure) {
    return opening_for(p, flow / capacity * p.exhaust_pressure / max_of(1000.0f, pressure));
  };
  const float oxygen = in.modules.oxygen_rate, left = max_of(0.0f, in.modules.feed_wanted - oxygen);
  if (measured && !(in.open && exhaust < kLeastHeader))
    v.exhaust = relief_loop(m.exhaust, exhaust_gains, p.period, v.exhaust_setpoint, exhaust,
                            ahead(left, p.exhaust_capacity, v.exhaust_setpoint));
  else
    m.exhaust = Pi{};
  if (measured && !(in.open && product < kLeastHeader))
    v.product = relief_loop(m.product, product_gains, p.period, v.product_setpoint, product,
                            ahead(oxygen, p.product_capacity, v.product_setpoint));
  else
    m.product = Pi{};
  return v;
}

}  // namespace duskline::controller
