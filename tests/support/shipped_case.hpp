/// The scenarios that ship, read and run in the closed loop.
#pragma once

#include <filesystem>
#include <stdexcept>
#include <string>
#include <vector>

#include "hil-harness/loop/loop.hpp"

namespace duskline::tests {

inline std::filesystem::path library() {
  return std::filesystem::path(DUSKLINE_SOURCE_DIR) / "scenarios" / "library";
}

inline scenarios::Case read_shipped(const std::filesystem::path& path,
                                    const std::vector<std::string>& settings = {}) {
  const auto plants = std::filesystem::path(DUSKLINE_SOURCE_DIR) / "plant-model" / "plants";
  auto read = scenarios::read_case(path, plants, settings);
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return *read.value;
}

inline harness::RunRecord run_case(const scenarios::Case& c, const harness::LoopOptions& options = {}) {
  return harness::run_loop(c, {}, options);
}

/// Runs a scenario of the library: run_shipped("dawn-dusk/equinox-sol.yaml").
inline harness::RunRecord run_shipped(const std::string& name, const std::vector<std::string>& settings = {},
                                      const harness::LoopOptions& options = {}) {
  return run_case(read_shipped(library() / name, settings), options);
}

inline constexpr double kGramsPerHour = 1e-3 / 3600.0;  ///< kg/s

}  // namespace duskline::tests
