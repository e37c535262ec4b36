#include "hil-harness/cli/cli.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <new>

#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {
namespace {

/// What is wrong with the settings, when the command line keeps the verb from reading them.
void add_problems_of_settings(const CommandLine& line, std::vector<scenarios::Problem>& problems) {
  if (line.settings.empty() || line.scenario.empty()) return;
  const auto read =
      scenarios::read_case(scenario_file(line.scenario),
                           std::filesystem::path(home_folder()) / "plant-model" / "plants", line.settings);
  for (const scenarios::Problem& p : read.problems)
    if (p.file == "--set") problems.push_back(p);
}

int dispatch(const std::string& program, const std::vector<std::string>& words) {
  CommandLine line;
  auto problems = read_words(words, line);
  if (problems.empty() && (line.help || line.version))
    return print_text(line.version ? fmt::format("duskline {}\n", version())
                                   : help_text(line.verb, program, has_colour(Stream::out)));
  if (!problems.empty()) add_problems_of_settings(line, problems);
  if (problems.empty()) problems = problems_of_home();
  if (problems.empty()) problems = problems_of_scenario_name(line.scenario);
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  return line.perform();
}

}  // namespace

int command_line(int argc, const char* const* argv) {
  prepare_output();
  try {
    const std::vector<std::string> words(argv + std::min(argc, 1), argv + argc);
    return with_output_checked(dispatch(argc > 0 ? argv[0] : "duskline", words));
  } catch (const std::bad_alloc&) {
    print_error("not completed: no memory left\n");
  } catch (const std::exception& e) {
    print_error(fmt::format("not completed: {}\n", e.what()));
  }
  return kNotCompleted;
}

}  // namespace duskline::harness
