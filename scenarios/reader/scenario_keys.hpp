/// The keys of scenarios and controller files: each stands here once, with unit, range and meaning.
///
/// `scenario_keys` is walked by the decoder, the writer and the describer. The members of the struct hold the
/// defaults when the walk begins, except where a default follows from another key (initial.state, record).
/// modes, laws and controller parameters are expanded from controller/include.
/// Left out: `format`, `plant` and `plant_overrides`, which are trees of their own.
#pragma once

#include "scenarios/reader/keys.hpp"
#include "scenarios/reader/scenario.hpp"

namespace duskline::scenarios {

inline constexpr std::string_view kScenarioFormat = "duskline-scenario/1";
inline constexpr std::string_view kControllerFormat = "duskline-controller/1";

/// One parameter of a controller.
template <class Params>
struct ParameterOf {
  std::string_view name, unit;
  float lower, upper, value;
  std::string_view meaning, source;
  float Params::*member;
};
using ControllerParameter = ParameterOf<ctl_params>;             ///< from CTL_PARAMETER_LIST
using PlantControllerParameter = ParameterOf<ctl_plant_params>;  ///< from CTL_PLANT_PARAMETER_LIST
std::span<const ControllerParameter> controller_parameters();
std::span<const PlantControllerParameter> plant_controller_parameters();

/// All parameters of the plant controller of a scenario: what follows from the sizes of the plant, with what was given
/// put over it.
ctl_plant_params plant_controller_of(const plant::PlantParameters& plant, const Scenario& scenario);

std::vector<std::string> site_names();

/// A scenario with all defaults, controller parameters included.
Scenario default_scenario();

void scenario_keys(Keys& keys, Scenario& scenario);
/// All of them but those of a search.
void timed_keys(Keys& keys, Scenario& scenario);
/// The lists of what happens that a file of acts has too (acts.hpp), and what their numbers may be.
inline constexpr Quantity kDemandRange{"kg/s", 0.0, 2.0};
inline constexpr Quantity kCeilingRange{"W", 0.0, 1e7};
std::span<const Word> mode_choices();
/// A number that counts from 1 as one that counts from 0; -1: none.
void counted(Keys& keys, const Key& key, int& value);
/// `module` and `service`; not written where no module is named.
void module_request_keys(Keys& keys, int& module, int& service);
void alarm_action_keys(Keys& keys, std::vector<AlarmAction>& actions);
void all_event_keys(Keys& keys, std::vector<Event>& events);
void all_fault_keys(Keys& keys, std::vector<plant::FaultEvent>& list);
/// `exercise` and the keys below it.
void exercise_keys(Keys& keys, Exercise& exercise);
/// `tuning` and the keys below it.
void tuning_keys(Keys& keys, Scenario& scenario);
/// The keys below `controller`, and those of a controller file.
/// With `but`: of the parameters only those that differ from these.
void controller_keys(Keys& keys, ctl_params& params, const ctl_params* but = nullptr);
/// `plant_controller` and the keys below it; what was left open is not written.
void plant_controller_keys(Keys& keys, ctl_plant_params& given);

}  // namespace duskline::scenarios
