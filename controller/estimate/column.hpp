/// One cell along its flow, at the voltage that is measured: what current that voltage should drive, and what of it
/// flows at the outlet.
///
/// What it is   the local current density at three places of the charge already passed (Radau points, the
///              last one is the outlet), two Newton steps each; integrals of it and their slopes
/// Equation     V = E + RT/2F ln(u/w sqrt(p_O2)) + RT/F (asinh(i/2i_c) + asinh(i/2i_a)) + i r, u = x_in + s m
///              + i d, w = c - u; A = integral of ds/i from 0 to I; nu = (A - integral)/(slope)
/// Symbols      s [A] charge passed per second, m [1/A] = e/(2F n_cell), d [m2/A] diffusion and mixing, i
///              [A/m2], r [ohm m2], A [m2], nu [V] measured less expected voltage of the cell
/// Validity     900-1250 K; densities held between -20 and 20 kA/m2; integral only while all three are
///              positive
/// Source       cell: electrochemistry of the textbooks as in thermochemistry.hpp; Radau quadrature; mixing:
///              a channel as six mixed parts is an estimate
/// Left out     temperature along the flow; electronic leak beyond the Faraday efficiency
#pragma once

#include "controller/estimate/thermochemistry.hpp"
#include "controller/include/controller.h"

