#include "scenarios/reader/scenario_keys.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "plant-model/environment/site.hpp"
#include "scenarios/reader/controller_sizes.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::scenarios {
namespace {

constexpr double kCentury = 3.2e9;  // s, longer than any run
constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr double kHoursPerSol = 24.0;  // local time counts 24 h from midnight to midnight

constexpr Quantity kTime{"s", 0.0, kCentury};
constexpr Quantity kEarlierTime{"s", -kCentury, kCentury};

// The identifiers of the lists in controller.h double as values.
#define DUSKLINE_WORD(identifier, value, text, meaning) {value, text, meaning},
constexpr Word kModes[] = {CTL_MODE_LIST(DUSKLINE_WORD)};
constexpr Word kLaws[] = {CTL_LAW_LIST(DUSKLINE_WORD)};

constexpr Word kAlarmActions[] = {CTL_ALARM_ACTION_LIST(DUSKLINE_WORD)};
#undef DUSKLINE_WORD
#define DUSKLINE_ALARM(identifier, number, word, severity, minutes, priority, latched, on, off, source, \
                       argument, limit, dead_band, suppressed, consequence, cause, action)              \
  {number, word, action},
constexpr Word kModuleAlarms[] = {CTL_ALARM_LIST(DUSKLINE_ALARM){CTL_ALARMS, "none", "no single alarm"}};
constexpr Word kPlantAlarms[] = {CTL_PLANT_ALARM_LIST(DUSKLINE_ALARM)};
#undef DUSKLINE_ALARM

/// Where a word of the plant's list stands among those of a module; behind the last: it does not.
const Word* module_alarm(std::string_view word) {
  return std::find_if(std::begin(kModuleAlarms), std::end(kModuleAlarms),
                      [&](const Word& w) { return w.word == word; });
}

std::span<const Word> alarm_choices() {
  static const std::vector<Word> list = [] {
    std::vector<Word> all(std::begin(kModuleAlarms), std::end(kModuleAlarms));
    for (const Word& w : kPlantAlarms)
      if (module_alarm(w.word) == std::end(kModuleAlarms))
        all.push_back({CTL_ALARMS + 1 + w.value, w.word, w.meaning});
    return all;
  }();
  return list;
}

constexpr Word kInitialStates[] = {
    {static_cast<int>(InitialState::cold), "cold", "stack at ambient, all gas volumes full of air"},
    {static_cast<int>(InitialState::hot_idle), "hot-at-rest", "stack hot, neither flow nor current"},
    {static_cast<int>(InitialState::hot_standby), "hot-standby",
     "stack hot, settled at protective flow and current"},
    {static_cast<int>(InitialState::producing), "producing", "stack hot, settled at the first demand"}};

constexpr Word kShapes[] = {{static_cast<int>(plant::FaultShape::step), "step", "at once"},
                            {static_cast<int>(plant::FaultShape::ramp), "ramp", "rises and stays"},
                            {static_cast<int>(plant::FaultShape::pulse), "pulse", "rises and falls again"}};

constexpr Word kIntegrations[] = {
    {static_cast<int>(Integration::linearly_implicit), "linearly-implicit",
     "ours, exact Jacobian; the one to run with"},
    {static_cast<int>(Integration::rosenbrock4), "rosenbrock4", "of Boost.Odeint, a check"},
    {static_cast<int>(Integration::dormand_prince), "dormand-prince", "of Boost.Odeint, explicit, a check"}};

