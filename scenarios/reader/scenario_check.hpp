/// Checks that involve several keys of a scenario, after each key has been found right by itself.
///
/// Times of commands and table rows rise; events stand in order; the trace is recorded at whole periods; the
/// run is neither empty nor longer than the tick counter; items of lists exist; the fixed law has a table;
/// the plant can be run after its events; sentences can be read; a search names a requirement that is there.
/// Left out: whether the scenario makes sense.
#pragma once

#include "scenarios/reader/decode.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/scenario.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

/// Requirements are checked where `signals` are given, the names that they may use.
void check_scenario(Scenario& scenario, const PlantFile& plant, const Decoder& decoder, Report& report,
                    std::span<const TraceSignal> signals);

/// What a file of acts has in common with a scenario. A time is not before the one before it.
void check_rises(const std::string& path, double before, double now, const Decoder& decoder, Report& report);
void check_alarm_actions(const std::vector<AlarmAction>& actions, const Decoder& decoder, Report& report,
                         const plant::PlantParameters* plant = nullptr);
/// Whether the plant has what they act on is checked where it is given; of events also that it can still be run.
void check_events(const std::vector<Event>& events, const Decoder& decoder, Report& report,
                  const plant::PlantParameters* plant = nullptr);
void check_faults(const std::vector<plant::FaultEvent>& faults, const Decoder& decoder, Report& report,
                  std::span<const TraceSignal> signals, const plant::PlantParameters* plant = nullptr);

void check_tuning(const Scenario& scenario, const PlantFile& plant, const Decoder& decoder, Report& report,
                  std::span<const TraceSignal> signals);

/// `prefix` is `controller.` in a scenario and empty in a controller file.
void check_controller(const ctl_params& params, const std::string& prefix, const Decoder& decoder,
                      Report& report);

}  // namespace duskline::scenarios
