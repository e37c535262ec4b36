#include "hil-harness/cli/cli.hpp"

#include <fmt/format.h>

#include <new>

#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/output.hpp"

namespace duskline::harness {
namespace {

int dispatch(int argc, const char* const* argv) {
  CommandLine line;
  const std::vector<std::string> words(argv + 1, argv + std::max(argc, 1));
  if (const auto problems = problems_of(line, words); !problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  try {
    line.app.parse(argc, argv);
  } catch (const CLI::CallForVersion& e) {
    print(fmt::format("{}\n", e.what()));
    return kSuccess;
  } catch (const CLI::CallForHelp&) {
    print(line.app.help());
    return kSuccess;
  } catch (const CLI::ParseError& e) {
    print_error(fmt::format("command line:1:1: {}\n", e.what()));
    return kBadInput;
  }
  if (line.run_app->parsed()) return run_verb(line.run);
  if (line.falsify_app->parsed()) return falsify_verb(line.falsify);
  if (line.linearize_app->parsed()) return linearize_verb(line.linearize);
  if (line.tune_app->parsed()) return tune_verb(line.tune);
  return line.verify_app->parsed() ? verify_verb(line.verify) : describe_verb(line.describe);
}

}  // namespace

int command_line(int argc, const char* const* argv) {
  prepare_output();
  try {
    return with_output_checked(dispatch(argc, argv));
  } catch (const std::bad_alloc&) {
    print_error("not completed: no memory left\n");
  } catch (const std::exception& e) {
    print_error(fmt::format("not completed: {}\n", e.what()));
  }
  return kNotCompleted;
}

}  // namespace duskline::harness
