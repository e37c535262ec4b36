/// Proportional-integral controller with tracking.
///
/// What it is   PI with set-point weight, feed-forward, back-calculation and bumpless alignment
/// Equation     v = f + K (b r - y) + I; I += h (K/Ti (r - y) + (u - v)/Tt)
/// Symbols      v output, u applied after every later stage, f feed-forward, r set-point, y measurement, K
///              gain, Ti, Tt [s], b [1], h [s]
/// Validity     Ti > 0; Tt is held at h or above, so tracking never overshoots
/// Source       Astrom and Hagglund, PID Controllers (1995); tests/unit/controller/controller_pi_test.cpp
/// Left out     derivative action
#pragma once

#include "controller/math.hpp"

namespace duskline::controller {

struct PiGains {
  float gain;
  float integral_time;
  float tracking_time;
  float weight;  // of the set-point in the proportional part
};

struct Pi {
  float integral;
  float output;
  float error;
};

constexpr float pi_output(Pi& c, const PiGains& g, float setpoint, float measured,
                          float feed_forward = 0.0f) {
  c.error = setpoint - measured;
  c.output = feed_forward + g.gain * (g.weight * setpoint - measured) + c.integral;
  return c.output;
}

/// Without a measurement the loop is open: feed-forward and the integral as it stands.
constexpr float pi_open(Pi& c, float feed_forward) {
  c.error = 0.0f;
  c.output = feed_forward + c.integral;
  return c.output;
}

/// Called once a tick, when it is known what was applied.
constexpr void pi_track(Pi& c, const PiGains& g, float period, float applied) {
  const float tracking = max_of(g.tracking_time, period);
  c.integral += period * (g.gain / g.integral_time * c.error + (applied - c.output) / tracking);
}

/// Sets the integral so that the next output equals the output given: no bump on taking over.
constexpr void pi_align(Pi& c, const PiGains& g, float setpoint, float measured, float feed_forward,
                        float output) {
  c.integral = output - feed_forward - g.gain * (g.weight * setpoint - measured);
  c.error = setpoint - measured;
  c.output = output;
}

}  // namespace duskline::controller
