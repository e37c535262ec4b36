#include "hil-harness/train/training_session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

#include "hil-harness/loop/signals.hpp"
#include "scenarios/reader/draw.hpp"

namespace duskline::harness {
namespace {

using namespace std::chrono_literals;
constexpr std::chrono::milliseconds kFrame = 100ms, kQuiet = 1s, kShortWait = 20ms, kAtOnce = 50ms;
constexpr double kBehind = 1.0;  ///< s of the clock; more is not made good
constexpr double kMinute = 60.0;

}  // namespace

std::uint64_t digest_with(std::uint64_t digest, std::span<const double> row) {
  for (const std::byte byte : std::as_bytes(row))
    digest = (digest ^ std::to_integer<std::uint64_t>(byte)) * 1099511628211ULL;
  return digest;
}

TrainingSession::TrainingSession(scenarios::Case c, scenarios::ConsoleFile file, const std::string& name,
                                 double speed)
    : case_(std::move(c)), view_(case_, std::move(file), name), speed_(speed) {
  std::size_t width = 0;
  for (const Signal& signal : signal_table(view_.modules())) {
    offsets_.push_back(width);
    width += signal.info.width;
  }
  row_.resize(width);
  shown_row_.resize(width);
  since_.resize(view_.alarms().size());
  const auto& names = requirement_signals(view_.modules());
  const auto condition = [&names](const std::string& text) {
    Condition one;
    if (!text.empty()) one.requirement = scenarios::parse_requirement(text, names).requirement;
    return one;
  };
  for (const auto& procedure : view_.file().procedures) {
    check_lists_.push_back({procedure.name, {}});
    for (const auto& step : procedure.steps) check_lists_.back().steps.push_back(condition(step.done_when));
  }
  if (!case_.scenario.exercise.lesson.empty()) {
    check_lists_.push_back({"lesson", {}});
    for (const auto& step : case_.scenario.exercise.lesson)
      check_lists_.back().steps.push_back(condition(step.done_when));
  }
}

TrainingSession::~TrainingSession() {
  stop();
}

std::string TrainingSession::open(const std::string& path) {
  if (std::string problem = file_.open(path, scenarios::write_resolved(case_.scenario, case_.plant));
      !problem.empty())
    return problem;
  for (const SessionFile::Mark& mark : file_.marks())
    for (CheckList& list : check_lists_)
      if (list.name == mark.procedure && mark.step >= 1 &&
          mark.step <= static_cast<std::int64_t>(list.steps.size()))
        list.steps[static_cast<std::size_t>(mark.step) - 1].by_person = mark.done;
  const bool resumed = file_.tick() > 0;
  rebuild(std::max<std::int64_t>(1, file_.tick()));
  publish_log();
  log(now(), "session", "server", resumed ? "the session was resumed here" : "the session was opened", true);
  return {};
}

void TrainingSession::rebuild(std::int64_t tick) {
  const scenarios::Scenario& s = case_.scenario;
  const auto built = scenarios::drawn_plant(case_.plant, s.plant_draw, s.structure_draw);
  link_ = std::make_unique<InProcess>(scenarios::module_controller_of(case_, built, 0));
  judge_ = std::make_unique<Watcher>(s);
  history_ = std::make_unique<SignalHistory>(row_.size(), static_cast<std::int64_t>(scenarios::periods(s)));
  since_.assign(since_.size(), {});
  digest_ = kNothingSeen;
  const scenarios::Acts acts = file_.acts(file_.branch());
  LoopOptions options;
  options.acts = &acts;
  options.watch = [this](const Snapshot& snapshot) {
    read_signals(snapshot, row_);
    digest_ = digest_with(digest_, row_);
    shown_row_ = row_;
    view_.leave_out_cold(snapshot, shown_row_);
    history_->add(snapshot.time, shown_row_, !link_lost(snapshot));
    judge_->watch(snapshot);
    follow_alarms(snapshot);
  };
  run_ = std::make_unique<LoopRun>(case_, *link_, options);
  while (run_->next_tick() < tick && run_->step()) {
  }
  ticked_ = changed_ = true;
  anchor();
}

void TrainingSession::anchor() {
  origin_ = Clock::now();
  origin_time_ = run_->next_time();
}

bool TrainingSession::link_lost(const Snapshot& s) const {
  return static_cast<double>(s.measured.command_age) > 0.5 * case_.scenario.period;
}

void TrainingSession::step() {
  run_->step();
  ticked_ = true;
  const auto every = std::max<std::int64_t>(1, std::llround(kMinute / case_.scenario.period));
  if (run_->next_tick() % every == 0 || run_->ended()) file_.reached(run_->next_tick());
}

void TrainingSession::start() {
  thread_ = std::thread([this] { work(); });
}

void TrainingSession::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    near_.close();
    far_.close();
    if (run_ != nullptr) file_.reached(run_->next_tick());
  }
  wake_.notify_all();
  if (thread_.joinable()) thread_.join();
}

