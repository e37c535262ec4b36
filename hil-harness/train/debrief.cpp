#include "hil-harness/train/debrief.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <condition_variable>
#include <deque>
#include <filesystem>
#include <fstream>
#include <future>
#include <iterator>
#include <mutex>
#include <thread>
#include <utility>

#include "hil-harness/loop/recorder.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/verify/summary_json.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

/// A folder that is gone when the page is made.
class ScratchFolder {
 public:
  ScratchFolder() {
    std::string name = (fs::temp_directory_path() / "duskline-debrief-XXXXXX").string();
    if (mkdtemp(name.data()) != nullptr) path_ = name;
  }
  ~ScratchFolder() {
    std::error_code ignored;
    if (!path_.empty()) fs::remove_all(path_, ignored);
  }
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  bool made() const { return !path_.empty(); }
  std::string file(const char* name) const { return (path_ / name).string(); }

 private:
  fs::path path_;
};

std::string minutes(double seconds) {
  const auto whole = std::lround(seconds);
  return whole < 60 ? fmt::format("{} s", whole) : fmt::format("{} min {:02} s", whole / 60, whole % 60);
}

/// Time from `begin` to the first event that `is` accepts.
template <class Is>
std::string after(const std::vector<LogEvent>& events, double begin, Is&& is) {
  for (const LogEvent& e : events)
    if (e.time >= begin && is(e)) return minutes(e.time - begin);
  return "never";
}

/// The controller's word for a fault, from the name that its event begins with.
std::string_view diagnosis_of(const std::string& subject) {
  const plant::FaultRow* row = plant::find_fault(subject.substr(0, subject.find_first_of(", ")));
  return row == nullptr ? std::string_view{} : row->diagnosis;
}

/// How long it took to see, name and answer each fault.
std::string response_times(const std::vector<LogEvent>& events) {
  std::string rows;
  for (const LogEvent& fault : events) {
    if ((fault.kind != LogKind::fault && fault.kind != LogKind::weather) || !fault.begins) continue;
    const std::string cause = fmt::format("cause named: {}", diagnosis_of(fault.subject));
    const auto of = [](LogKind kind) { return [kind](const LogEvent& e) { return e.kind == kind; }; };
    rows += fmt::format(
        "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n",
        scenarios::escaped_text(fault.text), minutes(fault.time),
        after(events, fault.time, of(LogKind::alarm)),
        after(events, fault.time, of(LogKind::acknowledgement)),
        diagnosis_of(fault.subject).empty()
            ? std::string("no cause to name")
            : after(events, fault.time,
                    [&](const LogEvent& e) { return e.kind == LogKind::cause && e.text == cause; }),
        after(events, fault.time, of(LogKind::command)));
  }
  if (rows.empty()) return {};
  return "<section id=\"response-times\"><h2>Times to detect, diagnose and "
         "act</h2><table><thead><tr><th>Fault</th><th>Began "
         "after</th>"
         "<th>First alarm</th><th>First acknowledgement</th><th>Its cause named</th><th>First "
         "request</th></tr></thead><tbody>\n" +
         rows + "</tbody></table><p>Times count from the fault.</p></section>\n";
}

/// A run of the case for as many ticks as the session had.
struct RecordedRun {
  std::string summary;  ///< empty: the trace cannot be written
  std::vector<LogEvent> events;
};
RecordedRun recorded(const scenarios::Case& c, const scenarios::Acts& acts, const std::string& path) {
  Watcher watcher(c.scenario);
  const plant::PlantForm& form = c.plant.parameters.form;
  Recorder recorder(path, {{"title", c.scenario.title}, {"plant", c.plant.name}},
                    c.scenario.record <= c.scenario.period, {600, 0},
                    plant::has_headers(form) ? form.modules : 0);
  LoopOptions options;
  options.acts = &acts;
  options.record = [&](const Snapshot& s) { return recorder.row(s); };
  options.watch = [&](const Snapshot& s) {
    watcher.watch(s);
    recorder.watch(s);
  };
  const RunRecord run = run_loop(c, {}, options);
  if (!recorder.close()) return {};
  return {summary_json(c, run, watcher.judge()), run.log_events};
}

std::string make_page(const scenarios::Case& c, const SessionRecord& record, std::string& problem) {
  const ScratchFolder folder;
  if (!folder.made()) return problem = "no folder for the traces", std::string{};
  scenarios::Case until = c;
  until.scenario.duration = static_cast<double>(record.ticks) * c.scenario.period;
  scenarios::Acts alone = record.acts;
  alone.requests.clear();
  alone.operator_actions.clear();
  alone.causes.clear();
  const RecordedRun session = recorded(until, record.acts, folder.file("session.nc"));
  const RecordedRun other = recorded(until, alone, folder.file("alone.nc"));
  if (session.summary.empty() || other.summary.empty())
    return problem = "the traces cannot be written", std::string{};
  ReportInfo info;
  info.title = "Debrief: " + c.scenario.title;
  info.purpose = c.scenario.purpose;
  info.run_name = "the session";
  info.other_name = "the controller alone";
  const Outcome drawn = write_report(folder.file("session.nc"), session.summary, info,
                                     folder.file("debrief.html"), folder.file("alone.nc"));
  if (!drawn) return problem = drawn.problem, std::string{};
  std::ifstream page(folder.file("debrief.html"), std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(page), {}};
  constexpr std::string_view kMain = "<main id=\"report\">";
  if (const std::size_t at = text.find(kMain); at != text.npos)
    text.insert(at, response_times(session.events));
  return text;
}

/// The one thread of the program that makes debriefs: the library of traces is made for one.
class DebriefThread {
 public:
  ~DebriefThread() {
    {
      const std::lock_guard lock(mutex_);
      over_ = true;
    }
    arrived_.notify_one();
    thread_.join();
  }

  std::string make(const scenarios::Case& c, const SessionRecord& record, std::string& problem) {
    std::packaged_task<std::string()> task([&] { return make_page(c, record, problem); });
    std::future<std::string> page = task.get_future();
    {
      const std::lock_guard lock(mutex_);
      tasks_.push_back(std::move(task));
    }
    arrived_.notify_one();
    return page.get();
  }

 private:
  void work() {
    std::unique_lock lock(mutex_);
    for (;;) {
      arrived_.wait(lock, [this] { return over_ || !tasks_.empty(); });
      if (tasks_.empty()) return;
      std::packaged_task<std::string()> task = std::move(tasks_.front());
      tasks_.pop_front();
      lock.unlock();
      task();
      lock.lock();
    }
  }

  std::mutex mutex_;
  std::condition_variable arrived_;
  std::deque<std::packaged_task<std::string()>> tasks_;
  bool over_ = false;
  std::thread thread_{[this] { work(); }};
};

}  // namespace

std::string debrief_page(const scenarios::Case& c, const SessionRecord& record, std::string& problem) {
  static DebriefThread thread;
  return thread.make(c, record, problem);
}

}  // namespace duskline::harness
