#include <fmt/format.h>

#include <filesystem>

#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/fmi/description.hpp"
#include "hil-harness/fmi/zip.hpp"
#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

/// The shared object of all units: beside the program, or where it is installed.
std::optional<std::string> shared_object() {
  std::error_code error;
  const fs::path folder = fs::read_symlink("/proc/self/exe", error).parent_path();
  const std::string file = std::string(kUnitName) + ".so";
  if (auto found = content_of(folder / file)) return found;
  return content_of(folder.parent_path() / DUSKLINE_LIBRARY_FOLDER / "duskline" / file);
}

}  // namespace

int export_unit_verb(const ExportUnitRequest& request) {
  const auto refuse = [](const scenarios::Problem& problem) {
    print_error(scenarios::to_text(std::vector{problem}));
    return kBadInput;
  };
  std::vector<std::string> settings = request.settings;
  if (request.seed) settings.push_back("seed=" + std::to_string(*request.seed));
  const fs::path plants = fs::path(home_folder()) / "plant-model" / "plants";
  auto read = scenarios::read_case(scenario_file(request.scenario), plants, settings);
  if (!read) {
    print_error(scenarios::to_text(read.problems));
    return kBadInput;
  }
  scenarios::Case& c = *read.value;
  const auto around = surroundings(c);
  for (const auto& problem : around.problems) print_error(problem + "\n");
  if (!around.problems.empty()) return kBadInput;
  std::error_code error;
  if (fs::exists(request.out, error) && !request.force)
    return refuse({"--out", 1, 1, request.out, "exists already; --force overwrites it"});
  const auto object = shared_object();
  if (!object)
    return refuse({"installation", 1, 1, std::string(kUnitName) + ".so", "is not beside the program"});

  c.scenario.requirements.clear();  // a unit judges nothing
  std::vector<std::pair<std::string, std::string>> files;
  const std::string resources = "resources/";
  if (!c.weather_file.empty()) {
    files.emplace_back(resources + kUnitWeather, content_of(c.weather_file).value_or(""));
    c.scenario.weather = kUnitWeather;
  }
  const std::string resolved = scenarios::write_resolved(c.scenario, c.plant);
  files.emplace_back(resources + kUnitScenario, resolved);
  const UnitStandard standard = request.standard == "3" ? UnitStandard::fmi3 : UnitStandard::fmi2;
  const char* const platform = standard == UnitStandard::fmi3 ? "x86_64-linux" : "linux64";
  files.emplace_back(fmt::format("binaries/{}/{}.so", platform, kUnitName), *object);
  files.emplace_back("modelDescription.xml",
                     unit_description(standard, c.scenario, resolved, std::string(version())));
  const fs::path folder = fs::path(request.out).parent_path();
  if (!folder.empty()) fs::create_directories(folder, error);
  if (!write_whole(request.out, zip_of(files))) return kNotCompleted;
  return print_text(fmt::format("  written to       {}\n", request.out));
}

}  // namespace duskline::harness
