#include "hil-harness/train/debrief.hpp"

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "hil-harness/loop/recorder.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/verify/summary_json.hpp"

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

/// Runs the case for as many ticks as the session had; its summary, or an empty text.
std::string recorded(const scenarios::Case& c, const scenarios::Acts& acts, const std::string& path) {
  InProcess link(c.scenario.controller);
  Watcher watcher(c.scenario);
  Recorder recorder(path, {{"title", c.scenario.title}, {"plant", c.plant.name}},
                    c.scenario.record <= c.scenario.period);
  LoopOptions options;
  options.acts = &acts;
  options.record = [&](const Snapshot& s) { return recorder.row(s); };
  options.watch = [&](const Snapshot& s) {
    watcher.watch(s);
    recorder.watch(s);
  };
  const RunRecord run = run_loop(c, link, options);
  if (!recorder.close()) return {};
  return summary_json(c, run, watcher.judge());
}

}  // namespace

std::string debrief_page(const scenarios::Case& c, const SessionRecord& record, std::string& problem) {
  const ScratchFolder folder;
  if (!folder.made()) return problem = "no folder for the traces", std::string{};
  scenarios::Case until = c;
  until.scenario.duration = static_cast<double>(record.ticks) * c.scenario.period;
  scenarios::Acts alone = record.acts;
  alone.requests.clear();
  alone.operator_actions.clear();
  alone.causes.clear();
  const std::string summary = recorded(until, record.acts, folder.file("session.nc"));
  const std::string other = recorded(until, alone, folder.file("alone.nc"));
  if (summary.empty() || other.empty()) return problem = "the traces cannot be written", std::string{};
  ReportInfo info;
  info.title = c.scenario.title;
  info.purpose = c.scenario.purpose;
  info.run_name = "the session";
  info.baseline_name = "the controller alone";
  const Outcome drawn = write_report(folder.file("session.nc"), summary, info, folder.file("debrief.html"),
                                     folder.file("alone.nc"));
  if (!drawn) return problem = drawn.problem, std::string{};
  std::ifstream page(folder.file("debrief.html"), std::ios::binary);
  return {std::istreambuf_iterator<char>(page), {}};
}

}  // namespace duskline::harness
