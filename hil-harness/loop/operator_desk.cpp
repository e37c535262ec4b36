#include "hil-harness/loop/operator_desk.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "hil-harness/loop/alarm_log.hpp"
#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/loop/words.hpp"

namespace duskline::harness {
namespace {

std::string rate_text(double oxygen) {
  const double rate = oxygen * kGramsPerHour;
  return rate < 1000.0 ? fmt::format("{:.3g} g/h", rate) : fmt::format("{:.0f} g/h", rate);
}

/// Tells what is asked of a module and puts it into force; nothing where none is named.
std::string ask_module(int module, int service, Snapshot& s, const char* before) {
  if (module < 0) return {};
  s.service[static_cast<std::size_t>(module)] = static_cast<std::uint32_t>(service);
  return fmt::format("{}module {} {}", before, module + 1,
                     word_of(service_words(), static_cast<std::uint32_t>(service)));
}

/// An alarm that an action is about: its word, and its state.
struct AlarmMeant {
  std::string word;
  std::uint8_t state{};
  bool known{};
};
AlarmMeant alarm_meant(const Snapshot& s, std::span<const std::uint8_t> states_before) {
  const std::uint32_t number = s.measured.alarm_number;
  if (s.shared != nullptr && s.action_for < 0) {
    const int k = scenarios::plant_alarm_of(static_cast<int>(number));
    if (k < 0) return {"no alarm"};
    const auto at = static_cast<std::size_t>(k);
    return {std::string(plant_alarm_words()[at].word), s.shared->control.alarm_state[at], true};
  }
  if (number >= CTL_ALARMS) return {"no alarm"};
  if (s.shared == nullptr) return {alarm_info(number).word, states_before[number], true};
  const auto module = static_cast<std::size_t>(s.action_for);
  return {fmt::format("{} of module {}", alarm_info(number).word, module + 1),
          s.modules[module]->control.alarm_state[number], true};
}

/// Why an action on an alarm was ignored.
std::string reason(const ctl_inputs& in, const ctl_params& p, const AlarmMeant& alarm) {
  if (!alarm.known) return "there is no such alarm";
  if (in.alarm_action == CTL_ALARM_SHELVE && !(in.shelve_time > 0.0F && in.shelve_time <= p.shelve_max))
    return fmt::format("an alarm may be shelved for at most {:.3g} h",
                       static_cast<double>(p.shelve_max) / 3600.0);
  return fmt::format("the alarm is {}", alarm_state_word(alarm.state));
}

}  // namespace

void OperatorDesk::read_commands(Snapshot& s, bool link_lost) {
  ctl_inputs& in = s.measured;
  in.command_age = link_lost ? in.command_age + static_cast<float>(scenario_.period) : 0.0f;
  const auto& commands = scenario_.commands;
  for (; next_command_ < commands.size() && commands[next_command_].at <= s.time && !link_lost;
       ++next_command_) {
    const auto& c = commands[next_command_];
    in.requested_mode = static_cast<std::uint32_t>(c.mode);
    in.oxygen_demand = static_cast<float>(c.oxygen_demand);
    in.power_ceiling = static_cast<float>(c.power_ceiling);
    awaits_reply_ = true;
    log_.log(s.time, LogKind::command,
             fmt::format("asked for {}, {}{}", mode_word(in.requested_mode), rate_text(c.oxygen_demand),
                         ask_module(c.module, c.service, s, ", ")));
  }
  const auto& requests = acts_.requests;
  while (next_request_ < requests.size() && requests[next_request_].at <= s.time && !link_lost)
    take_request(requests[next_request_++], s);
}

void OperatorDesk::take_request(const scenarios::OperatorRequest& request, Snapshot& s) {
  ctl_inputs& in = s.measured;
  std::vector<std::string> what;
  if (request.mode >= 0) {
    in.requested_mode = static_cast<std::uint32_t>(request.mode);
    awaits_reply_ = true;
    what.emplace_back(mode_word(in.requested_mode));
  }
  if (request.oxygen_demand >= 0.0) {
    in.oxygen_demand = static_cast<float>(request.oxygen_demand);
    what.push_back(rate_text(request.oxygen_demand));
  }
  if (!(request.power_ceiling < 0.0)) {
    in.power_ceiling = static_cast<float>(request.power_ceiling);
    what.push_back(std::isnan(request.power_ceiling)
                       ? "no power ceiling"
                       : fmt::format("at most {:.4g} W", request.power_ceiling));
  }
  if (request.module >= 0) what.push_back(ask_module(request.module, request.service, s, ""));
  if (!what.empty()) log_.log(s.time, LogKind::command, fmt::format("asked for {}", fmt::join(what, ", ")));
}

void OperatorDesk::announce_ceiling(Snapshot& s) const {
  ctl_inputs& in = s.measured;
  in.ceiling_in = 0.0F;
  in.next_power_ceiling = std::numeric_limits<float>::quiet_NaN();
  for (std::size_t k = next_command_; k < scenario_.commands.size(); ++k) {
    const auto& c = scenario_.commands[k];
    if (!(c.power_ceiling < static_cast<double>(in.power_ceiling)) && !std::isnan(in.power_ceiling)) continue;
    if (std::isnan(c.power_ceiling)) continue;
    in.next_power_ceiling = static_cast<float>(c.power_ceiling);
    in.ceiling_in = static_cast<float>(c.at - s.time);
    return;
  }
}

void OperatorDesk::act_on_alarms(Snapshot& s, bool link_lost) {
  ctl_inputs& in = s.measured;
  in.alarm_action = CTL_ALARM_NO_ACTION;
  in.alarm_number = in.maintenance = 0;
  in.shelve_time = 0.0F;
  s.action_for = kActionForAll;
  const scenarios::AlarmAction* const due = link_lost ? nullptr : next_action(s.time);
  if (due == nullptr) return;
  const scenarios::AlarmAction& a = *due;
  in.alarm_action = static_cast<std::uint32_t>(a.action);
  in.alarm_number = static_cast<std::uint32_t>(a.alarm);
  in.shelve_time = static_cast<float>(a.duration);
  in.maintenance = a.action == CTL_ALARM_REMOVE || a.action == CTL_ALARM_RETURN ? 1 : 0;
  if (a.alarm != CTL_ALARMS || a.module >= 0) s.action_for = a.module >= 0 ? a.module : kActionForPlant;
  waiting_ = alarms_unacknowledged(s);
  std::copy(std::begin(s.control.alarm_state), std::end(s.control.alarm_state), states_.begin());
}

const scenarios::AlarmAction* OperatorDesk::next_action(double time) {
  const auto& actions = scenario_.operator_actions;
  if (next_action_ < actions.size() && actions[next_action_].at <= time) return &actions[next_action_++];
  const auto& acts = acts_.operator_actions;
  if (next_act_ < acts.size() && acts[next_act_].at <= time) return &acts[next_act_++];
  return nullptr;
}

void OperatorDesk::note_words(Snapshot& s) {
  for (; next_cause_ < acts_.causes.size() && acts_.causes[next_cause_].at <= s.time; ++next_cause_) {
    const auto bit = static_cast<std::uint32_t>(acts_.causes[next_cause_].cause);
    s.named_causes |= 1U << bit;
    log_.log(s.time, LogKind::cause, fmt::format("cause named: {}", diagnosis_word(bit)));
  }
  for (; next_note_ < acts_.notes.size() && acts_.notes[next_note_].at <= s.time; ++next_note_) {
    const auto& note = acts_.notes[next_note_];
    log_.log(s.time, LogKind::note, note.by.empty() ? note.text : fmt::format("{}: {}", note.by, note.text));
  }
}

void OperatorDesk::note_replies(const Snapshot& s) {
  if (s.measured.alarm_action != CTL_ALARM_NO_ACTION) note_action(s);
  ignored_ = alarms_ignored(s);
  if (!awaits_reply_ || s.control.mode == s.measured.requested_mode) {
    awaits_reply_ = false;
    return;
  }
  const std::string lacks = s.shared == nullptr
                                ? condition_words(s.control.unmet_permissives)
                                : words_of(plant_condition_words(), s.shared->control.unmet_permissives);
  if (lacks.empty()) return;
  awaits_reply_ = false;
  log_.log(s.time, LogKind::refusal,
           fmt::format("{} is not permitted yet: {}", mode_word(s.measured.requested_mode), lacks));
}

void OperatorDesk::note_action(const Snapshot& s) {
  const ctl_inputs& in = s.measured;
  const std::uint32_t action = in.alarm_action;
  const bool acknowledges = action == CTL_ALARM_ACKNOWLEDGE || action == CTL_ALARM_ACKNOWLEDGE_ALL;
  const LogKind kind = acknowledges ? LogKind::acknowledgement : LogKind::operator_action;
  const std::string what = alarm_action_word(action);
  if (action == CTL_ALARM_ACKNOWLEDGE_ALL) {
    std::uint32_t count = 0;
    if (s.shared != nullptr) count = waiting_ - std::min(waiting_, alarms_unacknowledged(s));
    for (std::size_t k = 0; k < CTL_ALARMS; ++k) {
      const bool before = states_[k] == CTL_ALARM_UNACKNOWLEDGED || states_[k] == CTL_ALARM_RETURNED ||
                          states_[k] == CTL_ALARM_LATCHED;
      if (before && s.control.alarm_state[k] != states_[k]) ++count;
    }
    log_.log(s.time, kind, fmt::format("{}: {} alarm{}", what, count, count == 1 ? "" : "s"));
    return;
  }
  const AlarmMeant alarm = alarm_meant(s, states_);
  if (alarms_ignored(s) > ignored_) {
    log_.log(s.time, LogKind::refusal,
             fmt::format("{} {} is ignored: {}", what, alarm.word, reason(in, scenario_.controller, alarm)),
             alarm.word);
    return;
  }
  const std::string for_how_long =
      action == CTL_ALARM_SHELVE ? fmt::format(" for {:.3g} h", static_cast<double>(in.shelve_time) / 3600.0)
                                 : "";
  log_.log(s.time, kind, fmt::format("{} {}{}", what, alarm.word, for_how_long), alarm.word);
}

}  // namespace duskline::harness
