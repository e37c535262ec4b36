/// Many scenarios at once, each judged; the result depends on the files alone, not on the number of threads.
#pragma once

#include <filesystem>
#include <functional>

#include "hil-harness/verify/judge.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

/// One scenario and what became of it.
struct ScenarioResult {
  std::string
      name;  ///< path of the file as given, or below the folder given, printable; no other has the same
  std::filesystem::path path;
  std::string title;
  std::vector<scenarios::Problem> problems;  ///< of reading it; nothing was run then
  RunRecord record;
  std::vector<RequirementResult> judged;
  bool done = false;  ///< refused, or run to an end of its own; false: not run, or interrupted on the way

  bool refused() const { return !problems.empty(); }
  bool completed() const { return done && !refused() && record.end.reason == plant::RunEnd::reached_end; }
  /// Every requirement is satisfied or was not exercised.
  bool passed() const;
};

/// Everything that can be known to be wrong with a scenario without running it: its own text, its requirements, plant,
/// controller and weather.
scenarios::Result<scenarios::Case> read_whole_case(const std::filesystem::path& path,
                                                   const std::filesystem::path& plants,
                                                   std::span<const std::string> settings);

/// The scenario files of a list of files and folders, sorted, each once; problems for what is not there or cannot be
/// read.
std::vector<ScenarioResult> find_scenarios(const std::vector<std::string>& paths,
                                           std::vector<scenarios::Problem>& problems);

struct VerifyOptions {
  std::filesystem::path plants;
  std::vector<std::string> settings;
  std::vector<std::string> links;  ///< to the controllers of every run; empty: those in this program
  bool only_read = false;          ///< read and check the files, run nothing
  unsigned threads = 1;
  std::function<void(double)> progress;  ///< called by one thread at a time
  const std::atomic<bool>* interrupted = nullptr;
};

/// Runs and judges all; false when it was interrupted, and then some are not `done`.
bool check_all(std::vector<ScenarioResult>& all, const VerifyOptions& options);

/// Results as JUnit XML and as TAP version 14. Same results, same bytes: no times, no hosts.
std::string junit_xml(const std::vector<ScenarioResult>& all);
std::string tap_text(const std::vector<ScenarioResult>& all);

}  // namespace duskline::harness
