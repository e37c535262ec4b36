/// Coke-onset voltage of every cell, the margin to it and its standard deviation.
///
/// What it is   the voltage at which carbon reaches unit activity at the outlet of a cell, where the local
///              density is that which the measured voltage drives; what of the voltage nothing explains
///              counts in full
/// Equation     V_on = E_C(T) + RT/2F ln(sqrt(p_O2/bar)/(p_CO/bar)) + i R + eta_an(T, i); margin = V_on - V;
///              sigma^2 = sum of (d margin/d q)^2 var q over temperature, flow, inlet gas, cell estimates,
///              split, model
/// Symbols      p [Pa] at the electrode at the outlet; i [A/m2] there; R = r(T) + share R_added; q as listed
/// Validity     900-1250 K; every overpotential of the cathode is taken to drive coke (the cautious end)
/// Source       equilibrium CO/C; Ohm; Butler-Volmer, alpha = 0.5, n = 2; values: controller_parameters.h
/// Left out     temperature along a cell; correlation of flow and inlet errors
#pragma once

#include "controller/estimate/composition.hpp"
#include "controller/estimate/resistance.hpp"

namespace duskline::controller {

struct CokeMemory {
  ResistanceMemory resistance;
  float sigma[CTL_CELLS];        // V, refreshed one cell a tick; 0 before
  float blind[CTL_CELLS];        // s since the voltage of a cell was last seen
  float unexplained[CTL_CELLS];  // V, residual of a cell when it was last seen
  uint32_t turn;
};

struct Coke {
  float margin;                    // V, least over the cells
  float onset;                     // V, of that cell
  uint32_t worst;                  // that cell
  float highest_voltage;           // V, over the cells
  float added_resistance;          // ohm m2, mean
  float ohmic = 0.0f;              // ohm m2, what of it is resistance
  float growth = 0.0f;             // ohm m2/s, of the mean
  float sigma = 0.0f;              // V, of that cell
  float in_sigmas = 0.0f;          // margin over its deviation, least over the cells
  CellConstants constants{};       // as identified
  float voltage_sigma = 0.0f;      // V, of the mean cell voltage by what is not identified yet
  float cell[CTL_CELLS] = {};      // V
  float added[CTL_CELLS] = {};     // ohm m2
  float share[CTL_CELLS] = {};     // 1, of the flow
  float residual[CTL_CELLS] = {};  // V, measured less expected voltage; 0 where it is not known
};

constexpr CokeMemory initial_coke() {
  return CokeMemory{};
}

/// Cells stand in zones of 1, 2, 2, 2, 1; zone temperatures are taken at the zone centres.
static_assert(CTL_CELLS == 8 && CTL_ZONES == 5, "the centres below are those of this stack");
constexpr float cell_temperature(const float (&zone)[CTL_ZONES], uint32_t cell) {
  constexpr float kCentre[CTL_ZONES] = {0.0f, 1.5f, 3.5f, 5.5f, 7.0f};
  const float x = static_cast<float>(cell);
  uint32_t k = 0;
  while (k + 2 < CTL_ZONES && x > kCentre[k + 1]) ++k;
  return zone[k] + (x - kCentre[k]) / (kCentre[k + 1] - kCentre[k]) * (zone[k + 1] - zone[k]);
}

/// Ohmic area-specific resistance without the identified part, ohm m2.
DUSKLINE_INLINE constexpr float ohmic_resistance(const ctl_params& p, float temperature) {
  const float t = fitted_temperature(temperature);
  return p.electrolyte_resistance * (t / kReferenceTemperature) * arrhenius(p.electrolyte_energy, t) +
         p.contact_resistance;
}

/// eta = RT/F asinh(i/2 i0), V.
DUSKLINE_INLINE constexpr float activation(float temperature, float density, float exchange) {
  return 2.0f * half_thermal_voltage(temperature) * inverse_sinh(density / (2.0f * exchange));
}

/// p^n for a pressure ratio, 1.
constexpr float power_of(float ratio, float exponent) {
  return exponential(exponent * logarithm(ratio));
}

constexpr float anode_overpotential(const ctl_params& p, float temperature, float density,
                                    float oxygen_pressure) {
  const float i0 =
      p.anode_exchange * power_of(oxygen_pressure / kBar, 0.2f) / arrhenius(p.anode_energy, temperature);
  return activation(temperature, density, i0);
}

constexpr float cathode_overpotential(const ctl_params& p, float temperature, float density,
                                      float co2_pressure) {
  const float i0 = p.cathode_exchange * power_of(co2_pressure / (0.5f * kBar), 0.25f) /
                   arrhenius(p.cathode_energy, temperature);
  return activation(temperature, density, i0);
}

/// Coke-onset voltage, V: outlet CO and anode O2 partial pressures in Pa, local current density in A/m2.
constexpr float coke_onset_voltage(const ctl_params& p, float temperature, float co_pressure,
                                   float oxygen_pressure, float density, float added_resistance) {
  const float gas = 0.5f * logarithm(oxygen_pressure / kBar) - logarithm(co_pressure / kBar);
  const float resistance = ohmic_resistance(p, temperature) + p.resistance_share * added_resistance;
  return carbon_potential(temperature) + half_thermal_voltage(temperature) * gas + density * resistance +
         anode_overpotential(p, temperature, density, oxygen_pressure);
}

/// What the composition makes of the voltage of a healthy cell.
struct Composition {
  float nernst;     // 1, of its reduction potential per RT/2F
  float by_oxygen;  // 1, of the exchange current of the anode
  float by_co2;     // 1, of that of the cathode
};

constexpr Composition composition(float co_pressure, float co2_pressure, float oxygen_pressure) {
  return {logarithm(co_pressure / co2_pressure) + 0.5f * logarithm(oxygen_pressure / kBar),
          power_of(oxygen_pressure / kBar, 0.2f), power_of(co2_pressure / (0.5f * kBar), 0.25f)};
}

/// Voltage of a healthy cell, V.
DUSKLINE_INLINE constexpr float model_voltage(const ctl_params& p, const Composition& gas, float temperature,
                                              float density) {
  const float nernst = reduction_potential(temperature) + half_thermal_voltage(temperature) * gas.nernst;
  const float anode = p.anode_exchange * gas.by_oxygen / arrhenius(p.anode_energy, temperature);
  const float cathode = p.cathode_exchange * gas.by_co2 / arrhenius(p.cathode_energy, temperature);
  return nernst + density * ohmic_resistance(p, temperature) + activation(temperature, density, anode) +
         activation(temperature, density, cathode);
}

constexpr float model_voltage(const ctl_params& p, float temperature, float co_pressure, float co2_pressure,
                              float oxygen_pressure, float density) {
  return model_voltage(p, composition(co_pressure, co2_pressure, oxygen_pressure), temperature, density);
}

inline constexpr float kLeastPressure = 10.0f;  // Pa, keeps logarithms finite
inline constexpr float kUnexplained = 0.002f;  // V, what noise and steps of the current may leave unexplained
inline constexpr float kProbe = 4.0f;          // K, step of the temperature sensitivity

/// The gas of one cell. All current makes CO: the cautious end of the Faraday efficiency.
constexpr CellGas cell_gas(const ctl_params& p, const Gas& g, float share) {
  const float most = 0.98f * g.inlet_co2;
  return {g.inlet_co, g.inlet_co + g.inlet_co2, min_of(most, g.conversion / (p.faraday_efficiency * share))};
}

/// Variance of the margin, V2. `warmer` is the column at a temperature higher by kProbe. The covariance of what all
/// cells share knows what the voltage has shown of an error and what it cannot show.
inline float margin_variance(const ctl_params& p, const ResistanceMemory& m, uint32_t k, const Column& c,
                             const Column& warmer, const CellGas& gas, const Gas& g) {
  const auto squared = [](float x) { return x * x; };
  float row[kCommonStates]{};
  row[common_added] = c.onset_by_added;
  for (uint32_t j = 0; j < kConstants; ++j) row[common_cathode + j] = c.onset_by_constant[j];
  row[common_temperature] = (warmer.onset - c.onset) / kProbe;
  row[common_flow] = c.onset_by_share;
  const float zero = max_of(0.0f, squared(g.flow_sigma) - 0.25f * squared(p.flow_class));
  float sum = row_variance(m.mean, row) + squared(p.onset_sigma) + squared(c.onset_by_share) * zero;
  if (gas.made > 1e-3f) {
    // what the voltage would show of an error, the resistance has absorbed
    const bool absorbed = c.identified && c.mean_density > kIdentifiable;
    const float cure = absorbed ? c.onset_by_added / c.mean_density : 0.0f;
    sum += squared((c.onset_by_share - cure * c.by_share) / gas.made * g.inlet_sigma);
  }
  const float of_cell[3] = {c.onset_by_added, c.onset_by_share, 0.0f};
  sum += row_variance(m.cell[k], of_cell);
  sum += squared(c.density * m.cell[k].x[0] * p.split_sigma);
  return sum;
}

inline constexpr float kBlindTime =
    600.0f;                                 // s, in which a cell that nobody sees may lose its gas (estimate)
inline constexpr float kBlindShare = 0.5f;  // of its gas that it is left with (estimate)

/// Share of its gas that a cell still has, at the cautious end, so long after it was last seen.
constexpr float share_unseen(float time) {
  return 1.0f - (1.0f - kBlindShare) * min_of(1.0f, time * (1.0f / kBlindTime));
}

/// Deviation of the mean cell voltage by what is not identified yet, V.
inline float voltage_deviation(const ResistanceMemory& m, const Column& c) {
  float row[kCommonStates]{};
  common_row(row, c.mean_density, c.by_constant, m.by_temperature, c.by_share);
  return c.identified ? square_root(row_variance(m.mean, row)) : 0.0f;
}

/// above_tap: V that any one cell may stand above its reading (detect/taps.hpp).
inline Coke estimate_coke(CokeMemory& m, const ctl_params& p, const Signals& y, const Gas& g,
                          const float (&zone)[CTL_ZONES], float current, float above_tap,
                          Consistency& consistency) {
  Coke c{};
  const float cathode = max_of(kLeastPressure, y[in_cathode_pressure]);
  const float oxygen = y.has(in_product_oxygen_fraction) && y[in_product_oxygen_fraction] > 0.5f
                           ? min_of(1.0f, y[in_product_oxygen_fraction])
                           : p.product_oxygen;
  const float oxygen_pressure = max_of(kLeastPressure, oxygen * y[in_anode_pressure]);
  const float ionic = max_of(0.0f, current);

  // a cell whose voltage is lost is taken to be as high as the highest of the others, and to lose gas meanwhile:
  // neither stack power nor the outlet shows a single cell before it is too late
  uint32_t seen = 0;
  bool measured[CTL_CELLS]{};
  c.highest_voltage = -3.0f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    measured[k] = y.has(in_cell_voltage + k);
    m.blind[k] = measured[k] ? 0.0f : min_of(m.blind[k] + p.period, kBlindTime);
    if (!measured[k]) continue;
    c.highest_voltage = max_of(c.highest_voltage, y[in_cell_voltage + k]);
    ++seen;
  }
  if (seen == 0) c.highest_voltage = 0.0f;

