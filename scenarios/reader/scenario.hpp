/// A scenario as plain values: what happens to which plant under which law, for how long.
///
/// Everything is SI and complete; defaults are the values below. Times count from the start of the run.
/// t_n = n * period; the run has floor(duration / period) periods.
/// the site, storms, vortices and gusts are those of plant-model/environment.
/// Left out: the plant's parameters, which are beside it in Case.
#pragma once

#include <cstdint>
#include <limits>
#include <memory>
#include <numbers>
#include <string>
#include <vector>

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
#include "plant-model/environment/dust.hpp"
#include "plant-model/environment/vortices.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "scenarios/reader/tuning.hpp"

namespace duskline::scenarios {

struct Requirement;

enum class InitialState { cold, hot_idle, hot_standby, producing };

/// In the order of plant::Method.
enum class Integration { linearly_implicit, rosenbrock4, dormand_prince };

/// What the operator asks for from `at` on, until the next command; each one is complete.
struct Command {
  double at{};                                                     ///< s
  int mode{CTL_OFF};                                               ///< ctl_mode
  double oxygen_demand{};                                          ///< kg/s
  double power_ceiling{std::numeric_limits<double>::quiet_NaN()};  ///< W; NaN: none
  int module{-1};               ///< from 0, that `service` is about; -1: none
  int service{CTL_SERVICE_IN};  ///< ctl_service
};

/// What the operator does to the alarms.
struct AlarmAction {
  double at{};              ///< s
  int action{};             ///< ctl_alarm_action
  int alarm{CTL_ALARMS};    ///< ctl_alarm, or a number of plant_alarm_number; CTL_ALARMS: none
  double duration{3600.0};  ///< s, of shelving
  int module{-1};           ///< from 0, whose alarm it is; -1: of the plant, or of its one module
};

/// Alarms of the plant controller, by ctl_plant_alarm, come after those of a module. One word that both have is one alarm
/// of either list, by the module that is named.
int plant_alarm_number(int plant_alarm);
/// The ctl_plant_alarm that a number stands for, -1: none.
int plant_alarm_of(int alarm);

/// A plant parameter that changes at an instant.
struct Event {
  double at{};            ///< s
  std::string parameter;  ///< path of the dictionary; with `.3` one item of a list, else all of them
  double to{};            ///< in the unit of the dictionary
};

/// What is serviced; the work takes no time.
enum class ServicedPart { filter, bearing, seals, instruments };
/// As a scenario names it.
std::string_view word_of(ServicedPart part);

/// A part that people service at an instant.
struct Service {
  double at{};  ///< s
  ServicedPart part{};
};

/// What a search for the worst case may move, and which requirement it tries to break.
struct Falsification {
  std::string requirement;      ///< its name; empty: all of them, compared by their scales
  std::uint64_t runs{400};      ///< at most
  std::vector<Variation> vary;  ///< empty: the scenario is not meant to be searched
};

/// What else differs between the runs of a campaign, beside the plant, its instruments and the noise of the weather.
struct Dispersion {
  std::vector<Variation> vary;  ///< each drawn evenly from its range
};

/// What a requirement is in an exercise.
enum class Grade { none, expected, prohibited, limit };

/// What must hold, in the words of scenarios/requirements.
struct Statement {
  std::string name;  ///< short, one of its kind in the scenario
  std::string must;
  std::shared_ptr<const Requirement> parsed{};  ///< null where the reader did not get the signals
  Grade grade{};
};

/// A step of the lesson that an exercise begins with.
struct LessonStep {
  std::string title, text;
  std::string show;       ///< signals and parts, between commas
  std::string done_when;  ///< condition on the present instant; empty: the reader says so
};

/// The briefing of trainees; without an objective the scenario is no exercise.
struct Exercise {
  std::string objective, briefing;
  std::vector<LessonStep> lesson;
};

struct Start {
  double season{std::numbers::pi};  ///< rad, areocentric longitude at the start
  double local_time_h{6.0};         ///< h, true solar time, 24 h from midnight to midnight
};

struct Initial {
  InitialState state{InitialState::cold};
  double stack_temperature{};  ///< K
  double cathode_co{};         ///< mole fraction
  double operating_hours{};    ///< s of production behind the plant, see plant-model/wear.hpp
  /// s of it since the part was renewed; NaN: all of it
  double filter_hours{std::numeric_limits<double>::quiet_NaN()};
  double bearing_hours{std::numeric_limits<double>::quiet_NaN()};
  double seals_hours{std::numeric_limits<double>::quiet_NaN()};
};

struct Integrator {
  Integration method{Integration::linearly_implicit};
  double relative_tolerance{5e-4};
};

struct Scenario {
  std::string title;
  std::string purpose;
  std::uint64_t seed{1};
  std::uint64_t
      plant_draw{};  ///< 0: the plant as its file says; else drawn from the ranges of the file (draw.hpp)
  std::uint64_t structure_draw{};  ///< 0: the variants that the file chooses; else drawn (draw.hpp)
  double duration{};               ///< s
  double period{1.0};              ///< s, control period; controller.period follows it
  double record{1.0};              ///< s, a whole number of periods
  std::string site{"ember-hollow"};
  Start start;
  std::string weather;     ///< measured weather to replay, as written; empty: none
  double turbulence{1.0};  ///< factor on the fluctuations within a sol
  std::vector<plant::StormEvent> storms;
  std::vector<plant::VortexEvent> vortices;
  std::vector<plant::GustEvent> gusts;
  ctl_params controller{};              ///< with `law` and the table of the fixed law
  ctl_plant_params plant_controller{};  ///< NaN: its default, or what follows from the sizes of the plant
  Initial initial;
  std::vector<Command> commands;              ///< in rising order
  std::vector<AlarmAction> operator_actions;  ///< in the order of time
  std::vector<Event> events;                  ///< in the order of time
  std::vector<Service> services;              ///< in the order of time
  std::vector<plant::FaultEvent> faults;
  std::vector<Statement> requirements;
  Falsification falsify;
  Dispersion campaign;
  Integrator integrator;
  std::uint64_t
      fast_forward_sols{};  ///< stepped over at most behind a simulated one; 0: every tick is simulated
  Exercise exercise;
  Tuning tuning;  ///< what `tune` is asked for; without gains: nothing
};

}  // namespace duskline::scenarios
