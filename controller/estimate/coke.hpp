/// Coke-onset voltage of every cell and the margin to it.
///
/// What it is   the cell voltage at which carbon reaches unit activity at the outlet of the worst cell
/// Equation     V_on = E_C(T) + RT/2F ln(sqrt(p_O2/bar)/(p_CO/bar)) + i R + eta_an(T, i);  margin = V_on - V
///              eta = RT/F asinh(i/2 i0);  R = R_e T/T_0 exp(E/R (1/T - 1/T_0)) + R_c + share R_added
/// Symbols      p [Pa] at the outlet; i [A/m2] current density there; R_added [ohm m2] identified from the
///              mean cell voltage, of which a share lies outside the cathode; T_0 = 1073.15 K
/// Validity     900-1250 K; every overpotential of the cathode is taken to drive coke (the cautious end)
/// Source       equilibrium CO/C; Ohm; Butler-Volmer, alpha = 0.5, n = 2; values: controller_parameters.h
/// Left out     diffusion in the electrode; temperature along a cell; which cell starves (one flow share)
#pragma once

#include "controller/estimate/composition.hpp"

namespace duskline::controller {

struct Coke {
  float margin;            // V, least over the cells
  float onset;             // V, of that cell
  uint32_t worst;          // that cell
  float highest_voltage;   // V, over the cells
  float added_resistance;  // ohm m2
};

/// Cells stand in zones of 1, 2, 2, 2, 1; zone temperatures are taken at the zone centres.
constexpr float cell_temperature(const float (&zone)[CTL_ZONES], uint32_t cell) {
  constexpr float kCentre[CTL_ZONES] = {0.0f, 1.5f, 3.5f, 5.5f, 7.0f};
  const float x = static_cast<float>(cell);
  uint32_t k = 0;
  while (k + 2 < CTL_ZONES && x > kCentre[k + 1]) ++k;
  return zone[k] + (x - kCentre[k]) / (kCentre[k + 1] - kCentre[k]) * (zone[k + 1] - zone[k]);
}

/// Ohmic area-specific resistance without the identified part, ohm m2.
constexpr float ohmic_resistance(const ctl_params& p, float temperature) {
  const float t = fitted_temperature(temperature);
  return p.electrolyte_resistance * (t / kReferenceTemperature) * arrhenius(p.electrolyte_energy, t) +
         p.contact_resistance;
}

/// eta = RT/F asinh(i/2 i0), V.
constexpr float activation(float temperature, float density, float exchange) {
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

/// Voltage of a healthy cell at the composition given, V.
constexpr float model_voltage(const ctl_params& p, float temperature, float co_pressure, float co2_pressure,
                              float oxygen_pressure, float density) {
  const float nernst = reduction_potential(temperature) +
                       half_thermal_voltage(temperature) *
                           (logarithm(co_pressure / co2_pressure) + 0.5f * logarithm(oxygen_pressure / kBar));
  return nernst + density * ohmic_resistance(p, temperature) +
         anode_overpotential(p, temperature, density, oxygen_pressure) +
         cathode_overpotential(p, temperature, density, co2_pressure);
}

inline constexpr float kLeastPressure = 10.0f;  // Pa, keeps logarithms finite
inline constexpr float kIdentifiable = 500.0f;  // A/m2, below this the resistance is not identified

inline Coke estimate_coke(float& added_resistance, const ctl_params& p, const Signals& y, const Gas& g,
                          const float (&zone)[CTL_ZONES], float current) {
  Coke c{};
  const float density = most_of(0.0f, current) / p.cell_area;
  const float worst_co = least_of(g.inlet_co + g.conversion / p.worst_flow_share, p.air_co2_fraction);
  const float cathode = y[in_cathode_pressure];
  const float oxygen = y.has(in_product_oxygen_fraction) && y[in_product_oxygen_fraction] > 0.5f
                           ? least_of(1.0f, y[in_product_oxygen_fraction])
                           : p.product_oxygen;
  const float oxygen_pressure = most_of(kLeastPressure, oxygen * y[in_anode_pressure]);
  const float outlet_co = most_of(kLeastPressure, worst_co * cathode);

  // a cell whose voltage is lost is taken to be as high as the highest of the others
  float highest = -3.0f, sum = 0.0f;
  uint32_t seen = 0;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    if (!y.has(in_cell_voltage + k)) continue;
    highest = most_of(highest, y[in_cell_voltage + k]);
    sum += y[in_cell_voltage + k];
    ++seen;
  }
  c.highest_voltage = seen > 0 ? highest : 0.0f;
  c.margin = 10.0f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    const float voltage = y.has(in_cell_voltage + k) ? y[in_cell_voltage + k] : c.highest_voltage;
    const float onset = coke_onset_voltage(p, cell_temperature(zone, k), outlet_co, oxygen_pressure,
                                           p.outlet_current_share * density, added_resistance);
    if (onset - voltage < c.margin) {
      c.margin = onset - voltage;
      c.onset = onset;
      c.worst = k;
    }
  }
  if (seen == 0) c.margin = 0.0f;

  if (seen == CTL_CELLS && density > kIdentifiable) {
    float mean = 0.0f;
    for (uint32_t k = 0; k < CTL_ZONES; ++k) mean += zone[k] / static_cast<float>(CTL_ZONES);
    const float half = 0.5f * g.conversion;
    const float expected =
        model_voltage(p, mean, most_of(kLeastPressure, (g.inlet_co + half) * cathode),
                      most_of(kLeastPressure, (g.inlet_co2 - half) * cathode), oxygen_pressure, density);
    const float found = (sum / static_cast<float>(CTL_CELLS) - expected) / density;
    added_resistance = low_pass(added_resistance, clamp(found, -p.resistance_most, p.resistance_most),
                                p.period, p.resistance_time);
  }
  c.added_resistance = added_resistance;
  return c;
}

}  // namespace duskline::controller
