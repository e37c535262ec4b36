/// Defects as they happen to people who write controllers, each a change of one place of the sources.
/// They are injected into a copy (mutant.hpp); the shipped controller knows nothing of them.
#pragma once

#include <algorithm>
#include <array>

#include "tests/mutation/plant_defects.hpp"

namespace duskline::tests {

inline constexpr std::array kModuleDefects{
    Defect{"feed-forward-reversed", "the lead of the flow set-point has the wrong sign", "laws/cascade.hpp",
           "return m.feed_setpoint + max_of(0.0f, lead) * (m.feed_setpoint - m.flow_reference);",
           "return m.feed_setpoint - max_of(0.0f, lead) * (m.feed_setpoint - m.flow_reference);",
           "start-stop/demand-steps-up-and-down", "start-stop/six-starts-and-stops-in-a-day"},
    Defect{"loops-do-not-track", "a loop that is not selected goes on integrating", "laws/pi.hpp",
           "(applied - c.output) / tracking", "0.0f * (applied - c.output) / tracking",
           "faults/cell-channel-clogs",
           "start-stop/demand-above-capacity faults/filter-blocked-at-lowest-density"},
    Defect{"greatest-selected", "the greatest of the offered currents is taken, not the least",
           "laws/cascade.hpp", "if (!(current < output.current)) return;",
           "if (!(current > output.current)) return;", "start-stop/start-from-hot-standby",
           "start-stop/demand-above-capacity faults/feed-meter-drift-before-cold-start "
           "faults/compressor-trip-before-cold-start"},
    Defect{"margin-too-hopeful", "the coke margin is taken for 20 mV more than the model says",
           "estimate/coke.hpp", "onset - above_tap -", "onset + 0.020f - above_tap -",
           "start-stop/demand-above-capacity",
           "faults/cell-channel-clogs faults/cell-contact-loss "
           "faults/end-heater-open-in-production faults/compressor-trip-before-cold-start "
           "faults/feed-meter-drift-before-cold-start outpost/night-by-power-ceiling "
           "outpost/cell-starved-in-one-module outpost/warm-noon-of-a-sampled-train "
           "outpost/starved-module-trips outpost/converter-of-a-module-off"},
    Defect{"interlocks-late", "an interlock waits ten periods longer than it should", "supervise/modes.hpp",
           "const uint32_t needed = truncate(p.interlock_ticks);",
           "const uint32_t needed = truncate(p.interlock_ticks) + 10u;", "faults/current-runaway",
           "faults/converter-dropout faults/bus-failure-at-night "
           "faults/feed-meter-drift-before-cold-start faults/compressor-trip-before-cold-start "
           "outpost/starved-module-trips outpost/converter-of-a-module-off"},
    Defect{"interlocks-dead", "no reason is ever confirmed: nothing moves to safe", "supervise/modes.hpp",
           "if (m.counts[bit] >= needed) sure |= mask;", "if (m.counts[bit] > needed) sure |= mask;",
           "faults/current-runaway",
           "faults/converter-dropout faults/bus-failure-at-night faults/bus-brown-out-in-warm-up "
           "faults/repeated-controller-resets faults/current-stuck-at-reduced-demand "
           "faults/preheater-stuck-on faults/end-heater-stuck-on faults/cell-channel-clogs training "
           "faults/compressor-trip-before-cold-start faults/feed-meter-drift-before-cold-start "
           "outpost/module-trips-in-ramp outpost/converter-of-a-module-off outpost/starved-module-trips "
           "outpost/current-runs-away-in-one-module"},
    Defect{"no-protective-current", "standby goes without its protective current", "tick/decide.hpp",
           ": min_of(p.protective_current, p.current_max);", ": 0.0f * p.current_max;",
           "start-stop/start-from-hot-standby",
           "start-stop/standby-through-the-night faults/preheater-stuck-on "
           "faults/end-heater-stuck-on faults/compressor-trip-at-noon outpost/start-from-half-warm "
           "outpost/bus-brown-out outpost/converter-of-a-module-off"},
    Defect{"heater-gain-fourfold", "the loops of the end plates have four times their gain", "heat.hpp",
           "const PiGains end_gains{p.end_gain,", "const PiGains end_gains{4.0f * p.end_gain,",
           "start-stop/demand-steps-up-and-down", ""},
    Defect{"stack-gain-fourfold", "the loop of the stack temperature has four times its gain", "heat.hpp",
           "const PiGains stack_gains{p.stack_gain,", "const PiGains stack_gains{4.0f * p.stack_gain,",
           "start-stop/demand-steps-up-and-down",
           "start-stop/start-from-half-warm-stack start-stop/six-starts-and-stops-in-a-day"},
    Defect{"heaters-too-weak",
           "watts are taken for tenths: the heaters get a tenth of what the loops ask for", "heat.hpp",
           "const float scale = total > available ? available / total : 1.0f;",
           "const float scale = 0.1f * (total > available ? available / total : 1.0f);",
           "maintenance/new-cell-group-run-in",
           "start-stop/standby-through-the-night start-stop/cold-start-lowest-density "
           "seasons/aphelion-night storms/gusts-in-the-evening "
           "start-stop/production-request-to-cold-plant"},
    Defect{"ramp-in-wrong-unit",
           "kelvin per minute are divided by 30 instead of 60: the ramp is twice as steep", "heat.hpp",
           "const float step = p.ramp * p.period;", "const float step = 2.0f * p.ramp * p.period;",
           "start-stop/start-from-half-warm-stack", "start-stop/hour-of-oxygen start-stop/warm-up-cancelled"},
    Defect{"ramp-per-second", "kelvin per minute are taken for kelvin per second", "heat.hpp",
           "const float step = p.ramp * p.period;", "const float step = 60.0f * p.ramp * p.period;",
           "start-stop/start-from-half-warm-stack",
           "start-stop/hour-of-oxygen outpost/start-from-half-warm outpost/shut-down"},
    Defect{"dead-band-reversed", "the dead-band of an alarm lies on the wrong side of its limit",
           "supervise/alarms.hpp", "return beyond > (before ? -row.dead_band : 0.0f);",
           "return beyond > (before ? row.dead_band : 0.0f);", "training/supply-voltage-near-alarm-limit",
           ""},
    Defect{"highest-believed", "of three readings the highest is believed, not the middle one",
           "detect/calibrate.hpp",
           "const float middle = mid_value(y[in_plenum_pressure], y[in_cathode_pressure], "
           "y[in_anode_pressure]);",
           "const float middle = max_of(y[in_plenum_pressure], max_of(y[in_cathode_pressure], "
           "y[in_anode_pressure]));",
           "maintenance/zero-calibration-without-ambient-pressure", ""},
    Defect{"lost-means-cold", "a zone without a reading counts as cold", "supervise/interlocks.hpp",
           "t.zone[k] = measured ? y[in_zone_temperature + k] : others;",
           "t.zone[k] = measured ? y[in_zone_temperature + k] : 250.0f + 0.0f * others;",
           "faults/zone-thermocouple-open-before-start", ""},
    Defect{"hottest-for-coldest", "the hottest zone decides whether current may flow, not the coldest",
           "tick/supervise.hpp", "f.thermal.coldest > p.protection_temperature ||",
           "f.thermal.hottest > p.protection_temperature ||", "start-stop/start-from-half-warm-stack", ""},
    Defect{"tries-for-ever", "safe tries the protective current again and again", "tick/supervise.hpp",
           "m.applied_current > 0.0f) m.locked_out = 1;", "m.applied_current > 0.0f) m.locked_out = 0;",
           "faults/feed-meter-drift-before-cold-start", "faults/compressor-trip-before-cold-start"},
    Defect{"atoms-for-molecules",
           "the molar mass of oxygen is that of its atom: twice the current for the same demand",
           "estimate/composition.hpp", "kOxygenMolarMass = 0.0319988f", "kOxygenMolarMass = 0.0159994f",
           "start-stop/start-from-hot-standby",
           "start-stop maintenance training endurance/worn-plant-lowest-density "
           "faults/filter-blocked-at-lowest-density outpost/anti-surge-stuck outpost/module-trips-in-ramp "
           "outpost/starved-module-trips"},
    Defect{"alarms-never-begin", "a condition that stands never becomes an alarm",
           "supervise/alarm_states.hpp", "m.held[k] > (m.raw[k] != 0 ? row.on_delay : off_delay)",
           "m.held[k] > (m.raw[k] != 0 ? 1e6f : off_delay)", "faults/converter-dropout",
           "training maintenance faults/repeated-controller-resets "
           "faults/cell-tap-opens-another-reads-wrong outpost/co-analyser-lost"},
    Defect{"shelved-for-good", "a shelved alarm never comes back", "supervise/alarm_states.hpp",
           "m.shelved[k] -= period;", "m.shelved[k] -= 0.0f * period;", "training/alarm-shelved-for-a-shift",
           ""},
    Defect{"memory-ignored", "after a restart nothing of the retained memory is taken up", "controller.cpp",
           "store(state, warm_restart(before, params));", "(void)params, (void)state;",
           "faults/repeated-controller-resets",
           "faults/controller-reset-in-production faults/bus-failure-at-night"},
    Defect{"stale-flow", "the filter of the feed flow is sixty times as slow", "tick/measure.hpp",
           "y[in_feed_flow]), p.period, p.flow_filter)", "y[in_feed_flow]), p.period, 60.0f * p.flow_filter)",
           "start-stop/demand-steps-up-and-down", "faults/compressor-seals-wear-then-break"},
    Defect{"no-derating", "a diagnosis that should derate leaves the whole current", "supervise/derate.hpp",
           "float share = f.response == CTL_RESPOND_DERATE ? p.derate_share : 1.0f;", "float share = 1.0f;",
           "faults/bearing-wear-in-production", "faults/cell-channel-clogs"},
    Defect{"permissives-ignored", "a transition asks for no permissive", "supervise/modes.hpp",
           "return {to, against & refused_by(m.mode, to)};", "return {to, 0u * against};",
           "training/restart-with-cracked-cell",
           "start-stop/production-request-to-cold-plant start-stop/warm-up-cancelled "
           "faults/compressor-trip-before-cold-start"},
    Defect{"endless-purge", "safe never ends its purge: CO2 flows over hot nickel", "tick/supervise.hpp",
           "m.safe_time <= f.params.safe_flow_time", "m.safe_time >= 0.0f * f.params.safe_flow_time",
           "faults/converter-dropout",
           "training/trip-without-operator faults/preheater-stuck-on faults/end-heater-stuck-on"},
    Defect{"current-in-one-step", "the rise of the current has no limit", "tick/limit.hpp",
           "const float highest = max_of(quick, m.applied_current + held * p.current_rate_up * p.period);",
           "const float highest = max_of(quick, held * p.current_max);",
           "start-stop/demand-steps-up-and-down", ""},
    Defect{"ceiling-ignored", "the power ceiling of the bus is not looked at", "supervise/ceiling.hpp",
           "return is_finite(ceiling) ? max_of(0.0f, ceiling - p.ceiling_headroom) : ceiling;",
           "return 0.0f * p.ceiling_headroom + __builtin_nanf(\"\");",
           "start-stop/power-dips-every-15-minutes",
           "storms/dark-storm-falling-power-limit start-stop/power-limit-falls-in-warm-up"},
    Defect{"nothing-detected", "a pattern of residuals is never confirmed: no diagnosis, no doubt",
           "detect/detect.hpp", "d.response = response_to(d, x.raw);",
           "d.response = 0u * response_to(d, x.raw); d.diagnosed = 0u; for (uint32_t& word : d.suspect) word "
           "= 0u;",
           "faults/exhaust-erodes-at-dusk",
           "faults maintenance training endurance/worn-bearings-reported-before-seizure "
           "endurance/dawn-after-10000-hours storms/strong-convection-at-noon outpost/tap-open-in-one-module "
           "outpost/current-runs-away-in-one-module outpost/end-heater-open-in-one-module"},
    Defect{"recycle-reversed", "the loop of the recycle valve pushes the wrong way", "recycle.hpp",
           "pi_output(loop, gains, p.inlet_co_setpoint, g.inlet_co, recycle_feed_forward(p, g))",
           "pi_output(loop, gains, g.inlet_co, p.inlet_co_setpoint, recycle_feed_forward(p, g))",
           "start-stop/start-from-hot-standby", "dawn-dusk/dusk-northern-spring-ember-hollow"},
    Defect{"link-never-lost", "the age of the operator's word is not looked at", "detect/detect.hpp",
           "x.in.command_age > p.link_timeout", "x.in.command_age > 1e6f * p.link_timeout",
           "faults/command-link-lost-in-production", "faults/bus-failure-at-night"},
    Defect{"density-of-the-year",
           "the feed-forward of the speed takes the density of the year for that of the hour",
           "laws/cascade.hpp", "return in.feed.command(flow);", "return flow / flow_per_speed(p, 0.0183f);",
           "dawn-dusk/dawn-northern-autumn-kestrel-rise", "start-stop/cold-start-lowest-density"},
    Defect{"never-cleared", "a diagnosis whose evidence has ended stands for ever", "detect/detect.hpp",
           "if (d.quiet[bit] > clean && !held)", "if (d.quiet[bit] > 0x10000u + clean && !held)",
           "maintenance/heater-repaired-in-standby",
           "faults/compressor-seals-wear-then-break faults/preheater-open-at-dusk "
           "maintenance/filter-changed-in-standby training/repeated-supply-dips"},
    Defect{"asked-only-once", "the first request is kept, later ones are not looked at", "tick/supervise.hpp",
           "run_modes(m.mode, facts, observed, in.requested_mode);",
           "run_modes(m.mode, facts, observed, s.first ? in.requested_mode : m.mode.last_request);",
           "faults/converter-dropout",
           "start-stop/warm-up-cancelled start-stop/cool-down-cancelled "
           "faults/repeated-controller-resets faults/compressor-trip-before-cold-start"},
    Defect{"never-believed-again", "a doubt about a measurement never ends", "detect/detect.hpp",
           "      put_in(d.suspect, i, false);", "      put_in(d.suspect, i, true);",
           "faults/plenum-pressure-sensor-faults",
           "faults/product-meter-faults faults/ambient-pressure-sensor-faults "
           "faults/anode-pressure-sensor-faults faults/cathode-pressure-sensor-faults "
           "faults/filter-differential-pressure-sensor-faults faults/feed-meter-gain-loss"},
    Defect{"operator-unheard", "what the operator does about alarms is not looked at", "supervise/alarms.hpp",
           "  act_on_alarms(m, kAlarms, p.shelve_max, a);", "  (void)a;",
           "training/alarm-shelved-for-a-shift",
           "training/operator-recovers-from-trip maintenance/thermocouple-replaced-in-production "
           "maintenance/filter-changed-in-standby"},
    Defect{"all-heat-at-one-end", "the first end heater gets its power on the wires of the second",
           "heat.hpp", "out.end[k] *= scale;", "out.end[k] *= scale * (k == 1 ? 2.0f : 0.0f);",
           "faults/current-runaway",
           "faults/clock-and-counter-jump faults/end-heater-stuck-on tuning/dawn-demand "
           "faults/recycle-valve-blocked start-stop/hour-of-oxygen "
           "faults/end-thermocouple-faults outpost/end-heater-open-in-one-module outpost/shut-down"},
    Defect{"too-hot", "the stack is held a hundred kelvin above its set-point", "tick/decide.hpp",
           ".target = down ? kColdTarget : p.stack_setpoint,",
           ".target = down ? kColdTarget : p.stack_setpoint + 100.0f,", "faults/end-heater-stuck-on",
           "faults/preheater-stuck-on seasons/aphelion-night start-stop/standby-through-the-night "
           "outpost/end-heater-open-in-one-module"},
    Defect{"never-cools", "safe and cool-down hold the stack at its set-point", "tick/decide.hpp",
           ".target = down ? kColdTarget : p.stack_setpoint,", ".target = (void(down), p.stack_setpoint),",
           "start-stop/cool-down-cancelled",
           "start-stop/warm-up-cancelled outpost/shut-down outpost/module-out-and-back"},
    Defect{
        "threefold-feed", "the feed is three times what the utilisation asks for", "laws/cascade.hpp",
        "return converted(in.params, current) / (utilisation * in.gas.inlet_co2) * in.gas.molar_mass;",
        "return 3.0f * converted(in.params, current) / (utilisation * in.gas.inlet_co2) * in.gas.molar_mass;",
        "faults/exhaust-clogs-at-dawn",
        "storms/dust-devils-kestrel-rise faults/filter-blocked-at-lowest-density "
        "faults/product-aperture-clogs-then-erodes faults/feed-meter-gain-loss "
        "start-stop/demand-above-capacity "
        "start-stop/power-dips-every-15-minutes storms/dark-storm-falling-power-limit "
        "endurance/worn-plant-lowest-density"},
    Defect{"a-tenth-too-little", "the current for the demand is a tenth too small", "tick/decide.hpp",
           "current_for_oxygen(p, min_of(in.oxygen_demand, 1.0f));",
           "0.9f * current_for_oxygen(p, min_of(in.oxygen_demand, 1.0f));",
           "faults/controller-reset-in-production",
           "faults/command-link-lost-in-production faults/bus-brown-out-in-warm-up "
           "endurance/worn-plant-cold-start storms/dark-storm-falling-power-limit "
           "faults/end-heater-open-in-warm-up dawn-dusk/equinox-sol "
           "dawn-dusk/dusk-northern-autumn-kestrel-rise seasons/two-winter-nights-on-batteries "
           "faults/weak-cell-at-noon faults/end-heater-open-in-production"},
    Defect{"warmer-air", "the air outside is taken for 25 K warmer than it is", "estimate/density.hpp",
           "(kGasConstant * y[in_ambient_temperature]));",
           "(kGasConstant * (y[in_ambient_temperature] + 25.0f)));", "faults/ambient-pressure-frozen-at-dusk",
           "faults/filter-loading-in-storm"},
    Defect{"corrections-forgotten", "no correction is ever taken up", "detect/calibrate.hpp",
           "const float step = row.bound / travel * p.period;",
           "const float step = 0.0f * row.bound / travel;", "maintenance/zero-calibration-at-rest", ""},
    Defect{"half-the-ceiling", "half of what the bus offers is used", "supervise/ceiling.hpp",
           "max_of(0.0f, ceiling - p.ceiling_headroom)", "max_of(0.0f, 0.5f * ceiling - p.ceiling_headroom)",
           "start-stop/power-dips-every-15-minutes", "storms/dark-storm-falling-power-limit"},
    Defect{
        "hair-trigger", "the scatter of every residual is taken for a tenth of what it is",
        "detect/residuals.hpp", "out.z[i] = clamp(left / scale,", "out.z[i] = clamp(10.0f * left / scale,",
        "faults/clock-and-counter-jump",
        "faults/product-meter-faults faults/ambient-pressure-sensor-faults "
        "faults/anode-pressure-sensor-faults faults/cathode-pressure-sensor-faults "
        "faults/filter-differential-pressure-sensor-faults faults/plenum-pressure-sensor-faults "
        "faults/feed-meter-gain-loss faults/zone-thermocouple-drifts faults/feed-and-product-meters-disagree "
        "faults/filter-loading-in-storm maintenance/new-cell-group-run-in "
        "maintenance/thermocouple-replaced-in-production training/repeated-supply-dips "
        "maintenance/zero-calibration-at-rest storms/strong-convection-at-noon "
        "faults/current-stuck-at-reduced-demand outpost/tap-open-in-one-module "
        "outpost/end-heater-open-in-one-module outpost/analyser-then-valve"},
    Defect{"leak-by-one-sign", "a product flow above Faraday's law alone is taken for a leak",
           "detect/signatures.hpp",
           "{bits(r_product_faraday), bits(r_faraday_aperture, r_purity), 0, CTL_CELL_LEAKING, kNoInput},",
           "{bits(r_product_faraday), 0, 0, CTL_CELL_LEAKING, kNoInput},", "faults/product-meter-faults", ""},
    Defect{"cells-must-be-alike", "cells may differ by a tenth of what they may", "detect/residuals.hpp",
           "excess[k] - others, kCellSigma,", "excess[k] - others, 0.1f * kCellSigma,",
           "maintenance/new-cell-group-run-in", ""},
    Defect{"demand-in-every-mode", "the current for the demand flows in every mode that has current",
           "tick/decide.hpp", "const float asked = producing ? demanded_current(m, p, in) : 0.0f;",
           "const float asked = demanded_current(m, p, in); (void)producing;",
           "faults/compressor-trip-at-noon",
           "faults/feed-meter-drift-before-cold-start faults/compressor-trip-before-cold-start "
           "start-stop/standby-through-the-night faults/command-link-lost-in-production"},
    Defect{"link-given-up-early", "the operator's word is too old after a tenth of the time",
           "detect/detect.hpp", "x.in.command_age > p.link_timeout",
           "x.in.command_age > 0.1f * p.link_timeout", "faults/command-link-lost-in-production", ""},
    Defect{"restarts-count-twice", "each restart counts for two", "retain.hpp",
           "if (m.restarts < 1000u) ++m.restarts;", "if (m.restarts < 1000u) m.restarts += 2u;",
           "faults/repeated-controller-resets", "outpost/controller-of-a-module-restarts"},
    Defect{"feed-without-recycle", "the feed goes on though no CO comes back to it", "tick/supervise.hpp",
           "return m.response >= CTL_RESPOND_STANDBY && (m.diagnosed",
           "return m.response > 100u && (m.diagnosed", "faults/recycle-valve-blocked", ""},
    Defect{"shut-off-in-safe", "a module behind headers that moved to safe gets no feed",
           "tick/supervise.hpp", "holds_feed_for_stuck_current(m, f) || header_protects(f));",
           "holds_feed_for_stuck_current(m, f) || (header_protects(f) && false));",
           "outpost/module-trips-in-ramp", "outpost/converter-of-a-module-off"},
};

/// Those of the module controller, then those of the plant controller.
inline constexpr auto kDefects = [] {
  std::array<Defect, kModuleDefects.size() + kPlantDefects.size()> all{};
  std::copy(kPlantDefects.begin(), kPlantDefects.end(),
            std::copy(kModuleDefects.begin(), kModuleDefects.end(), all.begin()));
  return all;
}();

}  // namespace duskline::tests
