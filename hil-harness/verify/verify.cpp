#include "hil-harness/verify/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <mutex>
#include <set>

#include "hil-harness/batch/threads.hpp"
#include "hil-harness/links/controllers.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

bool is_scenario_file(const fs::path& path) {
  return path.extension() == ".yaml" || path.extension() == ".yml";
}

void check(ScenarioResult& one, const VerifyOptions& options) {
  const auto read = read_whole_case(one.path, options.plants, options.settings);
  if (!read) {
    one.problems = read.problems;
    return;
  }
  const scenarios::Case& c = *read.value;
  one.title = c.scenario.title;
  if (options.only_read) return;
  Watcher watcher(c.scenario);
  const auto controllers = open_controllers(options.links, c);
  if (!controllers) {
    one.problems = controllers.problems;
    return;
  }
  LoopOptions loop;
  loop.interrupted = options.interrupted;
  loop.watch = [&](const Snapshot& s) { watcher.watch(s); };
  one.record = run_loop(c, *controllers.value, loop);
  one.judged = watcher.judge();
  watcher.release();
}

/// The scenario files below a folder, sorted; a problem when it cannot be read to its end.
std::vector<fs::path> files_below(const std::string& folder, std::vector<scenarios::Problem>& problems) {
  std::vector<fs::path> found;
  std::error_code error;
  fs::path last = folder;  // where reading stopped, if it does
  for (fs::recursive_directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
    last = it->path();
    std::error_code unknown;  // what a link that leads nowhere is
    if (it->is_regular_file(unknown) && is_scenario_file(last)) found.push_back(last);
  }
  if (error)
    problems.push_back(
        {folder, 1, 1, "", fmt::format("cannot be read beyond {}: {}", last.string(), error.message())});
  else if (found.empty())
    problems.push_back({folder, 1, 1, "", "there is no scenario (*.yaml) in this folder"});
  std::sort(found.begin(), found.end());
  return found;
}

/// Files of two folders may have one name; the paths as given tell them apart.
void tell_apart(std::vector<ScenarioResult>& all) {
  for (bool changed = true; changed;) {
    changed = false;
    std::map<std::string, int> bearers;
    for (const ScenarioResult& one : all) ++bearers[one.name];
    for (ScenarioResult& one : all) {
      const std::string given = scenarios::printable(one.path.generic_string());
      if (bearers[one.name] == 1 || one.name == given) continue;
      one.name = given;  // which may be the name of another
      changed = true;
    }
  }
}

}  // namespace

bool ScenarioResult::passed() const {
  return completed() && all_hold(judged);
}

scenarios::Result<scenarios::Case> read_whole_case(const fs::path& path, const fs::path& plants,
                                                   std::span<const std::string> settings) {
  auto read = scenarios::read_case(path, plants, settings, requirement_lists());
  if (!read) return read;
  std::vector<scenarios::Problem> problems;
  for (const auto& problem : surroundings(*read.value).problems)
    problems.push_back({path.string(), 1, 1, "weather", problem});
  if (!problems.empty()) return {std::nullopt, problems};
  return read;
}

std::vector<ScenarioResult> find_scenarios(const std::vector<std::string>& paths,
                                           std::vector<scenarios::Problem>& problems) {
  std::vector<ScenarioResult> all;
  std::set<fs::path> seen;
  const auto add = [&](const fs::path& path, const std::string& name) {
    std::error_code error;
    const fs::path whole = fs::canonical(path, error);
    if (!seen.insert(error ? path : whole).second) return;
    ScenarioResult one;
    one.name = scenarios::printable(name);
    one.path = path;
    all.push_back(std::move(one));
  };
  for (const std::string& given : paths) {
    std::error_code error;
    if (fs::is_directory(given, error)) {
      for (const fs::path& path : files_below(given, problems))
        add(path, path.lexically_relative(given).generic_string());
    } else if (fs::is_regular_file(given, error)) {
      add(given, given);
    } else {
      problems.push_back({given, 1, 1, "", "there is no such file or folder"});
    }
  }
  tell_apart(all);
  return all;
}

bool check_all(std::vector<ScenarioResult>& all, const VerifyOptions& options) {
  std::size_t done = 0;
  std::mutex telling;
  const auto stopped = [&] {
    return options.interrupted != nullptr && options.interrupted->load(std::memory_order_relaxed);
  };
  on_threads(all.size(), options.threads, [&](std::size_t i) {
    if (stopped()) return;
    ScenarioResult& one = all[i];
    check(one, options);
    one.done = options.only_read || one.refused() || one.record.end.reason != plant::RunEnd::interrupted;
    if (!one.done) one.judged.clear();
    const std::lock_guard lock(telling);
    ++done;
    if (options.progress) options.progress(static_cast<double>(done) / static_cast<double>(all.size()));
  });
  return !stopped();
}

}  // namespace duskline::harness
