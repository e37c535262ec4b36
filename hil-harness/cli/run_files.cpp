#include "hil-harness/cli/run_files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <iterator>
#include <utility>

#include "hil-harness/cli/output.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

scenarios::Problem problem(const fs::path& path, std::string message) {
  return {"--out", 1, 1, path.string(), std::move(message)};
}

fs::path unfinished(const fs::path& path) {
  return path.string() + ".part";
}

/// Opens a file that is made here and now: what a killed run or somebody else left under this name goes, and no link
/// is followed. -1 with errno set when that cannot be done.
int open_new(const fs::path& path) {
  if (unlink(path.c_str()) != 0 && errno != ENOENT) return -1;
  return open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
}

/// Writes all bytes to an open file; false with errno set.
bool write_bytes(int file, const std::string& bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t taken = write(file, bytes.data() + done, bytes.size() - done);
    if (taken < 0 && errno == EINTR) continue;
    if (taken <= 0) return false;
    done += static_cast<std::size_t>(taken);
  }
  return true;
}

}  // namespace

FolderLock::~FolderLock() {
  if (file_ >= 0) close(file_);
}

FolderLock::FolderLock(FolderLock&& other) noexcept : file_(std::exchange(other.file_, -1)) {}

FolderLock& FolderLock::operator=(FolderLock&& other) noexcept {
  std::swap(file_, other.file_);
  return *this;
}

bool FolderLock::take(const fs::path& folder) {
  file_ = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  return file_ < 0 || flock(file_, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;
}

// The library that writes traces takes a path such as http://... for an address on the network: it is given absolute
// ones.
RunFolder::RunFolder(fs::path f)
    : folder(std::move(f)),
      trace((fs::absolute(folder) / "trace.nc").lexically_normal()),
      summary(folder / "summary.json"),
      report(folder / "report.html"),
      scenario(folder / "scenario.resolved.yaml"),
      weather(folder / "weather.csv"),
      acts(folder / "acts.yaml"),
      compared_trace((fs::absolute(folder) / "compared.nc").lexically_normal()),
      compared_summary(folder / "compared.json"),
      comparison(folder / "compare.html"),
      timing(folder / "timing.json"),
      sols((fs::absolute(folder) / "sols.nc").lexically_normal()),
      sols_page(folder / "sols.html"),
      checkpoint(folder / "checkpoint"),
      kept_by_verify(folder / "kept-by-verify") {}

std::vector<fs::path> RunFolder::files() const {
  const std::vector<fs::path> replaced{summary,   report,           scenario,      weather,
                                       acts,      compared_summary, comparison,    timing,
                                       sols_page, checkpoint,       kept_by_verify};
  std::vector<fs::path> all{trace, compared_trace, sols};
  for (const fs::path& path : {trace, compared_trace, sols})
    for (const char* ending : {".columns", ".rows"}) all.push_back(path.string() + ending);
  for (const fs::path& path : replaced) {
    all.push_back(path);
    all.push_back(unfinished(path));
  }
  return all;
}

std::vector<scenarios::Problem> open_folder(const fs::path& folder, FolderLock& lock) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) return {problem(folder, fmt::format("cannot be made: {}", error.message()))};
  if (!lock.take(folder)) return {problem(folder, "is being written by another duskline")};
  // asking for permission is no proof (root, read-only disks); making a file is
  const fs::path probe = folder / ".duskline.part";
  const int file = open_new(probe);
  if (file < 0) return {problem(folder, fmt::format("cannot be written: {}", std::strerror(errno)))};
  close(file);
  fs::remove(probe, error);
  return {};
}

std::vector<scenarios::Problem> make_room(const fs::path& folder, const std::vector<fs::path>& files,
                                          const std::string& what, bool force) {
  std::error_code error;
  if (fs::exists(folder, error) && !fs::is_directory(folder, error))
    return {problem(folder, "is a file; --out names a folder")};
  std::vector<fs::path> old;
  for (const fs::path& path : files)
    if (fs::exists(fs::symlink_status(path, error))) old.push_back(path);
  if (!force && !old.empty())
    return {
        problem(folder, fmt::format("holds {} already ({}); --force overwrites it, another --out keeps it",
                                    what, old.front().filename().string()))};
  for (const fs::path& path : old)
    if (fs::is_directory(fs::symlink_status(path, error)))
      return {problem(path, "is a folder; it is left alone")};
  return {};
}

std::vector<scenarios::Problem> prepare(const RunFolder& out, FolderLock& lock, bool force) {
  if (auto problems = make_room(out.folder, out.files(), "a run", force); !problems.empty()) return problems;
  if (auto problems = open_folder(out.folder, lock); !problems.empty()) return problems;
  std::error_code error;
  // another process may have left its run here in the meantime
  if (auto problems = make_room(out.folder, out.files(), "a run", force); !problems.empty()) return problems;
  for (const fs::path& path : out.files()) fs::remove(path, error);
  return {};
}

void forget_checkpoint(const RunFolder& out) {
  std::error_code error;
  fs::remove(out.checkpoint, error);
  for (const fs::path& path : {out.trace, out.sols}) fs::remove(path.string() + ".rows", error);
}

std::optional<std::string> content_of(const fs::path& path) {
  std::error_code error;
  if (!fs::is_regular_file(path, error)) return std::nullopt;  // a pipe or a device has no end to wait for
  std::ifstream file(path, std::ios::binary);
  if (!file) return std::nullopt;
  return std::string(std::istreambuf_iterator<char>(file), {});
}

std::string cannot_write(const fs::path& path) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  if (fs::is_directory(status)) return "is a folder";
  if (fs::exists(status) && !fs::is_regular_file(status))
    return access(path.c_str(), W_OK) == 0 ? "" : std::strerror(errno);
  const fs::path part = unfinished(path);
  const int file = open_new(part);
  if (file < 0) return std::strerror(errno);
  close(file);
  std::remove(part.c_str());
  return {};
}

bool write_whole(const fs::path& path, const std::string& bytes) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  // a device or a pipe is written to; only a file is replaced, and a link stays one
  const bool direct = fs::exists(status) && !fs::is_regular_file(status);
  const bool link = !direct && fs::is_symlink(fs::symlink_status(path, error)) && fs::exists(status);
  const fs::path target = link ? fs::canonical(path, error) : path;
  const fs::path part = direct ? target : unfinished(target);
  const int file = direct ? open(part.c_str(), O_WRONLY | O_CLOEXEC) : open_new(part);
  const bool ours = file >= 0 && !direct;
  bool well = file >= 0 && write_bytes(file, bytes);
  int why = errno;
  if (file >= 0 && close(file) != 0 && well) {
    well = false;
    why = errno;
  }
  if (well && (direct || std::rename(part.c_str(), target.c_str()) == 0)) return true;
  if (well) why = errno;
  if (ours) std::remove(part.c_str());
  print_error(
      fmt::format("{}: cannot be written: {}\n", scenarios::printable(path.string()), std::strerror(why)));
  return false;
}

}  // namespace duskline::harness
