/// What takes in the air: which limits a kind has, the map of a turbo machine, the speed that a flow and a pressure need.
///
/// What it is   a table of kinds; a map of rows (speed, flow at surge, pressure ratio there) between which it is linear
/// Equation     n_c = n sqrt(T_0/T)/n_0, m_c = m sqrt(T/T_0) p_0/p; SM = m_c/m_s(r) - 1; r = r_s(n_c) (1 - c (m_c/m_s(n_c) - 1)^2)
///              swept: n = 2 pi m R T/(M p V eta); suction T = (m_air T_air + m_back T_back)/(m_air + m_back)
/// Symbols      n [rad/s], m [kg/s], p, T of the suction, r [1] discharge over suction pressure; 0: of the map
/// Validity     one gas (its constants do not move the corrected numbers); c for SM up to 0.2
/// Source       corrected speed and flow of turbo machines; the map: plant_controller_parameters.h
/// Left out     Reynolds number, surge line that moves with the coolers' temperature
#pragma once

#include "controller/estimate/thermochemistry.hpp"
#include "controller/plant/readings.hpp"

namespace duskline::controller {

/// Which limits a kind has.
struct IntakeRow {
  ctl_intake kind;
  bool turns;   // there is a shaft: speed loop, over-speed, deviation, vibration
  bool surges;  // there is a surge line: anti-surge valve, surge trip
  bool swept;   // the flow follows the speed whatever the pressure: feed-forward from the density
  bool heats;   // the discharge temperature ends the pressure ratio
};
inline constexpr IntakeRow kIntakes[CTL_INTAKES] = {
    {CTL_INTAKE_CENTRIFUGAL, true, true, false, true}, {CTL_INTAKE_AXIAL, true, true, false, true},
    {CTL_INTAKE_LOBE, true, false, true, true},        {CTL_INTAKE_SCROLL_BANK, true, false, true, true},
    {CTL_INTAKE_FREEZER, false, false, false, false},
};
constexpr bool intakes_in_order() {
  for (uint32_t k = 0; k < CTL_INTAKES; ++k)
    if (kIntakes[k].kind != static_cast<ctl_intake>(k)) return false;
  return true;
}
static_assert(intakes_in_order());

/// Gas that valves lead back to the suction.
struct Returned {
  float flow, heat;  // kg/s; that times its temperature, kg K/s
};
/// State of the gas before the first stage; what is not measured is what was last seen.
struct Suction {
  float pressure, temperature;  // Pa, K
};
/// Air and what comes back mix: the warmer gas takes more volume, and moves the machine away from surge.
constexpr Suction suction_of(const PlantSignals& y, const Returned& back) {
  const float behind_filter = y[rd_ambient_pressure] - max_of(0.0f, y[rd_filter_differential_pressure]);
  const float pressure = y.has(rd_suction_pressure) ? y[rd_suction_pressure] : behind_filter;
  float temperature = y[rd_ambient_temperature];
  if (y.has(rd_compressor_flow) && back.flow > 0.0f) {
    const float air = max_of(0.0f, y[rd_compressor_flow] - back.flow);
    temperature = (air * temperature + back.heat) / (air + back.flow);
  }
  return {max_of(50.0f, pressure), max_of(100.0f, temperature)};
}

/// Corrected speed and flow, and back.
inline float speed_share(const ctl_plant_params& p, const Suction& s, float speed) {
  return speed / p.map_speed * square_root(p.map_temperature / s.temperature);
}
inline float flow_correction(const ctl_plant_params& p, const Suction& s) {
  return square_root(s.temperature / p.map_temperature) * p.map_pressure / s.pressure;
}

/// A column of the map over another that rises; below the first row it falls with it if `down`, above the last it stays.
constexpr float map_over(const float (&over)[CTL_PLANT_MAP_ROWS], const float (&column)[CTL_PLANT_MAP_ROWS],
                         float at, bool down) {
  if (!(at > over[0])) return down ? column[0] * max_of(at, 0.0f) / over[0] : column[0];
  for (uint32_t k = 1; k < CTL_PLANT_MAP_ROWS; ++k)
    if (at <= over[k])
      return column[k - 1] + (column[k] - column[k - 1]) * (at - over[k - 1]) / (over[k] - over[k - 1]);
  return column[CTL_PLANT_MAP_ROWS - 1];
}
constexpr float map_at(const ctl_plant_params& p, const float (&column)[CTL_PLANT_MAP_ROWS], float share) {
  return map_over(p.map_speed_share, column, share, true);
}

/// Corrected flow at surge where the machine stands: by the pressure ratio that it holds. A machine that turns faster than
/// that ratio needs is nearer to choke, whatever its speed says.
constexpr float surge_flow_at(const ctl_plant_params& p, float ratio) {
  return map_over(p.map_ratio, p.map_surge_flow, ratio, false);
}

/// Pressure ratio at a corrected speed and a corrected flow.
constexpr float ratio_at(const ctl_plant_params& p, float share, float flow) {
  const float surge = max_of(1e-9f, map_at(p, p.map_surge_flow, share));
  const float beyond = max_of(0.0f, flow / surge - 1.0f);
  return map_at(p, p.map_ratio, share) * max_of(0.0f, 1.0f - p.map_curvature * beyond * beyond);
}

/// Corrected speed that brings a ratio while `flow` is taken; below the control line the anti-surge valve adds to it.
constexpr float share_for(const ctl_plant_params& p, float ratio, float flow) {
  constexpr uint32_t kHalvings = 20;
  float lower = 0.0f, upper = p.map_speed_share[CTL_PLANT_MAP_ROWS - 1];
  const float through = max_of(flow, (1.0f + p.surge_line) * surge_flow_at(p, ratio));
  for (uint32_t n = 0; n < kHalvings; ++n) {
    const float share = 0.5f * (lower + upper);
    if (ratio_at(p, share, through) < ratio)
      lower = share;
    else
      upper = share;
  }
  return 0.5f * (lower + upper);
}

/// Feed-forward of the speed, rad/s, for a flow [kg/s] and a pressure behind the machine [Pa].
inline float speed_feed_forward(const ctl_plant_params& p, const Suction& s, float flow, float pressure) {
  const IntakeRow& row = kIntakes[p.intake];
  if (!row.turns) return 0.0f;
  if (row.swept)
    return 6.28318531f * flow * kGasConstant * s.temperature /
           (p.air_molar_mass * s.pressure * p.displacement * p.volumetric_efficiency);
  const float share = share_for(p, pressure / s.pressure, flow * flow_correction(p, s));
  return share * p.map_speed / square_root(p.map_temperature / s.temperature);
}

}  // namespace duskline::controller
