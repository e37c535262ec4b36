#include "scenarios/reader/scenario_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "scenarios/reader/fault_fit.hpp"
#include "scenarios/reader/instruments.hpp"
#include "scenarios/reader/scenario_file.hpp"
#include "scenarios/reader/suggest.hpp"
#include "scenarios/requirements/trigger.hpp"

namespace duskline::scenarios {
namespace {

constexpr double kMostPeriods = 4294967295.0;  // the controller counts ticks in 32 bits
constexpr std::uint64_t kMostSolsStepped = 20;
constexpr double kWhole = 1e-9;  // relative, what passes for a whole number of periods

std::string seconds(double value) {
  return write_quantity(value, "s");
}

class Checker {
 public:
  Checker(const Decoder& decoder, Report& report) : decoder_{decoder}, report_{report} {}

  // A value that is wrong by itself is not compared with others.
  void print_error(const std::string& path, std::string message) {
    if (!report_.mentions(path)) report_.add(decoder_.where(path), path, std::move(message));
  }

  bool given(const std::string& path) const { return decoder_.given(path); }

  // A time is after the one before it, or at least not before it where `together` allows that.
  void rises(const std::string& path, double before, double now, bool together) {
    if (!decoder_.given(path) || now > before || (together && now == before)) return;
    print_error(path, fmt::format("{} is not {} {}, the time before it", seconds(now),
                                  together ? "at or after" : "after", seconds(before)));
  }

