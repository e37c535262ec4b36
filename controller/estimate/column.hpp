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
///
/// Cells lie side by side in plain arrays and every loop does the same to each of them, without a branch, so that a
/// compiler may work on several at once: each cell sees the same operations in the same order either way, and the
/// bits are the same.
#pragma once

#include "controller/estimate/thermochemistry.hpp"
#include "controller/include/controller.h"

namespace duskline::controller {

inline constexpr uint32_t kPlaces = 3;  // solve_columns names each
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

/// What is identified of the constants of all cells (constants.hpp): as the parameters have them at rest.
struct CellConstants {
  float cathode = 1.0f;    // 1, exchange current over the parameter's
  float anode = 1.0f;      // 1
  float diffusion = 0.0f;  // m2/A, beyond the parameter's
};

DUSKLINE_INLINE constexpr CellChemistry with_constants(CellChemistry c, const CellConstants& k) {
  c.cathode *= k.cathode;
  c.anode *= k.anode;
  c.diffusion = max_of(0.0f, c.diffusion + k.diffusion);
  return c;
}

/// What of the chemistry is the same for all cells.
struct GasChemistry {
  float pressure;      // bar
  float log_pressure;  // 1
  float log_oxygen;    // 1, of the pressure of oxygen at the anode in bar
  float by_oxygen;     // 1, of the exchange current of the anode
};

constexpr GasChemistry gas_chemistry(float cathode_pressure, float oxygen_pressure) {
  const float log_oxygen = logarithm(oxygen_pressure / kBar);
  return {cathode_pressure / kBar, logarithm(cathode_pressure / kBar), log_oxygen,
          exponential(0.2f * log_oxygen)};
}

DUSKLINE_INLINE constexpr CellChemistry cell_chemistry(const ctl_params& p, const GasChemistry& g,
                                                       float temperature) {
  const float t = fitted_temperature(temperature), half_thermal = half_thermal_voltage(t);
  return {half_thermal,
          reduction_potential(t) + half_thermal * 0.5f * g.log_oxygen,
          carbon_potential(t) + half_thermal * (0.5f * g.log_oxygen - g.log_pressure),
          p.electrolyte_resistance * (t / kReferenceTemperature) * arrhenius(p.electrolyte_energy, t) +
              p.contact_resistance,
          p.cathode_exchange / arrhenius(p.cathode_energy, t),
          p.anode_exchange * g.by_oxygen / arrhenius(p.anode_energy, t),
          p.electrode_diffusion,
          g.pressure};
}

constexpr CellChemistry cell_chemistry(const ctl_params& p, float temperature, float cathode_pressure,
                                       float oxygen_pressure) {
  return cell_chemistry(p, gas_chemistry(cathode_pressure, oxygen_pressure), temperature);
}

/// exp(F eta/RT) of a transfer with q = i/2i0, without cancellation.
DUSKLINE_INLINE constexpr float transfer(float q, float root) {
  const float forward = root + abs_of(q);
  const float backward = 1.0f / forward;
  return q < 0.0f ? backward : forward;
}

/// Local polarisation: voltage and its slopes.
struct Local {
  float voltage;
  float by_density;     // ohm m2, total: with the change of u by diffusion and mixing
  float by_conversion;  // V, dV/du with dw = -du
  float outside;        // V, of the voltage that falls outside the cathode
  float by_outside;     // ohm m2
  float by_cathode;     // V, dV/dln of the exchange current of the cathode
  float by_anode;       // V, likewise
  float by_diffusion;   // A/m2, dV/d(diffusion)
};

DUSKLINE_INLINE constexpr Local polarise(const CellChemistry& c, float added, float share, float i, float u0,
                                         float carbon, float mixing) {
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
  l.by_cathode = -twice * qc / rc;
  l.by_anode = -twice * qa / ra;
  l.by_diffusion = l.by_conversion * i;
  return l;
}

/// One Newton step towards the density that `voltage` drives; the step is held within the span of the composition.
DUSKLINE_INLINE constexpr float newton(float i, const Local& l, float voltage) {
  return clamp(i + (voltage - l.voltage) / l.by_density, -kMostLocal, kMostLocal);
}

/// The constants that all cells share, in the order of their slopes: ln, ln, m2/A.
enum Constant : uint32_t { constant_cathode, constant_anode, constant_diffusion, kConstants };

struct Column {
  float density;           // A/m2, at the outlet
  float innovation;        // V, measured less expected voltage
  float mean_density;      // A/m2, dV/d(added resistance) of the whole cell
  float by_share;          // V, dV/d(ln of its share of the flow)
  float onset;             // V, coke-onset voltage at the outlet
  float onset_by_voltage;  // 1
  float onset_by_share;    // V, at the voltage measured
  float onset_by_added;    // A/m2, likewise
  float by_constant[kConstants], onset_by_constant[kConstants];  // by each of Constant; the onset likewise
  bool identified;                                               // innovation and its slopes are valid
};

/// Cells side by side: what is known of them.
template <uint32_t N>
struct CellArrays {
  float half_thermal[N], reduction[N], carbon_potential[N], resistance[N], cathode[N], anode[N];
  float made[N], added[N], voltage[N];
  float diffusion, pressure, inlet_co, carbon;  // the same for all

