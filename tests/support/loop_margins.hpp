/// Robustness of a loop from its frequency response.
///
/// What it is   Ms, gain margin, phase margin, crossover and delay margin of L(s) on a fine grid of
///              frequencies
/// Equation     Ms = max |1/(1 + L)|; GM = 1/|L| where arg L = -180 deg; PM = 180 deg + arg L where |L| = 1;
///              delay margin = PM/omega_c
/// Symbols      omega [rad/s]
/// Validity     loops that cross |L| = 1 once; 400 points a decade, crossings interpolated in log omega
/// Source       textbook definitions
/// Left out     loops with several crossovers (the first is taken)
#pragma once

#include <cmath>
#include <complex>
#include <functional>
#include <limits>
#include <numbers>

namespace duskline::test {

struct LoopMargins {
  double sensitivity = 0.0;  // Ms
  double gain = std::numeric_limits<double>::infinity();
  double phase = std::numeric_limits<double>::infinity();  // deg
  double crossover = 0.0;                                  // rad/s
  double delay = std::numeric_limits<double>::infinity();  // s
};

inline LoopMargins loop_margins(const std::function<std::complex<double>(std::complex<double>)>& loop,
                                double lowest = 1e-3, double highest = 1e3) {
  constexpr double kPi = std::numbers::pi;
  LoopMargins m;
  const int points = static_cast<int>(400 * std::log10(highest / lowest));
  double last_phase = 0.0, last_size = 0.0, last_w = 0.0;
  for (int k = 0; k <= points; ++k) {
    const double w = lowest * std::pow(highest / lowest, static_cast<double>(k) / points);
    const std::complex<double> l = loop({0.0, w});
    m.sensitivity = std::max(m.sensitivity, 1.0 / std::abs(1.0 + l));
    const double size = std::abs(l);
    double phase = std::arg(l);
    if (k > 0) {
      phase += 2.0 * kPi * std::round((last_phase - phase) / (2.0 * kPi));
      const double step = std::log(w / last_w);
      if (last_size >= 1.0 && size < 1.0 && m.crossover == 0.0) {
        const double share = std::log(last_size) / std::log(last_size / size);
        m.crossover = last_w * std::exp(share * step);
        m.phase = (kPi + last_phase + share * (phase - last_phase)) * 180.0 / kPi;
        m.delay = m.phase * kPi / 180.0 / m.crossover;
      }
      if (last_phase > -kPi && phase <= -kPi && std::isinf(m.gain)) {
        const double share = (last_phase + kPi) / (last_phase - phase);
        m.gain = 1.0 / std::exp(std::log(last_size) + share * std::log(size / last_size));
      }
    } else if (phase > 0.5 * kPi) {
      phase -= 2.0 * kPi;
    }
    last_phase = phase, last_size = size, last_w = w;
  }
  return m;
}

}  // namespace duskline::test
