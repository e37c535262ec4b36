#include "plant-model/instruments/sensor.hpp"

#include <algorithm>
#include <cmath>
#include <string>

namespace duskline::plant {
namespace {

/// Nearest whole number, halves to even, for |x| < 2^51: adding 1.5 x 2^52 leaves no room for a fraction.
double nearest(double x) {
  constexpr double kShift = 0x1.8p52;
  return (x + kShift) - kShift;
}

/// Converter and span. Rounding comes first, so that a span of a broken number of steps is never left.
double convert(const SensorSpec& spec, double value) {
  if (spec.resolution > 0.0) value = spec.resolution * nearest(value / spec.resolution);
  return std::min(std::max(value, spec.lower), spec.upper);
}

/// A draw within [-limit, limit]: normal with sd = limit / 2, cut off at two standard deviations.
double draw_within(double limit, const NoiseStream& stream) {
  constexpr double kBelow = 0.022750131948179209;  // normal probability below -2
  return 0.5 * limit * inverse_normal(kBelow + (1.0 - 2.0 * kBelow) * stream.uniform(0));
}

/// Weights of the lag, exact for a truth that is a straight line between two samples.
void set_period(const SensorSpec& spec, SensorState& state, double period) {
  state.period = period;
  state.walk_step = spec.random_walk * std::sqrt(4.0 * period);
  if (spec.lag <= 0.0) {
    state.keep = 0.0, state.before = 0.0, state.now = 1.0;
    return;
  }
  const double decay = -std::expm1(-period / spec.lag);
  const double share = decay * spec.lag / period;
  state.keep = 1.0 - decay;
  state.before = share - state.keep;
  state.now = 1.0 - share;
}

/// The random walk takes one step a block of four ticks.
void step_walk(SensorState& state) {
  const std::int64_t block = state.noise_block >> 2;
  if (block != state.walk_block) {
    state.walk_block = block;
    state.walk_draws = state.walk.normals(block);
  }
  state.walked += state.walk_step * state.walk_draws[static_cast<std::size_t>(state.noise_block & 3)];
}

double faulty(const SensorSpec& spec, const SensorState& state, double reading, double draw,
              std::int64_t tick) {
  const double size = state.fault.size;
  switch (state.fault.mode) {
    case SensorFaultMode::none:
      return reading;
    case SensorFaultMode::frozen:
      return state.measured;
    case SensorFaultMode::bias:
      return convert(spec, reading + size);
    case SensorFaultMode::drift:
      return convert(spec, reading + size * state.period * static_cast<double>(tick - state.fault_tick));
    case SensorFaultMode::open:
      return std::numeric_limits<double>::quiet_NaN();
    case SensorFaultMode::noise:
      return convert(spec, reading + (size - 1.0) * spec.noise * draw);
    case SensorFaultMode::saturated:
      return size > 0.0 ? spec.upper : spec.lower;
    case SensorFaultMode::gain:
      return convert(spec, reading * (1.0 + size));
  }
  return reading;
}

}  // namespace

SensorState make_sensor(const SensorSpec& spec, std::uint64_t seed) {
  const std::string stream = "sensor/" + std::string(spec.name);
  SensorState state;
  state.noise = NoiseStream(seed, stream + "/noise");
  state.walk = NoiseStream(seed, stream + "/walk");
  state.dropout = NoiseStream(seed, stream + "/dropout");
  state.bias = spec.bias + draw_within(spec.bias_class, NoiseStream(seed, stream + "/bias"));
  state.gain = 1.0 + spec.gain_error + draw_within(spec.gain_class, NoiseStream(seed, stream + "/gain"));
  return state;
}

double sample(const SensorSpec& spec, SensorState& state, double truth, std::int64_t tick, double period) {
  if (period != state.period) set_period(spec, state, period);
  if (!state.started) {
    state.started = true;
    state.lagged = state.truth = truth;
  }
  if ((tick >> 2) != state.noise_block) {
    state.noise_block = tick >> 2;
    state.noise_draws = state.noise.normals(state.noise_block);
    if (state.walk_step > 0.0) step_walk(state);
  }
  const double draw = state.noise_draws[static_cast<std::size_t>(tick & 3)];

  state.lagged = state.keep * state.lagged + state.before * state.truth + state.now * truth;
  state.truth = truth;
  const double time = static_cast<double>(tick - state.calibrated_tick) * period;
  const double signal =
      state.lagged * state.gain + state.bias + spec.drift_rate * time + state.walked + spec.noise * draw;

  double reading = convert(spec, signal);
  if (state.fault.mode != SensorFaultMode::none) reading = faulty(spec, state, reading, draw, tick);
  state.measured = reading;
  if (spec.dropout > 0.0 && state.dropout.uniform(tick) < spec.dropout)
    return std::numeric_limits<double>::quiet_NaN();
  return reading;
}

void set_fault(SensorState& state, SensorFault fault, std::int64_t tick) {
  state.fault = fault;
  state.fault_tick = tick;
}

void calibrate(SensorState& state, std::int64_t tick) {
  state.walked = 0.0;
  state.calibrated_tick = tick;
}

SensorBank::SensorBank(std::span<const SensorSpec> specs, std::uint64_t seed, double period)
    : period_(period), specs_(specs.begin(), specs.end()) {
  states_.reserve(specs_.size());
  for (const SensorSpec& spec : specs_) states_.push_back(make_sensor(spec, seed));
}

void SensorBank::sample(std::span<const double> truth, std::int64_t tick, std::span<double> measured) {
  for (std::size_t i = 0; i < specs_.size(); ++i)
    measured[i] = plant::sample(specs_[i], states_[i], truth[i], tick, period_);
}

}  // namespace duskline::plant
