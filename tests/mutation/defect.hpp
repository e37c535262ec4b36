/// A defect: a change of one place of the controller's sources, and the scenario that catches it.
#pragma once

#include <string_view>

namespace duskline::tests {

struct Defect {
  std::string_view name;
  std::string_view what;         ///< in a sentence
  std::string_view file;         ///< below controller/
  std::string_view find;         ///< stands there exactly once
  std::string_view replacement;  ///< what stands there instead
  std::string_view quick;        ///< the shortest scenario of the library that catches it
  std::string_view others;       ///< more that were made for what it breaks, separated by blanks, folders too
};

}  // namespace duskline::tests
