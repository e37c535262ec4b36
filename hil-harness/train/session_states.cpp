// What the readers of a training session get: frames, alarms, log, state of the session, check-lists.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/loop/words.hpp"
#include "hil-harness/train/training_session.hpp"

namespace duskline::harness {
namespace {

using nlohmann::ordered_json;
using namespace std::chrono_literals;
constexpr double kAtOnceTime = -1.0;  ///< arrives without delay

constexpr bool stands(std::uint8_t state) {
  return state == CTL_ALARM_UNACKNOWLEDGED || state == CTL_ALARM_ACKNOWLEDGED;
}

/// It stands, or is still to be acknowledged or reset.
constexpr bool asks_for_somebody(std::uint8_t state) {
  return stands(state) || state == CTL_ALARM_RETURNED || state == CTL_ALARM_LATCHED ||
         state == CTL_ALARM_LATCHED_ACKNOWLEDGED;
}

/// How a kind of event is shown: its kind, who is behind it, and whether operators see it.
struct ShownEvent {
  std::string_view kind, who;
  bool far;
};
ShownEvent shown_event(LogKind kind) {
  switch (kind) {
    case LogKind::alarm:
      return {"alarm", "controller", true};
    case LogKind::alarm_return:
      return {"return", "controller", true};
    case LogKind::mode:
    case LogKind::interlock:
    case LogKind::wire:
      return {"mode", "controller", true};
    case LogKind::diagnosis:
    case LogKind::calibration:
      return {"diagnosis", "controller", true};
    case LogKind::acknowledgement:
    case LogKind::operator_action:
    case LogKind::command:
    case LogKind::cause:
      return {"act", "operator", true};
    case LogKind::refusal:
      return {"act", "controller", true};
    case LogKind::note:
      return {"note", "people", true};
    case LogKind::weather:
      return {"weather", "plant", false};
    case LogKind::requirement:
    case LogKind::fault:
    case LogKind::parameter:
    case LogKind::power:
    case LogKind::limit:
      return {"fault", "plant", false};
  }
  return {"session", "server", true};
}

/// What comes again within a minute is counted in its event; the text of a limit says it already.
std::string text_with_count(const LogEvent& e) {
  return e.count == 1 || e.kind == LogKind::limit
             ? e.text
             : fmt::format("{} ({} times in {:.0f} s)", e.text, e.count, e.until - e.time);
}

/// The action on alarms of this tick is about this one.
bool is_meant(const Snapshot& s, const ShownAlarm& alarm) {
  const auto number = static_cast<int>(s.measured.alarm_number), own = static_cast<int>(alarm.number);
  if (s.shared == nullptr) return number == own;
  return s.action_for == alarm.module &&
         own == (alarm.module < 0 ? scenarios::plant_alarm_of(number) : number);
}

}  // namespace

void TrainingSession::follow_alarms(const Snapshot& s) {
  bool any = false;
  for (const AlarmSince& a : since_) any = any || stands(a.state);
  for (std::size_t k = 0; k < since_.size(); ++k) {
    const ShownAlarm& shown = view_.alarms()[k];
    AlarmSince& a = since_[k];
    const std::uint8_t state = view_.alarm_state(s, shown);
    if (s.measured.alarm_action == CTL_ALARM_SHELVE && state == CTL_ALARM_SHELVED && is_meant(s, shown))
      a.shelved_until = s.time + static_cast<double>(s.measured.shelve_time);
    if (state == a.state) continue;
    if (stands(state) && !stands(a.state)) {
      a.since = s.time;
      a.first_out = !any;
      any = true;
    }
    if (state == CTL_ALARM_SHELVED || state == CTL_ALARM_OUT) a.since = s.time;
    if (!asks_for_somebody(state) && state != CTL_ALARM_SHELVED) a.first_out = false;
    a.state = state;
  }
}

void TrainingSession::log_session(const std::string& text) {
  log(now(), "session", "instructor", text, true);
  changed_ = true;
}

void TrainingSession::log(double t, std::string_view kind, std::string_view who, const std::string& text,
                          bool far) {
  const std::string entry = ordered_json{{"t", t}, {"kind", kind}, {"who", who}, {"text", text}}.dump();
  near_.publish(StreamKind::log, kAtOnceTime, entry);
  if (far) far_.publish(StreamKind::log, kind == "session" ? kAtOnceTime : t + delay_, entry);
}

void TrainingSession::take_as_published() {
  published_.clear();
  for (const LogEvent& e : run_->events()) published_.push_back(text_with_count(e));
}

void TrainingSession::publish_log() {
  const std::vector<LogEvent>& events = run_->events();
  for (std::size_t i = 0; i < events.size(); ++i) {
    const LogEvent& e = events[i];
    const ShownEvent as = shown_event(e.kind);
    std::string text = text_with_count(e);
    const bool is_new = i == published_.size();
    if (!is_new && published_[i] == text) continue;
    log(is_new ? e.time : e.until, as.kind, as.who, text, as.far);
    if (is_new) published_.emplace_back();
    published_[i] = std::move(text);
  }
  const bool full = events.size() == kLogEventsMax;
  if (full && !log_full_)
    log(now(), "session", "server",
        fmt::format("{} events are listed; what comes after them is not", kLogEventsMax), true);
  log_full_ = full;
}

std::string TrainingSession::frame_text(PersonRole role) {
  const Snapshot& s = run_->snapshot();
  std::string values, quality;
  const bool lost = role != PersonRole::instruct && link_lost(s);
  for (const std::size_t i : view_.shown_to(role)) {
    const ShownSignal& signal = view_.signals()[i];
    const double value = ConsoleView::shown(signal, shown_row_[signal.place]);
    if (!values.empty()) values += ',';
    if (std::isfinite(value))
      fmt::format_to(std::back_inserter(values), "{:.{}f}", value, signal.digits);
    else
      values += "null";
    quality += lost ? 'l' : ConsoleView::is_suspect(s, signal) ? 's' : 'g';
  }
  // without a link the latest values that came stay in view
  if (lost && !far_values_.empty())
    values = far_values_;
  else if (role != PersonRole::instruct)
    far_values_ = values;
  std::string refused;
  for (const ShownCommand& command : view_.commands()) {
    if (command.mode < 0) continue;
    const std::vector<std::string> reasons = reasons_against(command.mode);
    if (reasons.empty()) continue;
    fmt::format_to(std::back_inserter(refused), "{}\"{}\":[\"{}\"]", refused.empty() ? "" : ",", command.name,
                   fmt::join(reasons, "\",\""));
  }
  const std::string_view mode =
      word_of(view_.modules() > 0 ? plant_mode_words() : mode_words(), s.control.mode);
  return fmt::format(
      R"({{"t":{},"tick":{},"local_time":{:.5f},"frozen":{},"speed":{},"finished":{},"mode":"{}","values":[{}],"quality":"{}","refused":{{{}}},"clients":{}}})",
      s.time, s.tick, s.ambient.local_time, frozen_, speed_, finished_, mode, values, quality, refused,
      near_.size() + far_.size());
}

std::vector<std::string> TrainingSession::reasons_against(int mode) const {
  const Snapshot& s = run_->snapshot();
  if (s.control.mode == static_cast<std::uint32_t>(mode)) return {};
  if (view_.modules() > 0) return run_->plant_reasons_against(static_cast<std::uint32_t>(mode));
  ctl_inputs in = s.measured;
  in.requested_mode = static_cast<std::uint32_t>(mode);
  in.alarm_action = CTL_ALARM_NO_ACTION;
  ++in.tick;
  ctl_outputs out{};
  if (link_->try_step(in, out) != CTL_OK || out.mode == in.requested_mode) return {};
  std::vector<std::string> reasons;
  const auto words = condition_words();
  for (std::size_t bit = 0; bit < words.size(); ++bit)
    if ((out.unmet_permissives >> bit & 1U) != 0) reasons.emplace_back(words[bit].word);
  return reasons;
}

std::string TrainingSession::alarms_text() {
  ordered_json list = ordered_json::array();
  for (std::size_t k = 0; k < since_.size(); ++k) {
    const AlarmSince& a = since_[k];
    if (a.state == CTL_ALARM_NORMAL || a.state == CTL_ALARM_SUPPRESSED) continue;
    ordered_json one{{"name", view_.alarms()[k].name},
                     {"state", alarm_state_word(a.state)},
                     {"since", a.since},
                     {"first_out", a.first_out}};
    if (a.state == CTL_ALARM_SHELVED) one["shelved_until"] = a.shelved_until;
    list.push_back(std::move(one));
  }
  return list.dump();
}

std::string TrainingSession::grades_text() const {
  std::string text;
  for (const RequirementResult& r : judge_->judge()) {
    const Shown margin = shown_margin(r.verdict);
    ordered_json one{
        {"name", r.name}, {"verdict", word(r.verdict.outcome)}, {"unit", margin.unit}, {"text", r.must}};
    one["margin"] = std::isfinite(margin.value) ? ordered_json(margin.value) : ordered_json(nullptr);
    text += text.empty() ? "" : ",";
    text += one.dump();
  }
  return text;
}

std::string TrainingSession::session_text(PersonRole role) {
  const bool near = role == PersonRole::instruct;
  ordered_json all{{"frozen", frozen_}, {"speed", speed_}, {"delay", delay_}, {"finished", finished_}};
  all["saved"] = ordered_json::array();
  for (const auto& saved : file_.saved())
    all["saved"].push_back(
        {{"name", saved.name}, {"t", static_cast<double>(saved.tick) * case_.scenario.period}});
  all["branches"] = file_.branches();
  if (!case_.scenario.exercise.objective.empty())
    all["exercise"] = {{"state", finished_ ? "finished" : run_->next_tick() <= 1 ? "briefing" : "running"}};
  if (near) {
    if (delay_ > 0.0) all["at"] = now();
    all["faults"] = all["weather"] = ordered_json::array();
    const std::vector<plant::FaultEvent> waiting = run_->waiting();
    const auto add = [&](const plant::FaultEvent& f, bool of_people) {
      // one that was just asked for is taken at the next tick
      const bool waits =
          !f.when.empty() &&
          (f.at > now() || std::any_of(waiting.begin(), waiting.end(), [&](const plant::FaultEvent& w) {
             return w.fault == f.fault && w.item == f.item && w.at == f.at && w.when == f.when;
           }));
      if (f.when.empty() && now() >= f.at + f.length) return;
      // of people's faults those that have not begun when they are ended are no longer among the acts
      for (const auto& c : run_->acts().cleared)
        if (scenarios::is_meant(c, f) && (!of_people || c.at > f.at)) return;
      ordered_json one{{"name", f.fault}, {"size", f.size}, {"from", f.at}, {"ramp", f.rise}};
      if (f.item >= 0) one["item"] = f.item + 1;
      if (f.module >= 0) one["module"] = f.module + 1;
      if (!f.when.empty()) one["when"] = f.when;
      if (waits) one["waits"] = true;
      all["faults"].push_back(std::move(one));
    };
    for (const auto& f : case_.scenario.faults) add(f, false);
    for (const auto& f : run_->acts().faults) add(f, true);
    all["pending"] = ordered_json::array();
    for (const auto& r : run_->acts().requests)
      if (r.at > now()) all["pending"].push_back({{"at", r.at}, {"who", "operator"}, {"text", "a request"}});
  }
  std::string text = all.dump();
  if (near ? frozen_ || finished_ : finished_) {
    text.pop_back();
    text += fmt::format(R"(,"grades":[{}]}})", grades_text());
  }
  return text;
}

std::string TrainingSession::checks_text() {
  const scenarios::TraceSamples present{
      std::span<const double>(&run_->snapshot().time, 1), [this](std::size_t i) {
        return std::span<const double>(&row_[offsets_[i]], requirement_signals(view_.modules())[i].width);
      }};
  ordered_json procedures = ordered_json::object(), lesson = nullptr;
  for (CheckList& list : check_lists_) {
    const bool is_lesson = &list == &check_lists_.back() && list.name == "lesson";
    ordered_json steps = ordered_json::array(), done = ordered_json::array();
    std::size_t first_open = list.steps.size();
    for (std::size_t i = 0; i < list.steps.size(); ++i) {
      Condition& step = list.steps[i];
      const bool holds = !step.requirement.nodes.empty() &&
                         scenarios::judge(step.requirement, present).outcome == scenarios::Outcome::satisfied;
      // a step of the lesson stays done, and counts only after those before it
      step.done = is_lesson ? step.done || (holds && first_open == list.steps.size()) : holds;
      const bool is_done = step.done || step.by_person;
      if (!is_done) first_open = std::min(first_open, i);
      steps.push_back({{"done", is_done}, {"by", step.done ? "signal" : step.by_person ? "person" : ""}});
      if (!is_done) steps.back()["by"] = nullptr;
      done.push_back(is_done);
    }
    if (is_lesson)
      lesson = {{"step", std::min(first_open + 1, list.steps.size())}, {"done", std::move(done)}};
    else
      procedures[list.name] = std::move(steps);
  }
  ordered_json all{{"procedures", std::move(procedures)}};
  if (!lesson.is_null()) all["lesson"] = std::move(lesson);
  return all.dump();
}

void TrainingSession::publish(bool always) {
  const auto at = Clock::now();
  const bool fresh = ticked_ || changed_;
  if (!always && !(fresh && at - last_frame_ >= 95ms) && !(changed_ && frozen_) && at - last_frame_ < 1s)
    return;
  const double t = now(), far_due = t + delay_;
  publish_log();
  const auto publish_changed = [](StreamAudience& audience, StreamKind kind, double due, std::string& before,
                                  std::string text) {
    if (text == before) return;
    before = std::move(text);
    audience.publish(kind, due, before);
  };
  near_.publish(StreamKind::frame, kAtOnceTime, frame_text(PersonRole::instruct));
  if (fresh || always) far_.publish(StreamKind::frame, far_due, frame_text(PersonRole::observe));
  if (std::string text = alarms_text(); text != alarms_) {
    alarms_ = text;
    near_.publish(StreamKind::alarms, kAtOnceTime, text);
    far_.publish(StreamKind::alarms, far_due, std::move(text));
  }
  if (std::string text = checks_text(); text != checks_) {
    checks_ = text;
    near_.publish(StreamKind::checks, kAtOnceTime, text);
    far_.publish(StreamKind::checks, far_due, std::move(text));
  }
  publish_changed(near_, StreamKind::session, kAtOnceTime, near_session_, session_text(PersonRole::instruct));
  publish_changed(far_, StreamKind::session, kAtOnceTime, far_session_, session_text(PersonRole::operate));
  near_.deliver(t);
  if (far_.deliver(t))
    last_far_frame_ = at;
  else if (at - last_far_frame_ >= 1s) {
    far_.repeat_frame();
    last_far_frame_ = at;
  }
  last_frame_ = at;
  ticked_ = changed_ = false;
}

}  // namespace duskline::harness
