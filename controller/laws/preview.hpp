/// What the density of the air will do next.
///
/// What it is   the measured rate, corrected by what the rate did at the same local time of the last sol
/// Equation     rate(t + h) = rate(t) + (last sol's slope at t + h - last sol's slope at t)
/// Symbols      density [kg/m3], rate [kg m-3 s-1], local time [1] as a share of the sol, 0 at midnight
/// Validity     any input; without a local time, or before a whole sol is known, the measured rate stands
///              alone; the rate is bounded to a share of the density per second beyond any dawn
/// Left out     weather that differs from sol to sol (the measured rate brings it, late)
#pragma once

#include "controller/estimate/filters.hpp"
#include "controller/include/controller.h"
#include "controller/math.hpp"

namespace duskline::controller {

inline constexpr uint32_t kSolBins = 24;
inline constexpr float kSol = 88775.244f;        // s
inline constexpr float kFastestDensity = 2e-4f;  // 1/s; dawn and dusk bring 5e-5

struct PreviewMemory {
  float density[kSolBins];  // kg/m3, mean of each bin of the sol when it was last passed; 0 never passed
  float sum;                // of the bin that is being passed
  float count;
  uint32_t bin;
  float rate;  // kg m-3 s-1, expected
};

/// Slope of the last sol at this local time, between its slopes at the edges of the bins; 0 where a bin was never
/// passed.
constexpr float slope_of_sol(const PreviewMemory& m, float local_time) {
  const float x = local_time * static_cast<float>(kSolBins);
  const uint32_t bin = truncate(x) % kSolBins;
  const float before = m.density[(bin + kSolBins - 1) % kSolBins], here = m.density[bin],
              after = m.density[(bin + 1) % kSolBins];
  if (!(before > 0.0f && here > 0.0f && after > 0.0f)) return 0.0f;
  const float share = clamp(x - static_cast<float>(bin), 0.0f, 1.0f);
  return (here - before + share * (after - here - here + before)) * (static_cast<float>(kSolBins) / kSol);
}

/// One tick; the expected rate `lead` seconds ahead.
inline float preview(PreviewMemory& m, const ctl_params& p, float density, float measured_rate,
                     float local_time) {
  m.rate = is_finite(measured_rate) ? measured_rate : 0.0f;
  if (is_finite(local_time) && local_time >= 0.0f && local_time < 1.0f) {
    const uint32_t bin = truncate(local_time * static_cast<float>(kSolBins)) % kSolBins;
    if (bin != m.bin) {
      if (m.count > 0.0f && m.bin < kSolBins) m.density[m.bin] = m.sum / m.count;
      m.bin = bin;
      m.sum = m.count = 0.0f;
    }
    m.sum += density;
    m.count += 1.0f;
    const float ahead = local_time + p.preview_lead / kSol;
    m.rate += slope_of_sol(m, ahead < 1.0f ? ahead : ahead - 1.0f) - slope_of_sol(m, local_time);
  }
  m.rate = clamp(m.rate, -kFastestDensity * density, kFastestDensity * density);
  return m.rate;
}

}  // namespace duskline::controller