  const GasChemistry chemistry = gas_chemistry(cathode, oxygen_pressure);
  begin_resistance(m.resistance, p);
  c.constants = cell_constants(m.resistance.mean);
  const auto cell_of = [&](float t) { return with_constants(cell_chemistry(p, chemistry, t), c.constants); };
  constexpr uint32_t kWarmer = CTL_CELLS;  // place of the cell whose turn it is, once more, warmer by kProbe
  CellArrays<CTL_CELLS + 1> cells;
  float temperature[CTL_CELLS];
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    const CellEstimate cell = cell_estimate(m.resistance, k);
    c.added[k] = cell.added;
    c.share[k] = cell.share;
  }
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    const CellEstimate cell = conservative_estimate(m.resistance, p, k, {c.added[k], c.share[k]});
    c.added[k] = cell.added;
    c.share[k] = cell.share * share_unseen(m.blind[k]);
    temperature[k] = cell_temperature(zone, k) + m.resistance.mean.x[common_temperature];
  }
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.place(k, cell_of(temperature[k]), cell_gas(p, g, c.share[k]), c.added[k],
                measured[k] ? y[in_cell_voltage + k]
                            : c.highest_voltage +
                                  min_of(0.0f, m.resistance.at_share) * logarithm(share_unseen(m.blind[k])));
  const uint32_t turn = m.turn < CTL_CELLS ? m.turn : 0;
  const CellGas gas = cell_gas(p, g, c.share[turn]);
  cells.place(kWarmer, cell_of(temperature[turn] + kProbe), gas, c.added[turn], cells.voltage[turn]);
  Columns<CTL_CELLS + 1> column;
  solve_columns(column, p, cells, ionic);
  if (column.identified[turn] != 0 && column.identified[kWarmer] != 0)
    m.resistance.by_temperature =
        low_pass(m.resistance.by_temperature, (column.innovation[turn] - column.innovation[kWarmer]) / kProbe,
                 p.period, kResidualMemory);
  m.sigma[turn] = square_root(margin_variance(p, m.resistance, turn, column[turn], column[kWarmer], gas, g));
  c.margin = 10.0f;
  c.in_sigmas = 1e3f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    const bool identified = column.identified[k] != 0 && column.mean_density[k] > kIdentifiable;
    if (identified && measured[k]) c.residual[k] = column.innovation[k] - m.resistance.cell[k].x[2];
    // beyond noise, onset goes by the current that flows, not by the one that the voltage would drive: what
    // nothing explains counts in full
    const float unexplained = c.residual[k] - clamp(c.residual[k], -kUnexplained, kUnexplained);
    if (measured[k]) m.unexplained[k] = identified ? max_of(0.0f, unexplained) : 0.0f;
    // a cell that is not seen stands where its current puts it, with what nothing explained when it was last seen,
    // and no lower than the highest of the others
    const float assumed = measured[k] ? unexplained : column.innovation[k];
    const float onset = column.onset[k] - column.onset_by_voltage[k] * assumed;
    const float expected = cells.voltage[k] - column.innovation[k];
    c.cell[k] = onset - above_tap -
                (measured[k] ? cells.voltage[k] : max_of(expected + m.unexplained[k], c.highest_voltage));
    if (c.cell[k] < c.margin) {
      c.margin = c.cell[k];
      c.onset = onset;
      c.worst = k;
    }
    if (m.sigma[k] > 0.0f) c.in_sigmas = min_of(c.in_sigmas, c.cell[k] / m.sigma[k]);
  }
  m.turn = m.turn + 1 < CTL_CELLS ? m.turn + 1 : 0;
  if (seen == 0) c.margin = c.in_sigmas = 0.0f;
  c.sigma = m.sigma[c.worst];

  // while one of them reads low, no cell is learnt from
  for (bool& teaches : measured) teaches = teaches && above_tap == 0.0f;
  learn_resistance(m.resistance, p, column, measured, ionic, consistency);
  c.added_resistance = resistance_beyond(m.resistance);
  c.ohmic = m.resistance.mean.x[common_added];
  c.growth = m.resistance.mean.x[common_growth];
  c.voltage_sigma = voltage_deviation(m.resistance, column[turn]);
  return c;
}

}  // namespace duskline::controller
