/// How worn the gas path is: filter, bearing and compressor.
///
/// What it is   slow means of ratios between what is measured and what a new part would show
/// Equation     loading = dp/(r N g); g = sqrt(T/T_0)/(s + (1 - s) (p/p_0) sqrt(T_0/T)); wear = (a/(a_0
///              (omega/300)^2) - 1)/9
/// Symbols      dp [Pa] of the filter; N [mol/s] through it; r [Pa s/mol] of a clean mat at 700 Pa and 240 K;
///              s [1] share of slip in its drag there; a, a_0 [m/s2] tone, of a new bearing at 300 rad/s
/// Validity     flow above kFilterFlow, speed above kToneSpeed; otherwise the last values stand
/// Source       slip flow through fibres (Davies 1953; Kirsch, Stechkina and Fuchs 1973); growth of the tone
///              with unbalance and its tenfold span: ISO 10816 zones, from memory; sizes:
///              controller_parameters.h
/// Left out     the cake's other dependence on density; resonance
#pragma once

#include "controller/estimate/density.hpp"

namespace duskline::controller {

inline constexpr float kFilterFlow = 1e-4f;  // mol/s through the filter
inline constexpr float kToneSpeed =
    150.0f;  // rad/s, where the tone of a new bearing stands clear of its noise

struct HealthMemory {
  float loading;  // 1, 0 before the first estimate
  float wear;     // 1
};

struct Health {
  float filter_loading;
  float bearing_wear;
};

constexpr HealthMemory initial_health() {
  return {1.0f, 0.0f};
}

/// Pressure lost in a clean filter, Pa, at this flow (mol/s) and these surroundings.
constexpr float clean_difference(const ctl_params& p, float flow, float pressure, float temperature) {
  const float root = square_root(temperature * (1.0f / 240.0f));
  const float slip = p.filter_slip + (1.0f - p.filter_slip) * pressure * (1.0f / 700.0f) / root;
  return p.filter_resistance * flow * root / max_of(0.05f, slip);
}

constexpr float wear_of_tone(const ctl_params& p, float tone, float speed) {
  const float share = speed * (1.0f / 300.0f);
  return (tone / (p.bearing_tone * share * share) - 1.0f) * (1.0f / 9.0f);
}

inline Health estimate_health(HealthMemory& m, const ctl_params& p, const Signals& y, const Gas& g,
                              const Density& d) {
  const float leak = p.compressor_leakage * y[in_plenum_pressure] * y[in_plenum_pressure];
  const float through = d.swept - leak - g.recycled * g.feed;
  if (d.swept > 0.0f && through > kFilterFlow && y.has(in_filter_differential_pressure)) {
    const bool station = y.has(in_ambient_temperature) && y.has(in_ambient_pressure);
    const float air = station ? y[in_ambient_temperature] : kUnknownAir;
    const float pressure = d.value * kGasConstant * air / p.air_molar_mass;
    const float ratio = y[in_filter_differential_pressure] / clean_difference(p, through, pressure, air);
    m.loading = low_pass(m.loading, clamp(ratio, 0.0f, 50.0f), p.period, p.health_time);
  }
  const float speed = y[in_compressor_speed];
  if (y.has(in_bearing_vibration) && y.has(in_compressor_speed) && speed > kToneSpeed) {
    const float wear = clamp(wear_of_tone(p, y[in_bearing_vibration], speed), -0.2f, 3.0f);
    m.wear = low_pass(m.wear, wear, p.period, p.health_time);
  }
  return {m.loading, max_of(0.0f, m.wear)};
}

}  // namespace duskline::controller