  void place(uint32_t k, const CellChemistry& c, const CellGas& gas, float added_resistance, float measured) {
    half_thermal[k] = c.half_thermal;
    reduction[k] = c.reduction;
    carbon_potential[k] = c.carbon;
    resistance[k] = c.resistance;
    cathode[k] = c.cathode;
    anode[k] = c.anode;
    diffusion = c.diffusion;
    pressure = c.pressure;
    inlet_co = gas.inlet_co;
    carbon = gas.carbon;
    made[k] = gas.made;
    added[k] = added_resistance;
    voltage[k] = measured;
  }
  DUSKLINE_INLINE CellChemistry chemistry(uint32_t k) const {
    return {half_thermal[k], reduction[k], carbon_potential[k], resistance[k],
            cathode[k],      anode[k],     diffusion,           pressure};
  }
};

/// Cells side by side: what their columns say; fields as in Column.
template <uint32_t N>
struct Columns {
  float density[N], innovation[N], mean_density[N], by_share[N];
  float onset[N], onset_by_voltage[N], onset_by_share[N], onset_by_added[N];
  float by_constant[kConstants][N], onset_by_constant[kConstants][N];
  uint32_t identified[N];

  Column operator[](uint32_t k) const {
    Column c{density[k],          innovation[k],     mean_density[k],   by_share[k], onset[k],
             onset_by_voltage[k], onset_by_share[k], onset_by_added[k], {},          {},
             identified[k] != 0};
    for (uint32_t j = 0; j < kConstants; ++j) {
      c.by_constant[j] = by_constant[j][k];
      c.onset_by_constant[j] = onset_by_constant[j][k];
    }
    return c;
  }
};

/// Onset at the outlet and its slopes, with density i there, of which `at` is the polarisation.
template <uint32_t N>
DUSKLINE_INLINE void put_onset(Columns<N>& out, uint32_t k, const CellChemistry& c, const CellGas& gas,
                               float share, const Local& at, float i) {
  const float u = clamp(gas.inlet_co + gas.made + i * c.diffusion, 1e-5f, gas.carbon - 1e-5f);
  const float by_voltage = (at.by_outside - c.half_thermal / u * c.diffusion) / at.by_density;
  out.density[k] = i;
  out.onset[k] = c.carbon - c.half_thermal * logarithm(u) + at.outside;
  out.onset_by_voltage[k] = by_voltage;
  // a larger share: less made; the density answers at the same voltage
  out.onset_by_share[k] = (c.half_thermal / u + by_voltage * at.by_conversion) * gas.made;
  out.onset_by_added[k] = (share - by_voltage) * i;
  out.onset_by_constant[constant_cathode][k] = -by_voltage * at.by_cathode;
  out.onset_by_constant[constant_anode][k] = (1.0f - by_voltage) * at.by_anode;
  out.onset_by_constant[constant_diffusion][k] = -c.half_thermal / u * i - by_voltage * at.by_diffusion;
}

/// Sums over the places of a column.
template <uint32_t N>
struct ColumnSums {
  float integral[N], slope[N], weighted[N], shared[N], constant[kConstants][N];
};

/// One place along the flow, of all cells.
template <uint32_t place, uint32_t N>
inline void solve_place(Columns<N>& out, ColumnSums<N>& sums, const ctl_params& p, const CellArrays<N>& in,
                        float mean) {
  constexpr bool outlet = place + 1 == kPlaces;
  const float share = p.resistance_share, carbon = in.carbon, inlet_co = in.inlet_co;
  const float start = kStart[place] * mean, mean_flowing = max_of(mean, kLeastMean),
              mixing = p.channel_mixing;
  for (uint32_t k = 0; k < N; ++k) {
    const CellChemistry c = in.chemistry(k);
    const float added = in.added[k], voltage = in.voltage[k], made = in.made[k];
    const float u0 = inlet_co + kPlace[place] * made;
    // along the flow mixing adds to the product; at the outlet all of it is there already
    const float mixes = made / mean_flowing * mixing;
    const float mixed = !outlet && out.identified[k] != 0 ? mixes : 0.0f, spread = c.diffusion + mixed;
    float i = newton(start, polarise(c, added, share, start, u0, carbon, spread), voltage);
    i = newton(i, polarise(c, added, share, i, u0, carbon, spread), voltage);
    const Local l = polarise(c, added, share, i, u0, carbon, spread);
    const float forward = i > 1.0f ? i : 1.0f;
    const float weight = kPlaceWeight[place] / (forward * forward * l.by_density);
    out.identified[k] = i > 1.0f ? out.identified[k] : 0u;
    sums.integral[k] += kPlaceWeight[place] / forward;
    sums.slope[k] += weight;
    sums.weighted[k] += weight * forward;
    sums.shared[k] -= weight * l.by_conversion * (kPlace[place] * made + i * mixed);
    sums.constant[constant_cathode][k] += weight * l.by_cathode;
    sums.constant[constant_anode][k] += weight * l.by_anode;
    sums.constant[constant_diffusion][k] += weight * l.by_diffusion;
    if constexpr (outlet) put_onset(out, k, c, {inlet_co, carbon, made}, share, l, i);
  }
}

/// `current` in A, voltages as measured.
template <uint32_t N>
inline void solve_columns(Columns<N>& out, const ctl_params& p, const CellArrays<N>& in, float current) {
  const float mean = clamp(current / p.cell_area, 0.0f, kMostLocal);
  const bool flows = mean > kLeastMean;
  ColumnSums<N> sums{};
  for (uint32_t k = 0; k < N; ++k) out.identified[k] = flows ? 1u : 0u;
  solve_place<0>(out, sums, p, in, mean);
  solve_place<1>(out, sums, p, in, mean);
  solve_place<2>(out, sums, p, in, mean);
  for (uint32_t k = 0; k < N; ++k) {
    // a voltage that drives next to nothing does not fit the current: then what flows counts
    if (!flows || (out.identified[k] != 0 && !(sums.integral[k] * mean > kFarOff))) continue;
    const CellChemistry c = in.chemistry(k);
    const float i = kShareAtOutlet * mean;
    out.identified[k] = 0;
    put_onset(
        out, k, c, {in.inlet_co, in.carbon, in.made[k]}, p.resistance_share,
        polarise(c, in.added[k], p.resistance_share, i, in.inlet_co + in.made[k], in.carbon, c.diffusion), i);
  }
  for (uint32_t k = 0; k < N; ++k) {
    const bool identified = out.identified[k] != 0;
    out.innovation[k] =
        identified ? clamp((1.0f / mean - sums.integral[k]) / sums.slope[k], -3.0f, 3.0f) : 0.0f;
    out.mean_density[k] = identified ? sums.weighted[k] / sums.slope[k] : 0.0f;
    out.by_share[k] = identified ? sums.shared[k] / sums.slope[k] : 0.0f;
    for (uint32_t j = 0; j < kConstants; ++j)
      out.by_constant[j][k] = identified ? sums.constant[j][k] / sums.slope[k] : 0.0f;
  }
}

/// One cell alone.
inline Column solve_column(const ctl_params& p, const CellChemistry& c, const CellGas& gas, float added,
                           float current, float voltage) {
  CellArrays<1> cell;
  cell.place(0, c, gas, added, voltage);
  Columns<1> out;
  solve_columns(out, p, cell, current);
  return out[0];
}

}  // namespace duskline::controller
