/// Relay experiment: a loop made to oscillate by a two-valued input, and what its oscillation tells.
///
/// What it is   relay with hysteresis and unequal steps; first-order model with delay from its limit cycle;
///              PI by SIMC
/// Equation     k from a step before the relay, or sum (y - y0)/sum (u - u0) over whole cycles; q =
///              exp(-theta/tau) = (k d - a)/(k d - e); P = 2 theta + tau (ln((a1 + k d2)/(k d2 - e)) + ln((a2
///              + k d1)/(k d1 - e))); describing function: Ku = 4 d/(pi sqrt(a^2 - e^2)), Pu = P; SIMC: Kc =
///              tau/(2 k theta), Ti = min(tau, 8 theta)
/// Symbols      d1, d2 steps up and down from u0; a1, a2 peaks above and below y0; e hysteresis; P period [s]
/// Validity     exact for a first-order lag with delay; a model for anything else. The sums tell k only where
///              the delay is no small part of the lag (a cycle without a mean tells nothing of it)
/// Source       Astrom and Hagglund, Automatica 20 (1984) 645; limit cycle derived here; Skogestad 2003
///              (SIMC)
/// Left out     higher orders; noise beyond the hysteresis
#pragma once

#include <span>
#include <string>
#include <vector>

namespace duskline::harness {

struct RelayPlan {
  double input{}, output{};               ///< u0 and y0: where the plant rests
  double up{}, down{};                    ///< steps from u0, both above zero
  double hysteresis{};                    ///< of the output
  double static_gain{};                   ///< |k|, where a step has shown it; 0: from the cycles
  double tick{};                          ///< s; an oscillation of fewer than four ticks is no model
  bool falls{};                           ///< the output falls when the input rises
  double lowest{-1e300}, highest{1e300};  ///< of the output: beyond them the experiment is aborted
  double longest{3600.0};                 ///< s
  int cycles{4};                          ///< whole ones, after the first
};

enum class RelayState { working, finished, called_off };

/// The relay at work: step() once a tick.
class Relay {
 public:
  explicit Relay(const RelayPlan& plan);
  /// The input from `time` on, for the output measured then.
  double step(double time, double output);
  RelayState state() const { return state_; }
  const std::string& error() const { return error_; }

  struct Sample {
    double time, input, output;
  };
  std::span<const Sample> samples() const { return samples_; }
  /// Samples at which a cycle begins: the input goes up.
  std::span<const std::size_t> rises() const { return rises_; }
  const RelayPlan& plan() const { return plan_; }

 private:
  RelayPlan plan_;
  RelayState state_ = RelayState::working;
  std::string error_;
  bool high_ = true;
  double start_ = -1.0;
  std::vector<Sample> samples_;
  std::vector<std::size_t> rises_;
};

struct RelayResult {
  bool good = false;
  std::string error;  ///< why there is no model
  double period{}, peak_up{}, peak_down{};
  double spread{};                            ///< of the periods of the cycles used, relative
  double gain{}, lag{}, delay{};              ///< k (with its sign), tau, theta
  double describing_gain{};                   ///< Ku of the describing function, Pu is the period
  double ultimate_gain{}, ultimate_period{};  ///< of the model
  double proportional{}, integral_time{};     ///< PI by SIMC, closed loop as fast as the delay
};

/// What the last `plan().cycles` - 1 whole cycles tell.
RelayResult evaluate(const Relay& relay);

/// Ultimate gain (times |k|) and period of k exp(-theta s)/(tau s + 1).
struct Ultimate {
  double gain, period;
};
Ultimate ultimate_of(double gain, double lag, double delay);

}  // namespace duskline::harness
