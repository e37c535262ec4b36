/// The files of this repository, for tests that read the sources.
#pragma once

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

namespace duskline::tests {

struct SourceFile {
  std::string path;  ///< from the root of the repository, with forward slashes
  std::string text;
};

inline std::string first_part(std::string_view path) {
  return std::string(path.substr(0, path.find('/')));
}

inline std::string extension(std::string_view path) {
  return std::filesystem::path(path).extension().string();
}

inline bool is_cpp(std::string_view path) {
  constexpr std::array<std::string_view, 5> kEndings{".cpp", ".hpp", ".h", ".c", ".S"};
  return std::ranges::find(kEndings, extension(path)) != kEndings.end();
}

inline std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    lines.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

/// Every file below the root, in order of path; without what builds, runs and editors leave behind.
inline std::vector<SourceFile> source_files() {
  namespace fs = std::filesystem;
  const fs::path root = DUSKLINE_SOURCE_DIR;
  constexpr std::array<std::string_view, 3> kLeftBehind{"build", "runs", "node_modules"};
  constexpr std::array<std::string_view, 6> kHidden{".ci",    ".clang-format", ".clang-tidy",
                                                    ".cmake", ".gitignore",    ".npmrc"};
  std::vector<SourceFile> files;
  for (auto at = fs::recursive_directory_iterator(root); at != fs::recursive_directory_iterator(); ++at) {
    const std::string name = at->path().filename().string();
    const bool hidden = name.starts_with('.') && std::ranges::find(kHidden, name) == kHidden.end();
    if (hidden || std::ranges::find(kLeftBehind, name) != kLeftBehind.end()) {
      if (at->is_directory()) at.disable_recursion_pending();
      continue;
    }
    if (!at->is_regular_file()) continue;
    std::ifstream in(at->path(), std::ios::binary);
    files.push_back({at->path().lexically_relative(root).generic_string(),
                     {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()}});
  }
  std::ranges::sort(files, {}, &SourceFile::path);
  return files;
}

/// Findings of a rule over all files, one a line, for a message that says what to do.
template <class Rule>
std::string findings(const std::vector<SourceFile>& files, const Rule& rule) {
  std::string all;
  for (const SourceFile& file : files)
    for (const std::string& finding : rule(file)) all += file.path + ": " + finding + "\n";
  return all;
}

}  // namespace duskline::tests