 private:
  const Decoder& decoder_;
  Report& report_;
};

void check_event(const Event& event, const std::string& path, const plant::PlantParameters* plant,
                 Checker& checker) {
  const ItemPath set = split_item(event.parameter);
  const plant::ParameterInfo* info = find_parameter(set.path);
  if (info == nullptr) return;
  if (plant != nullptr && !info->fits(plant->form))
    return checker.print_error(path + ".set",
                               fmt::format("'plant.{}' belongs to plants of another form", set.path));
  if (set.item < 0) return;
  plant::PlantParameters parameters;
  if (plant != nullptr) parameters.form = plant->form;  // it decides how long some lists are
  const std::size_t size = info->get(parameters).size();
  if (size == 1)
    checker.print_error(path + ".set",
                        fmt::format("'plant.{}' is one number and has no item [{}]", set.path, set.item));
  else if (set.item < 1 || static_cast<std::size_t>(set.item) > size)
    checker.print_error(
        path + ".set", fmt::format("there is no item [{}]; the list has {}, counted from 1", set.item, size));
}

/// The plant can be run after the events of each instant; if not, the first of them that made it so is reported.
void check_plant_after(const std::vector<Event>& events, plant::PlantParameters plant, const Report& report,
                       Checker& checker) {
  if (!plant::check(plant).empty()) return;  // the plant itself is refused
  std::size_t first = events.size();
  for (std::size_t i = 0; i < events.size(); ++i) {
    const std::string path = fmt::format("events[{}]", i + 1);
    if (!report.mentions(path + ".set") && !report.mentions(path + ".to")) apply(events[i], plant);
    const auto problems = plant::check(plant);
    first = problems.empty() ? events.size() : std::min(first, i);
    const bool same_instant = i + 1 < events.size() && events[i + 1].at == events[i].at;
    if (problems.empty() || same_instant) continue;
    const plant::ParameterProblem& p = problems.front();
    const std::string item = p.item > 0 ? fmt::format("[{}]", p.item) : "";
    return checker.print_error(fmt::format("events[{}].to", first + 1),
                               fmt::format("then plant.{}{} {}", p.path, item, p.message));
  }
}

void check_fault_of(const plant::FaultEvent& fault, const plant::FaultRow& row, const std::string& path,
                    const plant::PlantParameters& plant, Checker& checker) {
  if (const std::string why = why_not_here(row, plant); !why.empty())
    return checker.print_error(path + ".fault", why);
  if (!checker.given(path + ".module")) return;
  if (const std::string why = why_not_of_module(row, plant, fault.module); !why.empty())
    checker.print_error(path + ".module", why);
}

void check_command(const Command& command, const std::string& path, const plant::PlantParameters& plant,
                   Checker& checker) {
  const bool named = checker.given(path + ".module"), asked = checker.given(path + ".service");
  if (named && !asked)
    checker.print_error(path + ".module", "needs a service: in, spare or out");
  else if (asked && !named)
    checker.print_error(path + ".service", "needs a module");
  else if (const std::string why = named ? no_such_module(plant, command.module) : ""; !why.empty())
    checker.print_error(path + ".module", why);
}

/// An alarm of the plant controller is named without a module, one of a module with it.
void check_alarm_of(const AlarmAction& a, const std::string& path, const plant::PlantParameters& plant,
                    Checker& checker) {
  if (a.module >= 0)
    if (const std::string why = no_such_module(plant, a.module); !why.empty())
      return checker.print_error(path + ".module", why);
  if (a.alarm == CTL_ALARMS) return;
  const bool of_plant = plant::has_headers(plant.form) && a.module < 0;
  if (of_plant && plant_alarm_of(a.alarm) < 0)
    checker.print_error(path + ".alarm", "is an alarm of a module; say of which with `module`");
  if (!of_plant && a.alarm > CTL_ALARMS)
    checker.print_error(path + ".alarm",
                        "is an alarm that only a plant with several modules has, as a whole");
}

void check_sentence(const std::string& sentence, const ParsedRequirement& parsed, const std::string& path,
                    Checker& checker) {
  for (const auto& problem : parsed.problems) checker.print_error(path, message_of(problem, sentence));
}

void check_fault(const plant::FaultEvent& fault, const std::string& path, const plant::PlantParameters* plant,
                 std::span<const TraceSignal> signals, Checker& checker) {
  if (!fault.when.empty() && !signals.empty())
    check_sentence(fault.when, parse_trigger(fault.when, signals), path + ".when", checker);
  const plant::FaultRow* row = plant::find_fault(fault.fault);
  if (row == nullptr) return;
  if (plant != nullptr) check_fault_of(fault, *row, path, *plant, checker);
  const std::size_t size = fault_items(*row);
  if (size > 0 && (fault.item < 0 || static_cast<std::size_t>(fault.item) >= size))
    checker.print_error(path + ".item", fmt::format("there is no item {}; '{}' has {}, counted from 1",
                                                    fault.item + 1, fault.fault, size));
  if (fault.shape == plant::FaultShape::pulse && std::isnan(fault.length))
    checker.print_error(path + ".length", "a pulse needs a length");
}

void check_statement(std::span<Statement> all, std::size_t i, std::span<const TraceSignal> signals,
                     Checker& checker) {
  const std::string path = fmt::format("requirements[{}]", i + 1);
  for (std::size_t k = 0; k < i; ++k)
    if (all[k].name == all[i].name)
      checker.print_error(path + ".name",
                          fmt::format("'{}' is used already, by requirements[{}]", all[i].name, k + 1));
  if (signals.empty() || all[i].must.empty()) return;
  auto parsed = parse_requirement(all[i].must, signals);
  if (parsed.problems.empty())
    all[i].parsed = std::make_shared<const Requirement>(std::move(parsed.requirement));
  check_sentence(all[i].must, parsed, path + ".must", checker);
}

void check_lesson(const std::vector<LessonStep>& lesson, std::span<const TraceSignal> signals,
                  Checker& checker) {
  if (signals.empty()) return;
  for (std::size_t i = 0; i < lesson.size(); ++i)
    if (!lesson[i].done_when.empty())
      check_sentence(lesson[i].done_when, parse_requirement(lesson[i].done_when, signals),
                     fmt::format("exercise.lesson[{}].done_when", i + 1), checker);
}

void check_falsification(const Scenario& s, const PlantFile& plant, const Decoder& decoder, Report& report,
                         Checker& checker) {
  if (!decoder.given("falsify")) return;
  std::vector<std::string> names;
  for (const Statement& statement : s.requirements) names.push_back(statement.name);
  const std::string& wanted = s.falsify.requirement;
  if (!wanted.empty() && std::find(names.begin(), names.end(), wanted) == names.end())
    checker.print_error("falsify.requirement",
                        fmt::format("no requirement is called '{}'{}", wanted, did_you_mean(wanted, names)));
  if (names.empty()) checker.print_error("falsify", "there are no requirements that could be broken");
  if (s.falsify.runs == 0) checker.print_error("falsify.runs", "is 0; a search takes at least one run");
  if (s.falsify.vary.empty()) checker.print_error("falsify.vary", "is empty; name a number to vary");
  check_variations(s.falsify.vary, "falsify.vary", s, plant, decoder, report);
}

void check_dispersion(const Scenario& s, const PlantFile& plant, const Decoder& decoder, Report& report,
                      Checker& checker) {
  if (!decoder.given("campaign")) return;
  if (s.campaign.vary.empty()) checker.print_error("campaign.vary", "is empty; name a number to vary");
  check_variations(s.campaign.vary, "campaign.vary", s, plant, decoder, report);
}

}  // namespace

void check_controller(const ctl_params& params, const std::string& prefix, const Decoder& decoder,
                      Report& report) {
  Checker checker{decoder, report};
  for (std::size_t i = 1; i < params.table_rows; ++i)
    checker.rises(fmt::format("{}table[{}].at", prefix, i + 1), static_cast<double>(params.table_time[i - 1]),
                  static_cast<double>(params.table_time[i]), false);
  if (params.law == CTL_LAW_FIXED && params.table_rows == 0)
    checker.print_error(prefix + "law", fmt::format("the fixed law needs rows in {}table", prefix));
}

void check_rises(const std::string& path, double before, double now, const Decoder& decoder, Report& report) {
  Checker{decoder, report}.rises(path, before, now, true);
}

void check_alarm_actions(const std::vector<AlarmAction>& actions, const Decoder& decoder, Report& report,
                         const plant::PlantParameters* plant) {
  Checker checker{decoder, report};
  for (std::size_t i = 0; i < actions.size(); ++i) {
    const AlarmAction& a = actions[i];
    const std::string path = fmt::format("operator[{}]", i + 1);
    if (i > 0) checker.rises(path + ".at", actions[i - 1].at, a.at, true);
    if (a.alarm == CTL_ALARMS && !report.mentions(path + ".alarm") && a.action != CTL_ALARM_NO_ACTION &&
        a.action != CTL_ALARM_ACKNOWLEDGE_ALL)
      checker.print_error(path + ".action", "the action is meant for one alarm, and none is named");
    if (plant != nullptr && !report.mentions(path + ".alarm")) check_alarm_of(a, path, *plant, checker);
  }
}

void check_events(const std::vector<Event>& events, const Decoder& decoder, Report& report,
                  const plant::PlantParameters* plant) {
  Checker checker{decoder, report};
  for (std::size_t i = 0; i < events.size(); ++i) {
    if (i > 0) checker.rises(fmt::format("events[{}].at", i + 1), events[i - 1].at, events[i].at, true);
    check_event(events[i], fmt::format("events[{}]", i + 1), plant, checker);
  }
  if (plant != nullptr) check_plant_after(events, *plant, report, checker);
}

void check_faults(const std::vector<plant::FaultEvent>& faults, const Decoder& decoder, Report& report,
                  std::span<const TraceSignal> signals, const plant::PlantParameters* plant) {
  Checker checker{decoder, report};
  for (std::size_t i = 0; i < faults.size(); ++i)
    check_fault(faults[i], fmt::format("faults[{}]", i + 1), plant, signals, checker);
}

void check_scenario(Scenario& s, const PlantFile& plant, const Decoder& decoder, Report& report,
                    std::span<const TraceSignal> signals) {
  Checker checker{decoder, report};
  if (s.duration > 0.0 && s.duration < s.period)
    checker.print_error("duration", fmt::format("{} is shorter than one period of {}", seconds(s.duration),
                                                seconds(s.period)));
  if (s.duration / s.period > kMostPeriods)
    checker.print_error("duration",
                        fmt::format("is more than {:.0f} periods of {}", kMostPeriods, seconds(s.period)));
  const double rows = s.record / s.period, whole = std::round(rows);
  if (whole < 1.0 || std::abs(rows - whole) > kWhole * rows)
    checker.print_error("record", fmt::format("{} is not a whole number of periods of {}", seconds(s.record),
                                              seconds(s.period)));
  if (s.fast_forward_sols > kMostSolsStepped)
    checker.print_error("fast_forward.sols",
                        fmt::format("{} is more than {}: the season would move on too far unseen",
                                    s.fast_forward_sols, kMostSolsStepped));
  check_controller(s.controller, "controller.", decoder, report);
  if (decoder.given("plant_controller") && !plant::has_headers(plant.parameters.form))
    checker.print_error(
        "plant_controller",
        "this plant has one module and no headers; what controls it stands under `controller`");
  for (std::size_t i = 1; i < s.commands.size(); ++i)
    checker.rises(fmt::format("commands[{}].at", i + 1), s.commands[i - 1].at, s.commands[i].at, false);
  for (std::size_t i = 0; i < s.commands.size(); ++i)
    check_command(s.commands[i], fmt::format("commands[{}]", i + 1), plant.parameters, checker);
  check_alarm_actions(s.operator_actions, decoder, report, &plant.parameters);
  check_events(s.events, decoder, report, plant.notes.empty() ? nullptr : &plant.parameters);
  for (std::size_t i = 1; i < s.services.size(); ++i)
    checker.rises(fmt::format("services[{}].at", i + 1), s.services[i - 1].at, s.services[i].at, true);
  check_faults(s.faults, decoder, report, signals, &plant.parameters);
  for (std::size_t i = 0; i < s.requirements.size(); ++i)
    check_statement(s.requirements, i, signals, checker);
  check_lesson(s.exercise.lesson, signals, checker);
  check_falsification(s, plant, decoder, report, checker);
  check_dispersion(s, plant, decoder, report, checker);
  check_tuning(s, plant, decoder, report, signals);
}

}  // namespace duskline::scenarios
