/// Gas at the inlet and outlet of the cathode, and the utilisation.
///
/// What it is   Faraday's law on the measured feed, closed by the recycled share through a choked valve
/// Equation     dx = N I e/(2F n); x_out = x_in + dx; U = dx/x_CO2,in; n_p dx_in/dt = n (r x_out - x_in) -
///              x_in dn_p/dt; r = k a A C p_c/(n sqrt(M R T)); dk/dt = g (x_measured - x_analyser)
/// Symbols      x [1] mole fraction of CO; n [mol/s] feed; n_p [mol] gas in the plenum; r [1] recycled share;
///              a [1] opening; A [m2]; C = 0.67 choked flow factor; k [1] learnt from the analyser; N cells;
///              x_in as measured where the plant measures it at the feed header
/// Validity     quasi-steady stack (its gas is renewed in seconds); choked recycle valve
/// Source       Faraday; mole balance: CO2 -> CO keeps the moles of the stream, so CO + CO2 is conserved
/// Left out     leaks; CO in the air; separate flows of the cells (resistance.hpp)
#pragma once

#include "controller/estimate/filters.hpp"
#include "controller/estimate/thermochemistry.hpp"
#include "controller/signals.hpp"

namespace duskline::controller {

struct GasMemory {
  float inlet_co;        // mole fraction
  float analyser;        // what the analyser should read
  float recycle_factor;  // learnt correction of the recycled share
  float held;            // mol in the plenum, lagged; 0 before the first tick
};

struct Gas {
  float feed;                // mol/s, never below a small floor
  float molar_mass;          // kg/mol of the feed
  float inlet_co;            // mole fraction
  float inlet_co2;           // mole fraction
  float conversion;          // mole fraction of CO made by the mean cell
  float full_share;          // share of the feed that the open recycle valve would bring
  float recycled;            // share of the feed that comes from the exhaust
  float utilisation;         // share of the CO2 entering that is converted
  float flow_sigma = 0.0f;   // 1, of the feed
  float inlet_sigma = 0.0f;  // 1, of the inlet CO
};

constexpr GasMemory initial_gas() {
  return {0.0f, 0.0f, 1.0f, 0.0f};
}

inline constexpr float kFillingTime = 5.0f;            // s, over which the rise of the plenum is taken
inline constexpr float kMuchConverted = 0.3f;          // mole fraction of CO made, of 0.1 in standby
inline constexpr float kLeastFeed = 1e-7f;             // mol/s
inline constexpr float kChokedFactor = 0.67f;          // of CO/CO2 mixtures at 300 K
inline constexpr float kOxygenAtomMass = 0.0159994f;   // kg/mol
inline constexpr float kOxygenMolarMass = 0.0319988f;  // kg/mol

/// Cells in series.
constexpr float cells_in_series(const ctl_params& p) {
  return static_cast<float>(CTL_CELLS) * p.cells_per_tap;
}

/// Voltage of the whole stack, V.
inline float stack_voltage(const ctl_params& p, const Signals& y) {
  float volts = 0.0f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) volts += y[in_cell_voltage + k];
  return volts * p.cells_per_tap;
}

/// CO2 converted by all cells, mol/s.
constexpr float converted(const ctl_params& p, float current) {
  return current * (cells_in_series(p) / (2.0f * kFaraday)) * p.faraday_efficiency;
}

/// Oxygen made by all cells, kg/s.
constexpr float oxygen_rate(const ctl_params& p, float current) {
  return 0.5f * kOxygenMolarMass * converted(p, current);
}

/// Stack current that makes this much oxygen, A.
constexpr float current_for_oxygen(const ctl_params& p, float oxygen) {
  return oxygen * (4.0f * kFaraday / (kOxygenMolarMass * cells_in_series(p))) / p.faraday_efficiency;
}

/// `measured` is the mole fraction of CO in the feed; 0, less or no number: it is not measured.
inline Gas estimate_gas(GasMemory& m, const ctl_params& p, const Signals& y, float feed_flow, float current,
                        float opening, float measured = 0.0f) {
  Gas g{};
  const bool known = measured > 0.0f && measured <= 1.0f;
  const bool recycles = !known && p.recycle_aperture > 0.0f;  // without either the last value holds
  if (known) m.inlet_co = measured;
  const float carbon = p.air_co2_fraction;  // CO + CO2, the same everywhere on the cathode side
  g.inlet_co = clamp(m.inlet_co, 0.0f, 0.98f * carbon);
  g.inlet_co2 = carbon - g.inlet_co;
  g.molar_mass = p.air_molar_mass - g.inlet_co * kOxygenAtomMass;
  g.feed = max_of(kLeastFeed, feed_flow / g.molar_mass);
  const float made = converted(p, max_of(0.0f, current));
  g.conversion = clamp(made / g.feed, 0.0f, 0.98f * g.inlet_co2);
  g.utilisation = clamp(made / (g.feed * g.inlet_co2), 0.0f, 2.0f);
  const float outlet_co = g.inlet_co + g.conversion;

  const float exhaust_mass = p.air_molar_mass - outlet_co * kOxygenAtomMass;
  const float choked = p.recycle_aperture * kChokedFactor * y[in_cathode_pressure] /
                       square_root(exhaust_mass * kGasConstant * p.recycle_temperature);
  g.full_share = clamp(m.recycle_factor * choked / g.feed, 0.0f, 1e3f);
  g.recycled = clamp(opening * g.full_share, 0.0f, 0.9f);

  const float gas_held =
      max_of(1e-6f, y[in_plenum_pressure] * p.plenum_volume / (kGasConstant * y[in_plenum_temperature]));
  const float renewed = p.period * g.feed / gas_held;
  // a plenum that fills takes in more than the feed, and what comes beside the recycled gas holds no CO
  if (m.held == 0.0f) m.held = gas_held;
  const float filling = (gas_held - m.held) / (kFillingTime + p.period);  // mol/s
  m.held = low_pass(m.held, gas_held, p.period, kFillingTime);
  const float drawn = max_of(1.0f + filling / g.feed, 1.0f - 0.5f * (1.0f - g.recycled));  // over the feed
  if (recycles)
    m.inlet_co = (g.inlet_co + renewed * g.recycled * g.conversion) / (1.0f + renewed * (drawn - g.recycled));
  const float zero = feed_flow > 0.0f ? p.flow_zero / max_of(p.flow_zero, feed_flow) : 1.0f;
  g.flow_sigma = 0.5f * square_root(p.flow_class * p.flow_class + zero * zero);
  const float seen = recycles ? g.inlet_co + g.conversion : g.inlet_co;  // by the analyser that it comes from
  const float analyser = 0.5f * (p.analyser_class * seen + p.analyser_zero);
  g.inlet_sigma = min_of(analyser, 0.5f * g.inlet_co + 1e-3f);
  m.analyser = low_pass(m.analyser, outlet_co, p.period, p.analyser_lag);
  if (recycles && y.has(in_outlet_co_fraction) && g.recycled > 0.02f && g.conversion > 0.05f) {
    // where little is converted, the inlet's CO is as small as the errors of the analyser: less than the valve should
    // bring is believed beyond them
    const float own = g.conversion < kMuchConverted ? p.analyser_class * outlet_co + p.analyser_zero : 0.0f;
    const float innovation = y[in_outlet_co_fraction] - m.analyser;
    const float beyond = innovation - clamp(innovation, -own, 0.0f);
    m.recycle_factor = clamp(m.recycle_factor + p.period * p.recycle_learning * beyond, 0.5f, 2.0f);
  }
  return g;
}

}  // namespace duskline::controller