namespace duskline::controller {

inline constexpr uint32_t kPlaces = 3;
inline constexpr float kPlace[kPlaces] = {0.15505103f, 0.64494897f, 1.0f};
inline constexpr float kPlaceWeight[kPlaces] = {0.37640306f, 0.51248583f, 0.11111111f};
inline constexpr float kStart[kPlaces] = {1.55f, 0.95f, 0.65f};  // densities over the mean, near enough
inline constexpr float kLeastMean = 5.0f;      // A/m2, below this there is no column to speak of
inline constexpr float kShareAtOutlet = 0.5f;  // of the mean density, where the voltage does not tell
inline constexpr float kFarOff = 3.0f;         // of the current over what the voltage drives
inline constexpr float kMostLocal = 2e4f;      // A/m2

/// What temperature and the gas on both sides make of a cell.
struct CellChemistry {
  float half_thermal;  // V, RT/2F
  float reduction;     // V, E of CO2 -> CO + 1/2 O2 with the anode's oxygen
  float carbon;        // V, E of CO -> C + 1/2 O2 with it and the cathode pressure
  float resistance;    // ohm m2
  float cathode;       // A/m2, exchange at w p = 0.5 bar
  float anode;         // A/m2
  float diffusion;     // m2/A
  float pressure;      // bar
};

/// The gas that a cell sees.
struct CellGas {
  float inlet_co;  // mole fraction
  float carbon;    // mole fraction of CO + CO2
  float made;      // mole fraction of CO that this cell makes along its flow
};

constexpr CellChemistry cell_chemistry(const ctl_params& p, float temperature, float cathode_pressure,
                                       float oxygen_pressure) {
  CellChemistry c{};
  const float t = fitted_temperature(temperature), oxygen = oxygen_pressure / kBar;
  const float log_oxygen = logarithm(oxygen);
  c.half_thermal = half_thermal_voltage(t);
  c.pressure = cathode_pressure / kBar;
  c.reduction = reduction_potential(t) + c.half_thermal * 0.5f * log_oxygen;
  c.carbon = carbon_potential(t) + c.half_thermal * (0.5f * log_oxygen - logarithm(c.pressure));
  c.resistance = p.electrolyte_resistance * (t / kReferenceTemperature) * arrhenius(p.electrolyte_energy, t) +
                 p.contact_resistance;
  c.cathode = p.cathode_exchange / arrhenius(p.cathode_energy, t);
  c.anode = p.anode_exchange * exponential(0.2f * log_oxygen) / arrhenius(p.anode_energy, t);
  c.diffusion = p.electrode_diffusion;
  return c;
}

/// exp(F eta/RT) of a transfer with q = i/2i0, without cancellation.
constexpr float transfer(float q, float root) {
  return q < 0.0f ? 1.0f / (root - q) : root + q;
}

/// Local polarisation: voltage and its slopes.
struct Local {
  float voltage;
  float by_density;     // ohm m2, total: with the change of u by diffusion and mixing
  float by_conversion;  // V, dV/du with dw = -du
  float outside;        // V, of the voltage that falls outside the cathode
  float by_outside;     // ohm m2
};

constexpr Local polarise(const CellChemistry& c, float added, float share, float i, float u0, float carbon,
                         float mixing) {
  const float u = clamp(u0 + i * mixing, 1e-5f, carbon - 1e-5f), w = carbon - u;
  const float exchange = 2.0f * c.cathode * square_root(square_root(2.0f * w * c.pressure));
  const float qc = i / exchange, qa = i / (2.0f * c.anode);
  const float rc = square_root(1.0f + qc * qc), ra = square_root(1.0f + qa * qa);
  const float fc = transfer(qc, rc), fa = transfer(qa, ra), twice = 2.0f * c.half_thermal;
  Local l{};
  const float anode = twice * logarithm(fa), r = c.resistance + added;
  l.voltage = c.reduction + c.half_thermal * logarithm(u / w * (fc * fc)) + anode + i * r;
  l.by_conversion = c.half_thermal * (1.0f / u + 1.0f / w) + 0.5f * c.half_thermal * qc / (rc * w);
  const float slope = twice / (2.0f * c.anode * ra);
  l.by_density = twice / (exchange * rc) + slope + r + l.by_conversion * mixing;
  l.outside = anode + i * (c.resistance + share * added);
  l.by_outside = slope + c.resistance + share * added;
  return l;
}

/// One Newton step towards the density that `voltage` drives; the step is held within the span of the composition.
constexpr float newton(float i, const Local& l, float voltage) {
  return clamp(i + (voltage - l.voltage) / l.by_density, -kMostLocal, kMostLocal);
}

struct Column {
  float density[kPlaces];  // A/m2; the last is that of the outlet
  float innovation;        // V, measured less expected voltage
  float mean_density;      // A/m2, dV/d(added resistance) of the whole cell
  float by_share;          // V, dV/d(ln of its share of the flow)
  float onset;             // V, coke-onset voltage at the outlet
  float onset_by_voltage;  // 1
  float onset_by_share;    // V, at the voltage measured
  float onset_by_added;    // A/m2, likewise
  bool identified;         // innovation and its slopes are valid
};

/// Onset at the outlet and its slopes, with density i there; returns what `polarise` says of it.
constexpr Local onset_at(Column& out, const ctl_params& p, const CellChemistry& c, const CellGas& gas,
                         float added, float i) {
  const float u0 = gas.inlet_co + gas.made;
  const float u = clamp(u0 + i * c.diffusion, 1e-5f, gas.carbon - 1e-5f);
  const Local at = polarise(c, added, p.resistance_share, i, u0, gas.carbon, c.diffusion);
  out.onset = c.carbon - c.half_thermal * logarithm(u) + at.outside;
  out.onset_by_voltage = (at.by_outside - c.half_thermal / u * c.diffusion) / at.by_density;
  // a larger share: less made; the density answers at the same voltage
  out.onset_by_share = (c.half_thermal / u + out.onset_by_voltage * at.by_conversion) * gas.made;
  out.onset_by_added = (p.resistance_share - out.onset_by_voltage) * i;
  return at;
}

/// `current` in A, `voltage` as measured.
constexpr Column solve_column(const ctl_params& p, const CellChemistry& c, const CellGas& gas, float added,
                              float current, float voltage) {
  Column out{};
  float integral = 0.0f, slope = 0.0f, weighted = 0.0f, shared = 0.0f;
  const float mean = clamp(current / p.cell_area, 0.0f, kMostLocal);
  out.identified = mean > kLeastMean;
  for (uint32_t k = 0; k < kPlaces; ++k) {
    const bool outlet = k + 1 == kPlaces;
    const float u0 = gas.inlet_co + kPlace[k] * gas.made;
    // along the flow mixing adds to the product; at the outlet all of it is there already
    const float mixed = outlet || !out.identified ? 0.0f : gas.made / mean * p.channel_mixing;
    float i = kStart[k] * mean;
    for (int step = 0; step < 2; ++step)
      i = newton(i, polarise(c, added, p.resistance_share, i, u0, gas.carbon, c.diffusion + mixed), voltage);
    out.density[k] = i;
    const Local l = outlet ? onset_at(out, p, c, gas, added, i)
                           : polarise(c, added, p.resistance_share, i, u0, gas.carbon, c.diffusion + mixed);
    if (!(i > 1.0f)) {
      out.identified = false;
      continue;
    }
    const float weight = kPlaceWeight[k] / (i * i * l.by_density);
    integral += kPlaceWeight[k] / i;
    slope += weight;
    weighted += weight * i;
    shared -= weight * l.by_conversion * (kPlace[k] * gas.made + i * mixed);
  }
  if (mean > kLeastMean && (!out.identified || integral * mean > kFarOff)) {
    // a voltage that drives next to nothing does not fit the current: then what flows counts
    out.identified = false;
    out.density[kPlaces - 1] = kShareAtOutlet * mean;
    onset_at(out, p, c, gas, added, kShareAtOutlet * mean);
  }
  if (out.identified) {
    out.innovation = clamp((1.0f / mean - integral) / slope, -3.0f, 3.0f);
    out.mean_density = weighted / slope;
    out.by_share = shared / slope;
  }
  return out;
}

}  // namespace duskline::controller
