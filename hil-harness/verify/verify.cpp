#include "hil-harness/verify/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <mutex>
#include <set>

#include "hil-harness/campaign/threads.hpp"
#include "hil-harness/links/plugin.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

bool is_scenario_file(const fs::path& path) {
  return path.extension() == ".yaml" || path.extension() == ".yml";
}

void check(Checked& one, const VerifyOptions& options) {
  auto read = scenarios::read_case(one.path, options.plants, options.settings, requirement_signals());
  if (!read) {
    one.problems = read.problems;
    return;
  }
  const scenarios::Case& c = *read.value;
  one.title = c.scenario.title;
  const Surroundings around = surroundings(c);
  for (const auto& problem : around.problems)
    one.problems.push_back({one.path.string(), 1, 1, "weather", problem});
  if (!one.problems.empty()) return;
  Watcher watcher(c.scenario);
  InProcess ours(c.scenario.controller);
  std::shared_ptr<Plugin> plugin;
  if (!options.controller.empty()) {
    auto opened = open_plugin(options.controller, c.scenario.controller);
    if (!opened) {
      one.problems = opened.problems;
      return;
    }
    plugin = std::move(*opened.value);
  }
  Link& link = plugin ? static_cast<Link&>(*plugin) : ours;
  LoopOptions loop;
  loop.interrupted = options.interrupted;
  loop.watch = [&](const Snapshot& s) { watcher.watch(s); };
  one.record = run_loop(c, link, loop);
  one.judged = watcher.judge();
  watcher.release();
}

}  // namespace

bool Checked::passed() const {
  return completed() && all_hold(judged);
}

std::vector<Checked> find_scenarios(const std::vector<std::string>& paths,
                                    std::vector<scenarios::Problem>& problems) {
  std::vector<Checked> all;
  std::set<fs::path> seen;
  const auto add = [&](const fs::path& path, const std::string& name) {
    if (!seen.insert(fs::weakly_canonical(path)).second) return;
    Checked one;
    one.name = name;
    one.path = path;
    all.push_back(std::move(one));
  };
  for (const std::string& given : paths) {
    std::error_code error;
    if (fs::is_directory(given, error)) {
      std::vector<fs::path> found;
      for (fs::recursive_directory_iterator it(given, error), end; !error && it != end; it.increment(error))
        if (it->is_regular_file() && is_scenario_file(it->path())) found.push_back(it->path());
      std::sort(found.begin(), found.end());
      if (found.empty())
        problems.push_back({given, 1, 1, "", "there is no scenario (*.yaml) in this folder"});
      for (const fs::path& path : found) add(path, fs::relative(path, given).generic_string());
    } else if (fs::is_regular_file(given, error)) {
      add(given, given);
    } else {
      problems.push_back({given, 1, 1, "", "there is no such file or folder"});
    }
  }
  return all;
}

bool check_all(std::vector<Checked>& all, const VerifyOptions& options) {
  std::size_t done = 0;
  std::mutex telling;
  const auto stopped = [&] {
    return options.interrupted != nullptr && options.interrupted->load(std::memory_order_relaxed);
  };
  on_threads(all.size(), options.threads, [&](std::size_t i) {
    if (stopped()) return;
    check(all[i], options);
    const std::lock_guard lock(telling);
    ++done;
    if (options.progress) options.progress(static_cast<double>(done) / static_cast<double>(all.size()));
  });
  return !stopped();
}

}  // namespace duskline::harness
