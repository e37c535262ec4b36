/// Density of the air at the intake, from the compressor as a flow meter and from the weather station if there is one.
///
/// What it is   Kalman filter of ln rho, its rate and ln of the machine's efficiency; two scalar measurements
/// Equation     ambient: ln(p M/(R T)) = ln rho; machine: ln(swept 2 pi M/(V omega)) = ln rho + ln eta + ln
///              c, swept = feed + d(p V/RT)/dt + leak p^2, c = eta_0 (1 - dp/p)/(1 + s (T_shell/T - 1))
/// Symbols      rho [kg/m3]; eta [1] efficiency over that of a new machine; swept [mol/s] with the recycled
///              part; dp [Pa] of the filter; s [1] heating of the gas on its way in; T_shell [K]
/// Validity     machine: above kTrustedSpeed with flow; ambient: pressure and temperature both present.
///              Without either the rate dies out and the deviation grows; without the station eta is held by
///              its prior
/// Source       mole balance of the plenum; ideal gas; noise: closed-loop runs (docs/models/estimation.md)
/// Left out     composition of the recycled part (a swept volume counts moles); gusts shorter than the lags
#pragma once

#include "controller/estimate/composition.hpp"
#include "controller/estimate/kalman.hpp"

namespace duskline::controller {

inline constexpr float kLeastDensity = 1e-3f;  // kg/m3, below any weather: keeps the feed-forward finite
inline constexpr float kMostDensity = 0.1f;    // kg/m3
inline constexpr float kTrustedSpeed = 60.0f;  // rad/s, below this the machine is no flow meter
inline constexpr float kRateMemory = 7200.0f;  // s, of a rate of change that nothing confirms
inline constexpr float kStationLag =
    20.0f;  // s, of its thermometer: readings closer together are not independent
inline constexpr float kUnknownAir = 215.0f;  // K, mean air temperature where none is measured
inline constexpr float kLeastEfficiency = -1.6f, kMostEfficiency = 0.3f;  // of its logarithm
inline constexpr float kMostRate = 1e-2f;                                 // 1/s
inline constexpr float kDensityStart[3] = {-4.075f, 0.0f, 0.0f};          // 0.017 kg/m3, mean of the year
inline constexpr float kDensityDoubt[3] = {0.06f, 4e-9f, 0.01f};  // variances at the start, and their bounds

struct DensityMemory {
  Kalman<3> filter;     // ln(kg/m3), 1/s, ln(1)
  float gas_held;       // mol in the plenum at the last tick, 0 before the first
  float since_station;  // s since the station was asked
  uint32_t started;
};

struct Density {
  float value;       // kg/m3
  float rate;        // kg/m3/s
  float sigma;       // kg/m3
  float efficiency;  // 1
  float efficiency_sigma;
  float swept;  // mol/s through the machine, leak included; 0 when not known
  Innovation ambient, machine;
};

constexpr DensityMemory initial_density() {
  return {kalman_at(kDensityStart, kDensityDoubt), 0.0f, kStationLag, 0};
}

/// After a loss of power: what was learnt of the machine counts, the weather has gone on.
constexpr DensityMemory restore(const DensityMemory& before) {
  DensityMemory m = initial_density();
  m.filter.x[2] = clamp(before.filter.x[2], kLeastEfficiency, kMostEfficiency);
  m.filter.p[2][2] = clamp(before.filter.p[2][2], 1e-8f, kDensityDoubt[2]);
  return m;
}

inline float intake_density(const ctl_params& p, const Signals& y) {
  return max_of(kLeastDensity,
                y[in_ambient_pressure] * p.air_molar_mass / (kGasConstant * y[in_ambient_temperature]));
}

/// Feed flow per speed at this density, kg/s per rad/s.
constexpr float flow_per_speed(const ctl_params& p, float density) {
  return density * p.compressor_displacement * p.volumetric_efficiency * (1.0f / 6.28318531f);
}

/// What the machine shows of ln rho + ln eta.
struct MachineReading {
  float value, noise;  // 1, variance
  float swept;         // mol/s
  bool valid;
};

inline MachineReading read_machine(DensityMemory& m, const ctl_params& p, const Signals& y, const Gas& g) {
  const bool plenum = y.has(in_plenum_pressure) && y.has(in_plenum_temperature);
  const float per_pascal = p.plenum_volume / (kGasConstant * y[in_plenum_temperature]);
  const float held = y[in_plenum_pressure] * per_pascal;
  const float gained = m.gas_held > 0.0f && plenum ? (held - m.gas_held) / p.period : 0.0f;
  const bool twice = plenum && m.gas_held > 0.0f;
  m.gas_held = plenum ? held : 0.0f;

  MachineReading r{};
  const float speed = y[in_compressor_speed], feed = y[in_feed_flow] / g.molar_mass;
  const float leak = p.compressor_leakage * y[in_plenum_pressure] * y[in_plenum_pressure];
  r.swept = feed + gained + leak;
  r.valid = twice && y.has(in_compressor_speed) && y.has(in_feed_flow) && speed > kTrustedSpeed &&
            y[in_feed_flow] > p.flow_min && r.swept > 0.3f * feed && feed > 0.0f;
  if (!r.valid) return {0.0f, 0.0f, 0.0f, false};

  const bool station = y.has(in_ambient_temperature) && y.has(in_ambient_pressure);
  const float air = station ? y[in_ambient_temperature] : kUnknownAir;
  const float pressure = station ? max_of(50.0f, y[in_ambient_pressure])
                                 : exponential(m.filter.x[0]) * kGasConstant * air / p.air_molar_mass;
  const float lost = y.has(in_filter_differential_pressure)
                         ? clamp(y[in_filter_differential_pressure] / pressure, 0.0f, 0.5f)
                         : 0.0f;
  const float shell = y.has(in_compressor_temperature) ? y[in_compressor_temperature] : air;
  const float heated = clamp(1.0f + p.suction_heating * (shell / air - 1.0f), 0.8f, 1.3f);
  const float volume = speed * p.compressor_displacement * (1.0f / 6.28318531f);  // m3/s
  r.value = logarithm(r.swept * p.air_molar_mass * heated / (volume * p.compressor_swept * (1.0f - lost)));
  const float scatter = 1.41421356f * p.plenum_noise * per_pascal / (p.period * r.swept);
  r.noise = p.machine_noise * p.machine_noise + scatter * scatter;
  return r;
}

inline Density estimate_density(DensityMemory& m, const ctl_params& p, const Signals& y, const Gas& g) {
  Kalman<3>& f = m.filter;
  const bool station = y.has(in_ambient_pressure) && y.has(in_ambient_temperature);
  if (m.started == 0 && station) {
    f.x[0] = logarithm(intake_density(p, y));
    f.p[0][0] = 1e-4f;
  }
  m.started = 1;

  predict_rate(f, 0, 1, p.period, max_of(0.0f, 1.0f - p.period / kRateMemory));
  f.p[0][0] += p.density_process_noise * p.density_process_noise * (p.period / 60.0f);
  f.p[1][1] += p.density_rate_process_noise * p.density_rate_process_noise * (p.period / 3600.0f);
  f.p[2][2] += p.efficiency_process_noise * p.efficiency_process_noise * (p.period / 3600.0f);
  bound(f, kDensityDoubt);

  Density d{};
  m.since_station = min_of(m.since_station + p.period, kStationLag);
  if (station && m.since_station >= kStationLag) {
    m.since_station = 0.0f;
    const float h[3] = {1.0f, 0.0f, 0.0f};
    const float residual = logarithm(intake_density(p, y)) - f.x[0];
    d.ambient = update(f, h, residual, p.ambient_noise * p.ambient_noise, kDensityDoubt);
  }
  const MachineReading r = read_machine(m, p, y, g);
  d.swept = r.swept;
  if (r.valid) {
    const float h[3] = {1.0f, 0.0f, 1.0f};
    d.machine = update(f, h, r.value - f.x[0] - f.x[2], r.noise, kDensityDoubt);
  }
  f.x[0] = clamp(f.x[0], logarithm(kLeastDensity), logarithm(kMostDensity));
  f.x[1] = clamp(f.x[1], -kMostRate, kMostRate);
  f.x[2] = clamp(f.x[2], kLeastEfficiency, kMostEfficiency);

  d.value = exponential(f.x[0]);
  d.rate = d.value * f.x[1];
  d.sigma = d.value * square_root(f.p[0][0] + 0.25f * p.ambient_class * p.ambient_class);
  d.efficiency = exponential(f.x[2]);
  d.efficiency_sigma = d.efficiency * square_root(f.p[2][2]);
  return d;
}

}  // namespace duskline::controller
