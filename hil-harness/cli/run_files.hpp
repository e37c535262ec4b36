/// The folder of a run: which files it holds, whether it may be written, and writing whole files.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

/// Keeps a folder for this process as long as it lives; where the file system knows no locks, nothing is kept.
class FolderLock {
 public:
  FolderLock() = default;
  ~FolderLock();
  FolderLock(FolderLock&& other) noexcept;
  FolderLock& operator=(FolderLock&& other) noexcept;
  /// False when another process keeps the folder.
  bool take(const std::filesystem::path& folder);

 private:
  int file_ = -1;
};

/// Makes the folder, keeps it, and sees that it can be written.
std::vector<scenarios::Problem> open_folder(const std::filesystem::path& folder, FolderLock& lock);
/// A file of an earlier call is a problem unless `force`; a folder in its place is one always. Nothing is changed.
std::vector<scenarios::Problem> make_room(const std::filesystem::path& folder,
                                          const std::vector<std::filesystem::path>& files,
                                          const std::string& what, bool force);

struct RunFolder {
  explicit RunFolder(std::filesystem::path folder);

  std::filesystem::path folder, trace, summary, report, scenario, weather, acts, compared_trace,
      compared_summary, comparison, timing, sols, sols_page, checkpoint,
      kept_by_verify;  ///< says that a check kept this run, and may replace it

  /// Everything that a run may leave here, unfinished files included.
  std::vector<std::filesystem::path> files() const;
};

/// Makes and keeps the folder and sees that it can be written; removes an earlier run if `force`. On a problem nothing
/// is changed.
std::vector<scenarios::Problem> prepare(const RunFolder& out, FolderLock& lock, bool force);

/// Removes what a run is gone on with.
void forget_checkpoint(const RunFolder& out);

/// Writes a whole file or none, and says why not. A device or a pipe is written to as it is.
bool write_whole(const std::filesystem::path& path, const std::string& bytes);
/// Why this file cannot be written; empty: it can.
std::string cannot_write(const std::filesystem::path& path);
/// The bytes of a regular file; nothing when it is none or cannot be opened.
std::optional<std::string> content_of(const std::filesystem::path& path);

}  // namespace duskline::harness
