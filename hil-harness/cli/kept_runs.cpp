#include "hil-harness/cli/kept_runs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <set>

#include "hil-harness/cli/accepted_page.hpp"
#include "hil-harness/cli/exit_codes.hpp"
#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

/// Where the run of each scenario is kept: below `out`, whatever its name holds, and each in a folder of its own.
std::vector<fs::path> kept_folders(const std::vector<ScenarioResult>& all, const fs::path& out) {
  std::vector<fs::path> folders;
  std::set<fs::path> taken;
  for (const ScenarioResult& one : all) {
    fs::path inside;
    for (const fs::path& part : fs::path(one.name).replace_extension().relative_path())
      if (part != "." && part != "..") inside /= part;
    fs::path folder = out / inside;
    for (int n = 2; !taken.insert(folder).second; ++n)
      folder = out / fmt::format("{}-{}", inside.string(), n);
    folders.push_back(std::move(folder));
  }
  return folders;
}

fs::path kept_root(const VerifyRequest& request) {
  return request.out.empty() ? fs::path("runs") / "verify" : fs::path(request.out);
}

/// The folders below `out` in which an earlier check kept something.
std::vector<RunFolder> kept_before(const fs::path& out) {
  std::vector<RunFolder> kept;
  std::error_code error;
  const auto look = [&](const fs::path& folder) {
    std::error_code unknown;
    if (const RunFolder run(folder); fs::is_regular_file(run.kept_by_verify, unknown)) kept.push_back(run);
  };
  if (!fs::is_directory(out, error)) return kept;
  look(out);
  for (fs::recursive_directory_iterator it(out, error), end; !error && it != end; it.increment(error))
    if (it->is_directory(error) && !it->is_symlink(error)) look(it->path());
  return kept;
}

bool mark_as_kept(const RunFolder& run) {
  return write_whole(run.kept_by_verify, "verify --force replaces what is in this folder\n");
}

/// Removes what an earlier check kept, and the folders that it leaves empty.
void remove_kept(const std::vector<RunFolder>& kept, const fs::path& out) {
  std::error_code error;
  for (const RunFolder& run : kept) {
    for (const fs::path& file : run.files()) fs::remove(file, error);
    for (fs::path folder = run.folder; folder != out && fs::is_empty(folder, error) && !error;
         folder = folder.parent_path())
      fs::remove(folder, error);
  }
}

/// Runs a scenario once more into `folder`; false when that could not be kept.
bool keep(const ScenarioResult& one, const fs::path& folder, const VerifyRequest& request) {
  RunRequest run;
  run.scenario = one.path.string();
  run.settings = request.settings;
  run.links = request.links;
  run.out = folder.string();
  run.quiet = true;
  const int code = run_verb(run);
  // a run that was cut short before is so again, and is whole as far as it goes
  std::error_code error;
  const RunFolder made(folder);
  return (code == kSuccess || code == kViolated ||
          (code == kNotCompleted && !one.completed() && fs::exists(made.report, error))) &&
         mark_as_kept(made);
}

}  // namespace

int clear_kept(const std::vector<ScenarioResult>& all, const VerifyRequest& request) {
  std::error_code error;
  const fs::path out = kept_root(request);
  const auto refuse = [&out](const std::string& why) {
    print_error(scenarios::to_text(scenarios::Problem{"--out", 1, 1, out.string(), why}) + "\n");
    return kBadInput;
  };
  if (fs::exists(out, error) && !fs::is_directory(out, error))
    return refuse("is a file; --out names a folder");
  const auto kept = kept_before(out);
  for (const fs::path& folder : kept_folders(all, out))
    if (const RunFolder run(folder);
        !fs::exists(run.kept_by_verify, error) && !make_room(folder, run.files(), "a run", false).empty())
      return refuse(fmt::format("holds a run that no check kept ({}); another --out keeps it",
                                folder.lexically_relative(out).generic_string()));
  if (kept.empty()) return kSuccess;
  if (!request.force)
    return refuse(
        fmt::format("holds runs that an earlier check kept ({}); --force replaces them, another --out keeps "
                    "them, --no-record keeps none",
                    kept.front().folder.lexically_relative(out).generic_string()));
  remove_kept(kept, out);
  return kSuccess;
}

bool keep_runs(const std::vector<ScenarioResult>& all, const VerifyRequest& request,
               const AcceptedComparison& against, const AcceptedResults* accepted) {
  const auto folders = kept_folders(all, kept_root(request));
  const bool tells = !request.quiet && !request.json;
  bool well = true;
  for (std::size_t i = 0; i < all.size() && !stop_wanted(); ++i) {
    const ScenarioResult& one = all[i];
    if (!one.done || one.refused()) continue;
    const std::vector<Change> changes = against.of(one.name);
    const bool worse = std::any_of(changes.begin(), changes.end(), [](const Change& c) { return c.fails; });
    if (worse || !one.passed()) {
      const bool kept = keep(one, folders[i], request);
      well = kept && well;
      if (kept && tells) print(fmt::format("  kept             {}\n", folders[i].string()));
    }
    if (accepted == nullptr || changes.empty()) continue;
    std::error_code error;
    fs::create_directories(folders[i], error);
    const fs::path page = RunFolder(folders[i]).comparison;
    if (const Outcome written = write_accepted_page(*accepted, one, changes, page.string()); !written) {
      print_error(written.problem + "\n");
      well = false;
    } else if (well = mark_as_kept(RunFolder(folders[i])) && well; tells) {
      print(fmt::format("  compared         {}\n", page.string()));
    }
  }
  if (stop_wanted()) print_error("not completed: interrupted before all that failed was kept\n");
  return well && !stop_wanted();
}

}  // namespace duskline::harness
