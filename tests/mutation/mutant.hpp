/// A controller with one defect injected into a copy of its sources, built as a plug-in and put before the library.
/// The shipped sources and the shipped build stay as they are.
#pragma once

#include <dlfcn.h>

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <stdexcept>

#include "hil-harness/loop/shared_side.hpp"
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

/// What controls the runs that are judged.
struct Mutant {
  std::string file = {};     ///< the shared object; empty: the controllers of this program
  bool plant_alone = false;  ///< the module controllers are those of this program, which run faster
};

/// Copies the controller to `folder`, injects the defect (none: leaves it whole) and builds `folder`/controller.so.
inline Mutant build_mutant(const Folder& folder, const Defect* defect) {
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
  // unique symbols would let the tables of the first mutant of a process stand in all later ones
  const test::Ran built = test::run_command(
      "g++ -std=c++20 -O1 -w -fPIC -shared -fno-gnu-unique -ffp-contract=off -ffreestanding -fno-math-errno "
      "-fno-exceptions "
      "-fno-rtti -I '" +
      root.string() + "' " + sources + "-o '" + out + "'");
  if (built.status != 0) throw std::runtime_error("does not compile: " + built.text);
  return {out, defect != nullptr && defect->file.starts_with("plant/")};
}

/// The plant controller of a shared object, which stays loaded; it finds its own functions before those of the test.
inline harness::PlantControllerCalls plant_controller_of(const std::string& file) {
  void* const opened = dlopen(file.c_str(), RTLD_NOW | RTLD_LOCAL | RTLD_DEEPBIND);
  if (opened == nullptr) throw std::runtime_error(dlerror());
  harness::PlantControllerCalls calls;
  const auto find = [opened]<class Call>(Call& call, const char* name) {
    call = reinterpret_cast<Call>(dlsym(opened, name));
    if (call == nullptr) throw std::runtime_error(fmt::format("there is no {}", name));
  };
  find(calls.default_params, "ctl_plant_default_params");
  find(calls.init, "ctl_plant_init");
  find(calls.step, "ctl_plant_step");
  find(calls.orders_to_module, "ctl_plant_orders_to_module");
  find(calls.report_of_module, "ctl_plant_report_of_module");
  return calls;
}

/// Judges scenarios of the library: folders of it, or files named without their ending.
inline std::vector<harness::ScenarioResult> judge_library(const std::vector<std::string>& names,
                                                          unsigned threads, const Mutant& mutant,
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
  if (!mutant.file.empty() && !mutant.plant_alone) options.links = {"plugin:" + mutant.file};
  const harness::PlantControllerCalls plant =
      mutant.file.empty() ? harness::PlantControllerCalls{} : plant_controller_of(mutant.file);
  options.plant_controller = &plant;
  options.threads = threads;
  harness::check_all(all, options);
  for (harness::ScenarioResult& one : all) {
    if (!one.problems.empty()) throw std::runtime_error(scenarios::to_text(one.problems));
    one.name = std::filesystem::relative(one.path, library_folder()).replace_extension().generic_string();
  }
  return all;
}

}  // namespace duskline::tests