void TrainingSession::work() {
  std::unique_lock lock(mutex_);
  anchor();
  while (!stopping_) {
    const auto begin = Clock::now();
    if (!frozen_ && !over()) {
      const double due = origin_time_ + std::chrono::duration<double>(begin - origin_).count() * speed_;
      while (run_->next_time() <= due && !run_->ended() && Clock::now() - begin < kAtOnce) step();
      if (due - run_->next_time() > kBehind * speed_) anchor();
      if (run_->ended()) {
        finished_ = frozen_ = true;
        log_session("the run has come to its end");
      }
    }
    publish(false);
    auto until = begin + (ticked_ || changed_ ? kFrame : kQuiet);
    if (!frozen_) {
      const double wait = (run_->next_time() - origin_time_) / speed_;
      const auto tick =
          origin_ + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(wait));
      until = std::min(until, std::max<Clock::time_point>(tick, begin + kShortWait));
    }
    wake_.wait_until(lock, until, [this] { return stopping_ || changed_; });
  }
}

bool TrainingSession::finished() {
  const std::lock_guard lock(mutex_);
  return finished_;
}

std::string TrainingSession::plant_text(PersonRole role) const {
  std::string text = view_.plant_text(role);
  text.pop_back();
  return text + fmt::format(R"(,"start":"{}"}})", start_);
}

std::string TrainingSession::acts_text() {
  const std::lock_guard lock(mutex_);
  return scenarios::write_acts(run_->acts());
}

SessionRecord TrainingSession::record() {
  const std::lock_guard lock(mutex_);
  return {run_->acts(), run_->next_tick(), run_->result().final_state, digest_};
}

std::shared_ptr<StreamWatcher> TrainingSession::join(PersonRole role, std::string_view last_id) {
  const std::lock_guard lock(mutex_);
  if (stopping_ || near_.size() + far_.size() >= kWatchersMax) return nullptr;
  publish(true);
  return (role == PersonRole::instruct ? near_ : far_).join(last_id);
}

void TrainingSession::leave(PersonRole role, const std::shared_ptr<StreamWatcher>& watcher) {
  const std::lock_guard lock(mutex_);
  (role == PersonRole::instruct ? near_ : far_).leave(watcher);
}

SessionReply TrainingSession::history(PersonRole role, const std::string& signals, double from, double to,
                                      std::size_t points) {
  const std::lock_guard lock(mutex_);
  to = std::min(to, now() - delay_for(role));
  std::string body;
  for (const std::string& name : scenarios::names_between_commas(signals)) {
    const auto& shown = view_.shown_to(role);
    const auto at = std::find_if(shown.begin(), shown.end(),
                                 [&](std::size_t i) { return view_.signals()[i].name == name; });
    if (at == shown.end())
      return {422,
              nlohmann::json{{"problems", {{{"path", "signals"}, {"message", "there is no signal " + name}}}}}
                  .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)};
    const ShownSignal& signal = view_.signals()[*at];
    const auto samples = history_->samples(signal.place, from, to, points, role != PersonRole::instruct);
    const auto column = [&](const std::string& as, const std::vector<double>& values, bool convert) {
      std::string text;
      for (const double value : values) {
        const double shown_value = convert ? ConsoleView::shown(signal, value) : value;
        text += text.empty() ? "" : ",";
        text += std::isfinite(shown_value)
                    ? fmt::format("{:.{}f}", shown_value, convert ? signal.digits + 1 : 3)
                    : "null";
      }
      body += fmt::format("{}\"{}\":[{}]", body.empty() ? "" : ",", as, text);
    };
    if (body.empty()) column("t", samples.time, false);
    column(name, samples.value, true);
    column(name + "_min", samples.least, true);
    column(name + "_max", samples.greatest, true);
  }
  return {200, "{" + body + "}"};
}

std::string TrainingSession::trace_csv(PersonRole role) {
  const std::lock_guard lock(mutex_);
  constexpr std::size_t kRows = 5000;
  std::string text = "time [s]";
  const auto& shown = view_.shown_to(role);
  for (const std::size_t i : shown)
    text += fmt::format(",{}{}", view_.signals()[i].name,
                        view_.signals()[i].unit.empty() ? "" : " [" + view_.signals()[i].unit + "]");
  text += '\n';
  const std::size_t every = std::max<std::size_t>(1, (history_->rows() + kRows - 1) / kRows);
  for (std::size_t row = 0; row < history_->rows(); row += every) {
    if (history_->time(row) > now() - delay_for(role)) break;
    text += fmt::format("{}", history_->time(row));
    for (const std::size_t i : shown) {
      const double value =
          history_->arrived(row) || role == PersonRole::instruct
              ? ConsoleView::shown(view_.signals()[i], history_->value(row, view_.signals()[i].place))
              : std::nan("");
      text += std::isfinite(value) ? fmt::format(",{:.{}f}", value, view_.signals()[i].digits + 1) : ",";
    }
    text += '\n';
  }
  return text;
}

}  // namespace duskline::harness
