/// Scenarios of any plant, also of those with several modules between headers.
#pragma once

#include "hil-harness/loop/signal_rows.hpp"
#include "tests/support/shipped_case.hpp"

namespace duskline::tests {

inline scenarios::Case read_any_plant(const std::filesystem::path& path,
                                      const std::vector<std::string>& settings = {}) {
  const auto read = scenarios::read_case(path, DUSKLINE_SOURCE_DIR "/plant-model/plants", settings,
                                         harness::requirement_lists());
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return *read.value;
}

}  // namespace duskline::tests
