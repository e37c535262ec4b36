/// Two folders with the same files, byte for byte.
#pragma once

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "tests/support/folder.hpp"

namespace duskline::tests {

inline void check_same_folders(const std::string& a, const std::string& b) {
  const auto names = [](const std::string& folder) {
    std::vector<std::string> list;
    for (const auto& entry : std::filesystem::directory_iterator(folder))
      list.push_back(entry.path().filename().string());
    std::sort(list.begin(), list.end());
    return list;
  };
  REQUIRE(names(a) == names(b));
  for (const std::string& name : names(a)) {
    INFO(name);
    CHECK(bytes_of(a + "/" + name) == bytes_of(b + "/" + name));
  }
}

}  // namespace duskline::tests
