/// A controller with one defect injected into a copy of its sources, built as a plug-in and put before the library.
/// The shipped sources and the shipped build stay as they are.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <stdexcept>

#include "hil-harness/verify/verify.hpp"
#include "tests/mutation/defects.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/toolchain.hpp"

namespace duskline::tests {

inline std::filesystem::path library_folder() {
  return std::filesystem::path(DUSKLINE_SOURCE_DIR) / "scenarios" / "library";
}

/// What the test of a defect is called.
inline std::string test_name(const Defect& d) {
  return fmt::format("defect {} is caught", d.name);
}

/// The words of a list that is written with blanks between.
inline std::vector<std::string> words_of(std::string_view list) {
  std::vector<std::string> words;
  for (std::size_t at = 0; at < list.size();) {
    const std::size_t end = std::min(list.find(' ', at), list.size());
    if (end > at) words.emplace_back(list.substr(at, end - at));
    at = end + 1;
  }
  return words;
}

inline std::size_t count_of(const std::string& text, std::string_view wanted) {
  std::size_t n = 0;
  for (std::size_t at = text.find(wanted); at != std::string::npos; at = text.find(wanted, at + 1)) ++n;
  return n;
}

/// The links of the runs that are judged; empty: the controllers of this program.
using Links = std::vector<std::string>;

/// Copies the controller to `folder`, injects the defect (none: leaves it whole), builds `folder`/controller.so and gives the
/// links to it: of the plant controller for a defect of its own sources, else of all controllers of a plant.
inline Links build_mutant(const Folder& folder, const Defect* defect) {
  namespace fs = std::filesystem;
  const fs::path root = folder.path(), from = fs::path(DUSKLINE_SOURCE_DIR) / "controller";
  fs::copy(from, root / "controller", fs::copy_options::recursive);
  if (defect != nullptr) {
    const fs::path file = root / "controller" / defect->file;
    std::string text = bytes_of(file.string());
    if (const std::size_t n = count_of(text, defect->find); n != 1)
      throw std::runtime_error(
          fmt::format("the defect '{}' looks for a text that stands {} times in controller/{}: mend "
                      "tests/mutation/defects.hpp",
                      defect->name, n, defect->file));
    text.replace(text.find(defect->find), defect->find.size(), defect->replacement);
    std::ofstream{file, std::ios::binary} << text;
  }
  std::string sources;
  for (const std::string& source : test::controller_sources())
    sources += fmt::format("'{}' ", (root / "controller" / fs::relative(source, from)).string());
  const std::string out = folder.file("controller.so");
  const test::Ran built = test::run_command(
      "g++ -std=c++20 -O1 -w -fPIC -shared -ffp-contract=off -ffreestanding -fno-math-errno "
      "-fno-exceptions "
      "-fno-rtti -I '" +
      root.string() + "' " + sources + "-o '" + out + "'");
  if (built.status != 0) throw std::runtime_error("does not compile: " + built.text);
  const bool of_plant = defect != nullptr && defect->file.starts_with("plant/");
  return {(of_plant ? "plant=plugin:" : "plugin:") + out};
}

/// Judges scenarios of the library: folders of it, or files named without their ending.
inline std::vector<harness::ScenarioResult> judge_library(const std::vector<std::string>& names,
                                                          unsigned threads, const Links& links,
                                                          const std::vector<std::string>& settings = {}) {
  std::vector<std::string> paths;
  for (const std::string& name : names) {
    const std::filesystem::path path = library_folder() / name;
    paths.push_back(std::filesystem::is_directory(path) ? path.string() : path.string() + ".yaml");
  }
  std::vector<scenarios::Problem> problems;
  std::vector<harness::ScenarioResult> all = harness::find_scenarios(paths, problems);
  if (!problems.empty()) throw std::runtime_error(scenarios::to_text(problems));
  harness::VerifyOptions options;
  options.plants = std::filesystem::path(DUSKLINE_SOURCE_DIR) / "plant-model" / "plants";
  options.settings = settings;
  options.threads = threads;
  const auto headers = std::stable_partition(
      all.begin(), all.end(), [](const auto& one) { return one.path.parent_path().filename() != "outpost"; });
  for (const bool between : {false, true}) {
    std::vector<harness::ScenarioResult> part(between ? headers : all.begin(), between ? all.end() : headers);
    options.links = links;
    if (between && links.size() == 1 && links.front().starts_with("plugin:"))
      options.links.push_back("plant=" + links.front());
    harness::check_all(part, options);
    std::move(part.begin(), part.end(), between ? headers : all.begin());
  }
  for (harness::ScenarioResult& one : all) {
    if (!one.problems.empty()) throw std::runtime_error(scenarios::to_text(one.problems));
    one.name = std::filesystem::relative(one.path, library_folder()).replace_extension().generic_string();
  }
  return all;
}

}  // namespace duskline::tests
