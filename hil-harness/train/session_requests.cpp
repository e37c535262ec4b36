// What people ask of a training session.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/loop/words.hpp"
#include "hil-harness/train/request_body.hpp"
#include "hil-harness/train/training_session.hpp"
#include "scenarios/reader/fault_fit.hpp"
#include "scenarios/reader/instruments.hpp"
#include "scenarios/requirements/trigger.hpp"

namespace duskline::harness {
namespace {

constexpr double kMonth = 30.0 * 86400.0;

SessionReply refused(const std::vector<std::string>& reasons) {
  return {409, nlohmann::json{{"refused", reasons}}.dump()};
}
SessionReply bad(const RequestBody& body) {
  return {422, body.problems()};
}

/// The value of a word of a list; reports one that is not known.
std::size_t listed(RequestBody& body, const char* name, std::span<const ListWord> words) {
  const std::string given = body.text(name);
  for (std::size_t i = 0; i < words.size(); ++i)
    if (words[i].word == given) return i;
  if (!given.empty()) body.problem(name, fmt::format("'{}' is not known", given));
  return 0;
}

}  // namespace

SessionReply TrainingSession::request(PersonRole role, std::string_view what, const std::string& text) {
  RequestBody body(text);
  if (body.problems().find("is no JSON object") != std::string::npos) return {422, body.problems()};
  const bool instructs = what == "instructor";
  if (role == PersonRole::observe ? what != "note" : instructs && role != PersonRole::instruct)
    return {403, R"({"message":"your role does not permit this"})"};
  const std::lock_guard lock(mutex_);
  SessionReply reply{404, R"({"message":"there is no such request"})"};
  if (what == "command") reply = command(role, body);
  if (what == "alarm") reply = alarm(role, body);
  if (what == "note") reply = note(role, body);
  if (what == "diagnosis") reply = diagnosis(body);
  if (what == "check") reply = check(role, body);
  if (instructs) reply = instruct(body);
  if (reply.status == 200) changed_ = true;
  wake_.notify_all();
  return reply;
}

SessionReply TrainingSession::commit(const scenarios::Acts& act, double at) {
  if (over()) return refused({"the session is finished"});
  if (!file_.add(act, run_->next_time()))
    return {500,
            nlohmann::json{{"message", "the session file cannot be written: " + file_.problem()}}.dump()};
  merge_acts(run_->acts(), act);
  file_.reached(run_->next_tick());
  return {200, fmt::format(R"({{"at":{}}})", at)};
}

SessionReply TrainingSession::command(PersonRole role, RequestBody& body) {
  const std::string name = body.text("name");
  if (name == "service" && view_.modules() > 0) return service(role, body);
  const auto& commands = view_.commands();
  std::size_t i = 0;
  while (i < commands.size() && commands[i].name != name) ++i;
  if (i == commands.size()) {
    if (!name.empty()) body.problem("name", fmt::format("there is no command '{}'", name));
    body.clean();
    return bad(body);
  }
  const ShownCommand& c = commands[i];
  scenarios::OperatorRequest request;
  request.at = run_->next_time() + delay_for(role);
  if (c.mode >= 0) {
    request.mode = c.mode;
  } else {
    const bool takes_away = c.none && !body.has("value");
    const double value = takes_away ? NAN : body.number("value", c.low, c.high) / c.factor;
    if (takes_away) body.number_or("value", c.low, c.high, 0.0);
    (c.name == "demand" ? request.oxygen_demand : request.power_ceiling) = value;
  }
  if (!body.clean()) return bad(body);
  // over a distance nobody knows in advance what the controller will say
  if (c.mode >= 0 && request.at <= run_->next_time())
    if (const auto reasons = reasons_against(c.mode); !reasons.empty()) {
      scenarios::Acts note;
      note.notes.push_back(
          {request.at, "console", fmt::format("{} was not permitted: {}", c.name, fmt::join(reasons, ", "))});
      const SessionReply kept = commit(note, request.at);
      return kept.status == 200 ? refused(reasons) : kept;
    }
  scenarios::Acts act;
  act.requests.push_back(request);
  return commit(act, request.at);
}

int TrainingSession::named_module(RequestBody& body) const {
  if (view_.modules() == 0 || !body.has("module")) return -1;
  return static_cast<int>(body.number("module", 1.0, static_cast<double>(view_.modules()))) - 1;
}

SessionReply TrainingSession::service(PersonRole role, RequestBody& body) {
  if (!body.has("module")) body.problem("module", "is missing");
  scenarios::OperatorRequest request;
  request.at = run_->next_time() + delay_for(role);
  request.module = named_module(body);
  request.service = static_cast<int>(listed(body, "service", service_words()));
  if (!body.clean()) return bad(body);
  scenarios::Acts act;
  act.requests.push_back(request);
  return commit(act, request.at);
}

SessionReply TrainingSession::alarm(PersonRole role, RequestBody& body) {
  scenarios::AlarmAction action;
  action.at = run_->next_time() + delay_for(role);
  action.action = static_cast<int>(listed(body, "act", alarm_action_words()));
  if (action.action == CTL_ALARM_NO_ACTION) body.problem("act", "is no action");
  const bool maintenance = action.action == CTL_ALARM_REMOVE || action.action == CTL_ALARM_RETURN;
  if (maintenance && role != PersonRole::instruct)
    return {403,
            R"({"message":"only maintenance, which the instructor plays, takes alarms out of service"})"};
  std::string which = "all alarms";
  if (action.action != CTL_ALARM_ACKNOWLEDGE_ALL || body.has("name")) {
    const std::string name = body.text("name");
    const auto& alarms = view_.alarms();
    const auto meant =
        std::find_if(alarms.begin(), alarms.end(), [&](const ShownAlarm& a) { return a.name == name; });
    if (meant != alarms.end()) {
      const int number = static_cast<int>(meant->number);
      const bool of_plant = view_.modules() > 0 && meant->module < 0;
      which = name;
      action.module = meant->module;
      action.alarm = of_plant ? scenarios::plant_alarm_number(number) : number;
    } else if (!name.empty()) {
      body.problem("name", fmt::format("'{}' is not known", name));
    }
  }
  const double longest = static_cast<double>(case_.scenario.controller.shelve_max) / 60.0;
  if (action.action == CTL_ALARM_SHELVE)
    action.duration = 60.0 * body.number("minutes", 1.0, longest);
  else
    body.number_or("minutes", 0.0, longest, 0.0);
  const std::string why = body.has("reason") ? body.text("reason", kTextMax) : std::string{};
  if (!body.clean()) return bad(body);
  if (action.action == CTL_ALARM_ACKNOWLEDGE_ALL) {
    which = "all alarms";
    action.alarm = CTL_ALARMS;
    action.module = -1;
  }
  scenarios::Acts act;
  act.operator_actions.push_back(action);
  if (!why.empty()) {
    const std::string done =
        action.action == CTL_ALARM_SHELVE
            ? " is shelved"
            : fmt::format(", {}", alarm_action_words()[static_cast<std::size_t>(action.action)].word);
    act.notes.push_back({action.at, std::string(role_word(role)), fmt::format("{}{}: {}", which, done, why)});
  }
  return commit(act, action.at);
}

SessionReply TrainingSession::note(PersonRole role, RequestBody& body) {
  scenarios::PersonNote note{run_->next_time(), std::string(role_word(role)), body.text("text", kTextMax)};
  if (!body.clean()) return bad(body);
  scenarios::Acts act;
  act.notes.push_back(note);
  return commit(act, note.at);
}

SessionReply TrainingSession::diagnosis(RequestBody& body) {
  scenarios::NamedCause cause{run_->next_time(), static_cast<int>(listed(body, "name", diagnosis_words()))};
  if (!body.clean()) return bad(body);
  scenarios::Acts act;
  act.causes.push_back(cause);
  return commit(act, cause.at);
}

SessionReply TrainingSession::check(PersonRole role, RequestBody& body) {
  const std::string name = body.text("procedure");
  const auto step = static_cast<std::int64_t>(body.number("step", 1.0, 1000.0));
  const bool done = body.yes("done");
  for (CheckList& list : check_lists_) {
    if (list.name != name) continue;
    if (step > static_cast<std::int64_t>(list.steps.size())) body.problem("step", "there is no such step");
    if (!body.clean()) return bad(body);
    if (!file_.mark({name, step, done})) return {500, R"({"message":"the session file cannot be written"})"};
    list.steps[static_cast<std::size_t>(step) - 1].by_person = done;
    scenarios::Acts act;
    act.notes.push_back({run_->next_time(), std::string(role_word(role)),
                         fmt::format("{}, step {}: {}", name, step, done ? "done" : "not done")});
    return commit(act, run_->next_time());
  }
  if (!name.empty()) body.problem("procedure", fmt::format("there is no procedure '{}'", name));
  body.clean();
  return bad(body);
}

SessionReply TrainingSession::instruct(RequestBody& body) {
  const std::string act = body.text("act");
  if (act == "freeze" || act == "go" || act == "speed" || act == "delay" || act == "finish")
    return pace(act, body);
  if (act == "back" || act == "save" || act == "restore") return go_back(act, body);
  if (act == "fault" || act == "weather" || act == "clear_fault") return disturb(act, body);
  if (!act.empty()) body.problem("act", fmt::format("'{}' is not known", act));
  return bad(body);
}

SessionReply TrainingSession::pace(const std::string& act, RequestBody& body) {
  const double speed = act == "speed" ? body.number("value", kTrainingSpeedMin, kTrainingSpeedMax) : speed_;
  const double delay = act == "delay" ? body.number("value", 0.0, kDelayMax) : delay_;
  if (!body.clean()) return bad(body);
  if (act == "go" && over()) return refused({"the session is finished; go back to an earlier minute"});
  if (act == "freeze") log_session("the session was frozen");
  if (act == "go") log_session("the session goes on");
  if (act == "speed") log_session(fmt::format("the speed is now {:.3g}", speed));
  if (act == "delay") log_session(fmt::format("light takes {:.4g} s each way", delay));
  if (act == "finish") log_session("the session was finished");
  if (act == "freeze" || act == "finish") frozen_ = true;
  if (act == "go") frozen_ = false;
  if (act == "finish") finished_ = true;
  speed_ = speed;
  delay_ = delay;
  far_.bring_forward(now() + delay_);
  anchor();
  file_.reached(run_->next_tick());
  return {};
}

SessionReply TrainingSession::branch(std::int64_t from, std::int64_t tick, std::int64_t last_act) {
  const bool back = from == file_.branch();  // what has left the plant by then still arrives
  publish(true);                             // what has arrived by now stays
  const double t = static_cast<double>(tick) * case_.scenario.period;
  if (!file_.branch_off(from, tick, t, last_act))
    return {500,
            nlohmann::json{{"message", "the session file cannot be written: " + file_.problem()}}.dump()};
  frozen_ = true;
  finished_ = false;
  near_.recall(kNothingArrives);
  far_.recall(back ? t + delay_ : kNothingArrives);
  far_values_.clear();
  for (std::string* sent : {&alarms_, &checks_, &near_session_, &far_session_}) sent->clear();
  rebuild(tick);
  take_as_published();
  log_session(fmt::format("the session went back to {:.0f} s", now()));
  return {};
}

SessionReply TrainingSession::go_back(const std::string& act, RequestBody& body) {
  if (act == "back") {
    const double t = body.number("t", 0.0, now());
    if (!body.clean()) return bad(body);
    const auto tick = static_cast<std::int64_t>(std::floor(t / case_.scenario.period + 1e-9));
    return branch(file_.branch(), std::max<std::int64_t>(1, tick), SessionFile::kByTime);
  }
  const std::string name = body.text("name");
  if (!body.clean()) return bad(body);
  if (act == "save") {
    if (!file_.save(name, run_->next_tick()))
      return {500, R"({"message":"the session file cannot be written"})"};
    log_session(fmt::format("saved as {}", name));
    return {};
  }
  for (const SessionFile::Saved& saved : file_.saved())
    if (saved.name == name) return branch(saved.branch, saved.tick, saved.act);
  body.problem("name", fmt::format("nothing is saved as '{}'", name));
  return bad(body);
}

SessionReply TrainingSession::disturb(const std::string& act, RequestBody& body) {
  const std::string name = body.text("name");
  const plant::FaultRow* row = plant::find_fault(name);
  if (row == nullptr) {
    if (!name.empty()) body.problem("name", fmt::format("there is no fault '{}'", name));
    body.clean();
    return bad(body);
  }
  if (const std::string why = scenarios::why_not_here(*row, case_.plant.parameters); !why.empty()) {
    body.problem("name", why);
    body.clean();
    return bad(body);
  }
  const std::size_t items = scenarios::fault_items(*row);
  const int usual = act == "clear_fault" ? 0 : row->item + 1;
  const int item =
      static_cast<int>(body.number_or("item", 1.0, std::max(1.0, static_cast<double>(items)), usual)) - 1;
  const int module = named_module(body);
  if (module >= 0)
    if (const std::string why = scenarios::why_not_of_module(*row, case_.plant.parameters, module);
        !why.empty())
      body.problem("module", why);
  scenarios::Acts acts;
  const double at = run_->next_time();
  if (act == "clear_fault") {
    if (!body.clean()) return bad(body);
    acts.cleared.push_back({at, name, items > 0 ? item : -1, module});
    return commit(acts, at);
  }
  plant::FaultEvent fault = plant::usual_fault(*row, at);
  const char* size = act == "weather" ? "value" : "size";
  if (row->has_size()) fault.size = body.number_or(size, row->lower, row->upper, row->size);
  if (items > 0) fault.item = item;
  fault.module = module;
  fault.at = body.number_or("at", at, kMonth, at);
  if (body.has("ramp")) {
    const double rise = body.number("ramp", 0.0, kMonth);
    if (row->course == plant::FaultCourse::shaped)
      fault.shape = rise > 0.0 ? plant::FaultShape::ramp : plant::FaultShape::step;
    if (rise > 0.0) fault.rise = std::max(0.01, rise);
  }
  if (body.has("when")) {
    fault.when = body.text("when", kTextMax);
    if (!fault.when.empty())
      for (const auto& problem :
           scenarios::parse_trigger(fault.when, requirement_signals(view_.modules())).problems)
        body.problem("when", scenarios::message_of(problem, fault.when));
  }
  if (body.has("length")) fault.length = body.number("length", 0.5, kMonth);
  if (!body.clean()) return bad(body);
  acts.faults.push_back(fault);
  return commit(acts, fault.at);
}

}  // namespace duskline::harness
