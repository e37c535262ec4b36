/// Where the many runs of one scenario come from; its text is read once, its measured weather before every run.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

struct CaseSource {
  std::string text, name;  ///< of the file
  std::filesystem::path folder, plants;
  std::vector<std::string> settings;

  /// Takes the text and the folder from `file`, then reads; `name`, `plants` and `settings` are set. Whatever is wrong
  /// with the file, its weather included.
  scenarios::Result<scenarios::Case> open(const std::filesystem::path& file);
  /// The case with more settings applied after those given.
  scenarios::Result<scenarios::Case> read(std::span<const std::string> more = {}) const;
};

}  // namespace duskline::harness