#define DUSKLINE_PARAMETER(name, value, unit, lower, upper, meaning, source) \
  {#name, unit, lower, upper, value, meaning, source, &ctl_params::name},
constexpr ControllerParameter kParameters[] = {CTL_PARAMETER_LIST(DUSKLINE_PARAMETER)};
#undef DUSKLINE_PARAMETER

#define DUSKLINE_PARAMETER(name, value, unit, lower, upper, meaning, source) \
  {#name, unit, lower, upper, value, meaning, source, &ctl_plant_params::name},
constexpr PlantControllerParameter kPlantParameters[] = {CTL_PLANT_PARAMETER_LIST(DUSKLINE_PARAMETER)};
#undef DUSKLINE_PARAMETER

// The state of the plant that goes with a way of starting, unless the scenario says otherwise.
Initial usual_initial(InitialState state) {
  switch (state) {
    case InitialState::cold:
      return {state, 230.0, 0.0, 0.0};
    case InitialState::hot_idle:
    case InitialState::hot_standby:
      return {state, 1073.15, 0.3, 0.0};
    case InitialState::producing:
      return {state, 1073.15, 0.5, 0.0};
  }
  return {};
}

constexpr Word kServicedParts[] = {
    {static_cast<int>(ServicedPart::filter), "filter", "the dust is removed from the filter"},
    {static_cast<int>(ServicedPart::bearing), "bearing", "a new bearing is put into the compressor"},
    {static_cast<int>(ServicedPart::seals), "seals", "new tip seals are put into the compressor"},
    {static_cast<int>(ServicedPart::instruments), "instruments",
     "every instrument is calibrated: its drift is taken away, its class error stays; the controller drops "
     "its corrections"}};
constexpr Word kGrades[] = {
    {static_cast<int>(Grade::none), "none", "it is not part of the grade"},
    {static_cast<int>(Grade::expected), "expected", "an act that is expected in time"},
    {static_cast<int>(Grade::prohibited), "prohibited", "an act that is prohibited"},
    {static_cast<int>(Grade::limit), "limit", "a limit of the plant"}};

// Walks a word whose values are those of an enumeration.
template <class Enum>
void word(Keys& keys, const Key& key, std::span<const Word> words, Enum& value) {
  int number = static_cast<int>(value);
  keys.word(key, words, number);
  value = static_cast<Enum>(number);
}

void start_keys(Keys& keys, Start& start) {
  keys.number({"season", "areocentric longitude Ls at the start: 0 northern spring, 90 deg summer"},
              {"rad", 0.0, kTurn}, start.season);
  keys.number({"local_time", "true solar time at the start, 24 h to a sol, 12 h noon"},
              {"h", 0.0, kHoursPerSol}, start.local_time_h);
}

void weather_keys(Keys& keys, Scenario& s) {
  keys.text({"weather", "measured weather to replay, a CSV file relative to the scenario"}, s.weather);
  keys.number({"turbulence", "factor on the fluctuations within a sol; 0 is calm air"}, {"1", 0.0, 10.0},
              s.turbulence);
  keys.list({"storms", "dust storms"}, s.storms, [&](plant::StormEvent& storm, std::size_t) {
    keys.number({"at", "start of the storm; may lie before the run", true}, kEarlierTime, storm.start);
    keys.number({"peak", "optical depth at the height of the storm", true}, {"1", 0.0, 30.0}, storm.peak);
    keys.number({"rise", "from the start to the peak", true}, {"s", 1.0, kCentury}, storm.rise);
    keys.number({"decay", "time in which the depth falls to 1/e after the peak", true}, {"s", 1.0, kCentury},
                storm.decay);
  });
  keys.list(
      {"vortices", "dust devils that pass over the plant"}, s.vortices,
      [&](plant::VortexEvent& vortex, std::size_t) {
        keys.number({"at", "closest approach", true}, kTime, vortex.time);
        keys.number({"depth", "fall of the pressure at the centre", true}, {"Pa", 0.0, 50.0}, vortex.depth);
        keys.number({"width", "full width at half the depth, in time", true}, {"s", 0.5, 3600.0},
                    vortex.width);
        keys.number({"warming", "rise of the air temperature at the centre"}, {"K", 0.0, 50.0},
                    vortex.warming);
        keys.number({"dust", "suspended dust in the core"}, {"kg/m3", 0.0, 0.1}, vortex.dust);
      });
  keys.list({"gusts", "gusts of wind"}, s.gusts, [&](plant::GustEvent& gust, std::size_t) {
    keys.number({"at", "peak of the gust", true}, kTime, gust.time);
    keys.number({"speed", "added to the mean wind", true}, {"m/s", 0.0, 100.0}, gust.speed);
    keys.number({"length", "from start to end", true}, {"s", 0.5, 86400.0}, gust.length);
  });
}

void initial_keys(Keys& keys, Initial& initial) {
  word(keys, {"state", "how the plant stands when the run begins"}, kInitialStates, initial.state);
  if (keys.reads()) initial = usual_initial(initial.state);
  keys.number({"stack_temperature", "of all zones; by default 230 K cold, 800 degC hot"},
              {"K", 120.0, 1400.0}, initial.stack_temperature);
  keys.number(
      {"cathode_co", "mole fraction of CO in the cathode gas; by default 0 cold, 30 % hot, 50 % producing"},
      {"1", 0.0, 1.0}, initial.cathode_co);
  keys.number({"operating_hours",
               "production behind the plant: cells aged, filter dusty, compressor worn by that much"},
              {"s", 0.0, kCentury}, initial.operating_hours);
  keys.number_or_none({"filter_hours", "production since the filter was cleaned; by default all of it"},
                      {"s", 0.0, kCentury}, initial.filter_hours);
  keys.number_or_none({"bearing_hours", "production since the bearing was new; by default all of it"},
                      {"s", 0.0, kCentury}, initial.bearing_hours);
  keys.number_or_none({"seals_hours", "production since the tip seals were new; by default all of it"},
                      {"s", 0.0, kCentury}, initial.seals_hours);
}

constexpr Word kServiceWords[] = {
    {CTL_SERVICE_IN, "in", "in service"},
    {CTL_SERVICE_SPARE, "spare", "hot spare: at standby until the others do not meet the demand"},
    {CTL_SERVICE_OUT, "out", "taken out: cools, is isolated, then may be worked on"}};

void event_keys(Keys& keys, Event& event, std::span<const std::string> paths) {
  keys.number({"at", "instant of the change", true}, kTime, event.at);
  std::string set = event.parameter.empty() ? "" : "plant." + event.parameter;
  keys.choice({"set", "plant parameter; with .3 one item of a list, else all items", true}, paths, true, set);
  event.parameter = set.empty() ? "" : set.substr(std::string_view{"plant."}.size());
  const plant::ParameterInfo* info = find_parameter(split_item(event.parameter).path);
  const Key to{"to", "its new value, within the limits of the model", true};
  if (info != nullptr)
    keys.number(to, {info->unit, info->lower, info->upper}, event.to);
  else
    keys.skip(to);
}

void fault_keys(Keys& keys, plant::FaultEvent& fault, std::span<const std::string> names) {
  keys.number({"at", "when the fault sets in", true}, kTime, fault.at);
  keys.choice({"fault", "name of the fault; `describe faults` lists them", true}, names, false, fault.fault);
  const plant::FaultRow* row = plant::find_fault(fault.fault);
  const Key size{"size", "how large it is, in the unit of the fault; by default as it is listed"};
  const Key item{"item", "which item of a list, counted from 1; by default as it is listed"};
  const Key shape{"shape",
                  "course: at once, rising, or rising and falling again; by default as it is listed"};
  const Key rise{"rise",
                 "time in which a ramp rises and a pulse rises and falls; by default as it is listed"};
  const Key length{"length",
                   "how long it lasts, none until the end; by default as it is listed, 1 h for a pulse"};
  const Key module{
      "module",
      "which module has it, counted from 1, where the plant has several; all of them when left out"};
  const Key when{
      "when",
      "a condition in the language of requirements; the fault sets in once it has come true, and at "
      "`at` when left out"};
  if (row == nullptr) {
    keys.skip(size);
    if (keys.reads()) {
      for (const Key& key : {item, module, shape, rise, length, when}) keys.skip(key);
      return;
    }
    keys.text(when, fault.when);
    std::uint64_t first = 1;  // a description of all keys
    keys.whole(item, first);
    keys.whole(module, first);
    word(keys, shape, kShapes, fault.shape);
    keys.number(rise, {"s", 0.01, kCentury}, fault.rise);
    keys.number_or_none(length, {"s", 0.01, kCentury}, fault.length);
    return;
  }
  if (keys.reads()) fault = plant::usual_fault(*row, fault.at);
  if (keys.reads() || !fault.when.empty()) keys.text(when, fault.when);
  if (row->has_size()) keys.number(size, {row->unit, row->lower, row->upper}, fault.size);
  if (row->item >= 0) {
    auto number = static_cast<std::uint64_t>(fault.item) + 1;
    keys.whole(item, number);
    fault.item = static_cast<int>(std::min<std::uint64_t>(number, 1000000)) - 1;  // 0: the check refuses it
  }
  if (keys.reads() || fault.module >= 0) counted(keys, module, fault.module);
  if (row->course == plant::FaultCourse::shaped) word(keys, shape, kShapes, fault.shape);
  const bool rises = row->course == plant::FaultCourse::growing ||
                     (row->course == plant::FaultCourse::shaped && fault.shape != plant::FaultShape::step);
  if (rises) keys.number(rise, {"s", 0.01, kCentury}, fault.rise);
  if (keys.reads() && fault.shape == plant::FaultShape::pulse && std::isnan(fault.length))
    fault.length = 3600.0;
  if (row->course == plant::FaultCourse::shaped)
    keys.number_or_none(length, {"s", 0.01, kCentury}, fault.length);
  if (row->course == plant::FaultCourse::passing) keys.number(length, {"s", 0.5, 86400.0}, fault.length);
}

void falsify_keys(Keys& keys, Scenario& s) {
  Falsification& f = s.falsify;
  const bool walks = keys.reads() || !f.vary.empty();  // an empty one is not written
  if (!walks) return;
  const std::vector<NumberPath> paths = number_paths(s);
  keys.map({"falsify", "what `duskline falsify` may move in its search for the worst case"}, [&] {
    keys.text({"requirement", "name of the one to break; all of them when left out"}, f.requirement);
    keys.whole({"runs", "how many runs it may take"}, f.runs);
    variation_keys(keys, f.vary, paths);
  });
}

void campaign_keys(Keys& keys, Scenario& s) {
  if (!keys.reads() && s.campaign.vary.empty()) return;  // an empty one is not written
  const std::vector<NumberPath> paths = number_paths(s);
  keys.map({"campaign", "what `duskline campaign` draws anew for each run, beside the plant and the noise"},
           [&] { variation_keys(keys, s.campaign.vary, paths); });
}

}  // namespace

std::string_view word_of(ServicedPart part) {
  for (const Word& w : kServicedParts)
    if (w.value == static_cast<int>(part)) return w.word;
  return {};
}

std::span<const ControllerParameter> controller_parameters() {
  return kParameters;
}

std::span<const PlantControllerParameter> plant_controller_parameters() {
  return kPlantParameters;
}

ctl_plant_params plant_controller_of(const plant::PlantParameters& plant, const Scenario& scenario) {
  ctl_plant_params params;
  ctl_plant_default_params(&params);
  size_controller(plant, params);
  for (const PlantControllerParameter& p : kPlantParameters)
    if (const float given = scenario.plant_controller.*p.member; !std::isnan(given)) params.*p.member = given;
  params.period = static_cast<float>(scenario.period);
  return params;
}

std::vector<std::string> site_names() {
  std::vector<std::string> names;
  for (const plant::Site& site : plant::kSites) names.emplace_back(site.name);
  return names;
}

Scenario default_scenario() {
  Scenario scenario;
  for (const ControllerParameter& parameter : kParameters)
    scenario.controller.*parameter.member = parameter.value;
  for (const PlantControllerParameter& parameter : kPlantParameters)
    scenario.plant_controller.*parameter.member = std::numeric_limits<float>::quiet_NaN();
  scenario.controller.law = CTL_LAW_CASCADE;
  scenario.initial = usual_initial(scenario.initial.state);
  return scenario;
}

void controller_keys(Keys& keys, ctl_params& params, const ctl_params* but) {
  word(keys, {"law", "control law"}, kLaws, params.law);
  std::vector<const ControllerParameter*> walked;
  for (const ControllerParameter& p : kParameters)
    if (p.member != &ctl_params::period && (but == nullptr || params.*p.member != but->*p.member))
      walked.push_back(&p);
  if (!walked.empty())
    keys.map({"parameters", "what differs from the defaults of the controller"}, [&] {
      for (const ControllerParameter* p : walked)
        keys.number({p->name, p->meaning, false, p->source}, {p->unit, p->lower, p->upper},
                    params.*p->member);
    });
  const auto resize = [&](std::size_t size) { params.table_rows = static_cast<std::uint32_t>(size); };
  const auto row = [&](std::size_t i) {
    keys.number({"at", "from when on the row holds", true}, kTime, params.table_time[i]);
    keys.number({"speed", "compressor speed", true}, {"rad/s", 0.0, 700.0}, params.table_speed[i]);
    keys.number({"current", "stack current", true}, {"A", 0.0, 10.0}, params.table_current[i]);
  };
  keys.list({"table", "speeds and currents by time, for the fixed law"},
            {params.table_rows, CTL_TABLE_ROWS, resize, row});
}

void plant_controller_keys(Keys& keys, ctl_plant_params& given) {
  std::vector<const PlantControllerParameter*> walked;
  for (const PlantControllerParameter& p : kPlantParameters)
    if (p.member != &ctl_plant_params::period && !(keys.writes() && std::isnan(given.*p.member)))
      walked.push_back(&p);
  if (walked.empty()) return;
  const auto inside = [&] {
    for (const PlantControllerParameter* p : walked) {
      float usual = p->value;
      float& value = keys.reads() || keys.writes() ? given.*p->member : usual;
      keys.number({p->name, p->meaning, false, p->source}, {p->unit, p->lower, p->upper}, value);
    }
  };
  keys.map({"plant_controller", "what controls the parts that modules share"}, [&] {
    keys.map(
        {"parameters", "what differs from its defaults and from what follows from the sizes of the plant"},
        inside);
  });
}

void counted(Keys& keys, const Key& key, int& value) {
  auto number = static_cast<std::uint64_t>(value) + 1;  // -1, none, is 0
  keys.whole(key, number);
  value = static_cast<int>(std::min<std::uint64_t>(number, 1000000)) - 1;
}

void module_request_keys(Keys& keys, int& module, int& service) {
  if (!keys.reads() && module < 0) return;
  counted(keys, {"module", "which module `service` is about, counted from 1, where the plant has several"},
          module);
  keys.word({"service", "what is asked of that module"}, kServiceWords, service);
}

std::span<const Word> mode_choices() {
  return kModes;
}

int plant_alarm_number(int plant_alarm) {
  const Word* same = module_alarm(kPlantAlarms[plant_alarm].word);
  return same != std::end(kModuleAlarms) ? same->value : CTL_ALARMS + 1 + plant_alarm;
}

int plant_alarm_of(int alarm) {
  for (int k = 0; k < CTL_PLANT_ALARMS; ++k)
    if (plant_alarm_number(k) == alarm) return k;
  return -1;
}

void alarm_action_keys(Keys& keys, std::vector<AlarmAction>& actions) {
  keys.list(
      {"operator", "what the operator does to alarms; one action a period"}, actions,
      [&](AlarmAction& action, std::size_t) {
        keys.number({"at", "instant of the action", true}, kTime, action.at);
        word(keys, {"action", "what is done"}, kAlarmActions, action.action);
        word(keys, {"alarm", "to which alarm; none where all are meant"}, alarm_choices(), action.alarm);
        if (keys.reads() || action.module >= 0)
          counted(keys, {"module", "whose alarm it is, counted from 1; the plant's when left out"},
                  action.module);
        keys.number({"for", "how long an alarm is shelved"}, {"s", 1.0, kCentury}, action.duration);
      });
}

void all_event_keys(Keys& keys, std::vector<Event>& events) {
  std::vector<std::string> paths;
  for (const plant::ParameterInfo& info : plant::parameter_table())
    paths.push_back("plant." + std::string{info.path});
  keys.list({"events", "changes of plant parameters during the run"}, events,
            [&](Event& event, std::size_t) { event_keys(keys, event, paths); });
}

void all_fault_keys(Keys& keys, std::vector<plant::FaultEvent>& list) {
  std::vector<std::string> faults;
  for (const plant::FaultRow& row : plant::fault_table()) faults.emplace_back(row.name);
  keys.list({"faults", "faults that set in during the run"}, list,
            [&](plant::FaultEvent& fault, std::size_t) { fault_keys(keys, fault, faults); });
}

void timed_keys(Keys& keys, Scenario& s) {
  keys.text({"title", "what happens, in a line", true}, s.title);
  keys.text({"purpose", "what the scenario is for, in a sentence or two", false, {}, true}, s.purpose);
  keys.whole({"seed", "of all random numbers, 0 to 2^64 - 1"}, s.seed);
  keys.whole(
      {"plant_draw",
       "0: the plant as its file says; 1, 2, ...: another one each, every parameter drawn from its range"},
      s.plant_draw);
  keys.whole({"structure_draw",
              "0: the plant's variants as its file says; 1, 2, ...: another law for some of its parts each"},
             s.structure_draw);
  keys.number({"duration", "how long the run lasts", true}, {"s", 0.01, kCentury}, s.duration);
  keys.number({"period", "control period"}, {"s", 0.01, 10.0}, s.period);
  s.controller.period = static_cast<float>(s.period);
  if (keys.reads()) s.record = s.period;
  keys.number(
      {"record", "time between rows of the trace, a whole number of periods; by default every period"},
      {"s", 0.01, 1e7}, s.record);
  const std::vector<std::string> sites = site_names();
  keys.choice({"site", "where the plant stands"}, sites, false, s.site);
  keys.map({"start", "when the run begins"}, [&] { start_keys(keys, s.start); });
  weather_keys(keys, s);
  keys.map({"controller", "what controls the plant"}, [&] { controller_keys(keys, s.controller); });
  plant_controller_keys(keys, s.plant_controller);
  keys.map({"initial", "how the plant stands when the run begins"}, [&] { initial_keys(keys, s.initial); });
  keys.list({"commands", "what the operator asks for"}, s.commands, [&](Command& command, std::size_t i) {
    if (keys.reads() && i > 0) command = s.commands[i - 1];  // what it leaves out stays as it was
    keys.number({"at", "instant of the command", true}, kTime, command.at);
    word(keys, {"mode", "mode asked for; stays as it was when left out"}, kModes, command.mode);
    keys.number({"demand", "oxygen asked for; stays as it was when left out"}, kDemandRange,
                command.oxygen_demand);
    keys.number_or_none(
        {"power_ceiling", "power that the bus allows, or none; stays as it was when left out"}, kCeilingRange,
        command.power_ceiling);
    if (keys.reads()) command.module = -1;
    module_request_keys(keys, command.module, command.service);
  });
  alarm_action_keys(keys, s.operator_actions);
  all_event_keys(keys, s.events);
  keys.list({"services", "parts that people service; the work takes no time"}, s.services,
            [&](Service& service, std::size_t) {
              keys.number({"at", "instant of the service", true}, kTime, service.at);
              word(keys, {"part", "which part"}, kServicedParts, service.part);
            });
  all_fault_keys(keys, s.faults);
  keys.list({"requirements", "what must hold; see docs/how-to/state-requirements.md"}, s.requirements,
            [&](Statement& statement, std::size_t) {
              keys.text({"name", "short name, used once in a scenario", true}, statement.name);
              keys.text({"must", "the requirement, in words and units", true}, statement.must);
              word(keys, {"grade", "what it is in an exercise"}, kGrades, statement.grade);
            });
  keys.map({"integrator", "how the equations of the plant are solved"}, [&] {
    word(keys, {"method", "of integration"}, kIntegrations, s.integrator.method);
    keys.number(
        {"relative_tolerance", "of the integration; the absolute tolerance of each state scales with it"},
        {"1", 1e-9, 3e-3}, s.integrator.relative_tolerance);
  });
  keys.map({"fast_forward", "steps over whole sols of a long run; see docs/how-to/run-a-year.md"}, [&] {
    keys.whole({"sols", "stepped over at most behind each simulated sol, up to 20; 0: none"},
               s.fast_forward_sols);
  });
}

void exercise_keys(Keys& keys, Exercise& e) {
  if (!keys.reads() && e.objective.empty()) return;
  keys.map({"exercise", "briefing and lesson of those who are trained with the scenario"}, [&] {
    keys.text({"objective", "what is practised, in a sentence", true}, e.objective);
    keys.text({"briefing", "what the shift knows at its beginning", false, {}, true}, e.briefing);
    keys.list({"lesson", "steps that explain plant and console"}, e.lesson,
              [&](LessonStep& step, std::size_t) {
                keys.text({"title", "of the step", true}, step.title);
                keys.text({"text", "what is explained", true, {}, true}, step.text);
                keys.text({"show", "signals and parts to point at, between commas"}, step.show);
                keys.text({"done_when", "condition that says that it is done"}, step.done_when);
              });
  });
}

void scenario_keys(Keys& keys, Scenario& s) {
  timed_keys(keys, s);
  exercise_keys(keys, s.exercise);
  falsify_keys(keys, s);
  campaign_keys(keys, s);
  tuning_keys(keys, s);
}

}  // namespace duskline::scenarios
