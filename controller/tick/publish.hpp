/// Sixth step of a tick: commands, what the controller estimates, diagnoses and alarms.
#pragma once

#include "controller/supervise/alarms.hpp"
#include "controller/tick/limit.hpp"

namespace duskline::controller {

inline void write_estimates(ctl_outputs& out, const Estimates& e, const Consistency& consistency) {
  out.intake_density = e.density.value;
  out.intake_density_rate = e.density.rate;
  out.intake_density_sigma = e.density.sigma;
  out.compressor_efficiency = e.density.efficiency;
  out.utilisation = e.gas.utilisation;
  out.inlet_co_ratio = e.gas.inlet_co / e.gas.inlet_co2;
  out.outlet_co_fraction = e.gas.inlet_co + e.gas.conversion;
  out.coke_onset_voltage = e.coke.onset;
  out.coke_margin = e.coke.margin;
  out.coke_sigma = e.coke.sigma;
  out.margin_in_sigmas = e.coke.in_sigmas;
  out.worst_cell = e.coke.worst;
  out.added_resistance = e.coke.added_resistance;
  out.resistance_growth = e.coke.growth;
  for (uint32_t k = 0; k < CTL_CELLS; ++k) {
    out.cell_resistance[k] = e.coke.added_resistance + (e.coke.added[k] - e.coke.ohmic);
    out.cell_coke_margin[k] = e.coke.cell[k];
  }
  out.filter_loading = e.health.filter_loading;
  out.bearing_wear = e.health.bearing_wear;
  out.consistency = consistency.mean;
}

/// What is identified of all cells together, in the units of a plant file, and how well it is known.
inline void write_constants(ctl_outputs& out, const ctl_params& p, const Kalman<kCommonStates>& f) {
  const CellConstants c = cell_constants(f);
  const auto deviation = [&f](uint32_t i) { return square_root(max_of(0.0f, f.p[i][i])); };
  out.ohmic_resistance = p.electrolyte_resistance + p.contact_resistance + f.x[common_added];
  out.ohmic_resistance_sigma = deviation(common_added);
  out.cathode_exchange = p.cathode_exchange * c.cathode;
  out.cathode_exchange_sigma = out.cathode_exchange * deviation(common_cathode);
  out.anode_exchange = p.anode_exchange * c.anode;
  out.anode_exchange_sigma = out.anode_exchange * deviation(common_anode);
  out.electrode_diffusion = p.electrode_diffusion + c.diffusion;
  out.electrode_diffusion_sigma = deviation(common_diffusion);
}

inline void write_commands(ctl_outputs& out, const ctl_params& p, const Commands& c) {
  const bool compressor = feed_row(p).compressor;
  out.compressor_speed = compressor ? c.applied.feed : 0.0f;
  out.feed_opening = compressor ? 0.0f : c.applied.feed;
  out.stack_current = c.converter;
  out.recycle_opening = c.applied.opening;
  out.preheater_power = c.applied.preheater;
  for (uint32_t k = 0; k < CTL_ENDS; ++k) out.end_power[k] = c.applied.end[k];
  out.limiter = c.limiter;
}

inline void write_state(ctl_outputs& out, const Memory& m, const ctl_params& p, const Supervision& modes) {
  out.oxygen_rate = oxygen_rate(p, m.applied_current) * (1.0f + m.calibration.efficiency);
  out.utilisation_setpoint = utilisation_setpoint(p, m.law);
  out.temperature_setpoint = m.heat.setpoint;
  out.feed_setpoint = m.applied_feed > 0.0f ? m.law.feed_setpoint : 0.0f;
  out.margin_setpoint = m.margin_kept;
  out.suspect[0] = m.detection.suspect[0];
  out.suspect[1] = m.detection.suspect[1];
  for (uint32_t n = 0; n < CTL_CORRECTIONS; ++n) out.correction[n] = m.calibration.correction[n];
  out.corrected = m.calibration.corrected;
  out.law = m.law_in_force;
  out.mode = modes.mode;
  out.unmet_permissives = modes.unmet_permissives;
  out.tripped = m.mode.tripped;
}

inline void publish(ctl_outputs& out, Memory& m, const ctl_params& p, const ctl_inputs& in,
                    const Estimates& e, const Supervised& v, const Commands& c) {
  write_commands(out, p, c);
  write_estimates(out, e, m.consistency);
  write_constants(out, p, m.coke.resistance.mean);
  write_state(out, m, p, v.modes);

  m.restarted = in.alarm_action == CTL_ALARM_ACKNOWLEDGE_ALL ? 0.0f : max_of(0.0f, m.restarted - p.period);
  out.diagnosed = m.diagnosed | (m.restarted > 0.0f ? uint32_t{CTL_RESTARTED} : 0u);
  out.unexplained = m.detection.open;
  out.response = m.response;
  run_alarms(
      m.alarms, p,
      alarm_facts(v.facts, v.observed, v.modes, m.mode.tripped, m.diagnosed, suspect_mask(m.detection)),
      {.action = in.alarm_action,
       .number = in.alarm_number,
       .maintenance = in.maintenance,
       .shelve_time = in.shelve_time});
  write_alarms(out, m.alarms);
}

}  // namespace duskline::controller
