/// What an instrument says of a quantity: lag, gain and zero errors, drift, noise, steps and span.
/// y = sat(q(LP(x) (1 + g) + b + d t + RW(t) + n)), then the fault of the channel, if it has one.
/// x, y in the channel's SI unit; LP first-order lag (s); g gain error; b bias; d drift (per s); RW random
/// walk (per sqrt(s)); n white noise; q steps of the converter; sat the span. Valid for a truth that changes
/// steadily within a period. Source: the usual error budget of an instrument chain (GUM, JCGM 100:2008).
/// Left out: hysteresis, dead time, error that depends on another quantity, coloured noise.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string_view>
#include <vector>

#include "plant-model/random/noise.hpp"

namespace duskline::plant {

/// One channel as bought and installed. A unit of its own class errors is drawn for each seed: the class is
/// the limit that the maker guarantees, taken as two standard deviations and never exceeded.
/// A class of zero leaves exactly the bias or gain error given.
struct SensorSpec {
  std::string_view name;
  std::string_view unit;
  double lag = 0.0;          ///< s, time constant of the first-order lag
  double noise = 0.0;        ///< unit, standard deviation of one sample
  double bias_class = 0.0;   ///< unit, limit of the zero error that is drawn
  double bias = 0.0;         ///< unit, zero error that is given, added to the one drawn
  double gain_class = 0.0;   ///< 1, limit of the gain error that is drawn
  double gain_error = 0.0;   ///< 1, gain error that is given, added to the one drawn
  double drift_rate = 0.0;   ///< unit/s, steady drift of the zero from the start of the run
  double random_walk = 0.0;  ///< unit/s^0.5, random walk of the zero: sd after time t is random_walk sqrt(t)
  double resolution = 0.0;   ///< unit, step of the converter; 0: none
  double lower = -std::numeric_limits<double>::infinity();  ///< unit, lower end of the span
  double upper = std::numeric_limits<double>::infinity();   ///< unit, upper end of the span
  double dropout = 0.0;  ///< 1, probability that a sample is lost (not a number)
};

enum class SensorFaultMode { none, frozen, bias, drift, open, noise, saturated, gain };

/// What is wrong with a channel. Two channels swapped is a fault of the wiring and is made outside.
struct SensorFault {
  SensorFaultMode mode = SensorFaultMode::none;
  /// bias: unit; drift: unit/s; noise: factor on the sd (10 for ten times); saturated: > 0 upper end,
  /// otherwise lower; gain: share added to the reading (-0.2: a fifth lost); frozen, open: not used.
  double size = 0.0;
};

/// All that a channel remembers. Make it with `make_sensor`; plain data, so a copy is a snapshot.
struct SensorState {
  NoiseStream noise, walk, dropout;
  std::array<double, 4> noise_draws{}, walk_draws{};  ///< the blocks of draws in use
  std::int64_t noise_block = std::numeric_limits<std::int64_t>::min();
  std::int64_t walk_block = std::numeric_limits<std::int64_t>::min();
  double period = 0.0;                         ///< s, for which the next four hold
  double keep = 0.0, before = 0.0, now = 1.0;  ///< weights of the lagged value, the last truth and the truth
  double walk_step = 0.0;                      ///< unit, sd of one step of the random walk
  double bias = 0.0, gain = 1.0;               ///< this unit's own zero error and gain
  double lagged = 0.0, truth = 0.0, walked = 0.0, measured = 0.0;
  bool started = false;
  SensorFault fault{};
  std::int64_t fault_tick = 0;       ///< tick at which the fault set in
  std::int64_t calibrated_tick = 0;  ///< tick from which the steady drift counts
};

/// A channel at rest; its own zero and gain errors are drawn from the streams "sensor/<name>/...".
SensorState make_sensor(const SensorSpec& spec, std::uint64_t seed);

/// The reading at a tick. Ticks are consecutive; the first one starts the lag in balance with the truth.
double sample(const SensorSpec& spec, SensorState& state, double truth, std::int64_t tick, double period);

/// Puts a fault on a channel from this tick on, or takes it off (mode none).
void set_fault(SensorState& state, SensorFault fault, std::int64_t tick);

/// Takes away what the channel has drifted until this tick; its own zero and gain errors, and a fault, stay.
void calibrate(SensorState& state, std::int64_t tick);

/// The instruments of a plant, sampled together.
class SensorBank {
 public:
  SensorBank() = default;
  SensorBank(std::span<const SensorSpec> specs, std::uint64_t seed, double period);

  std::size_t size() const { return specs_.size(); }
  const SensorSpec& spec(std::size_t channel) const { return specs_[channel]; }
  const SensorState& state(std::size_t channel) const { return states_[channel]; }
  /// All that the channels remember, to keep a run and to go on with it.
  std::span<SensorState> states() { return states_; }

  /// Reads every channel; both spans hold size() values in the order of the specs.
  void sample(std::span<const double> truth, std::int64_t tick, std::span<double> measured);

  void set_fault(std::size_t channel, SensorFault fault, std::int64_t tick) {
    plant::set_fault(states_[channel], fault, tick);
  }
  void calibrate(std::int64_t tick) {
    for (SensorState& state : states_) plant::calibrate(state, tick);
  }

 private:
  double period_ = 0.0;
  std::vector<SensorSpec> specs_;
  std::vector<SensorState> states_;
};

}  // namespace duskline::plant
