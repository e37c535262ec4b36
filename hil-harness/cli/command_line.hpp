/// The verbs and options of the program: one table that the parser, `--help`, the messages, the reference page, the
/// manual page and the completion of shells walk. Adding a verb is one row of the table and what it performs.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

/// A word by place ("FILE") or an option ("--out"). `take` stores a value and gives what is wrong with it.
struct Option {
  std::string name;
  std::string value;  ///< what stands for the value in the help; empty: a flag
  std::string meaning;
  std::function<std::string(const std::string&)> take;
  bool required = false, repeats = false;
  std::vector<std::string> excludes{};  ///< other options
  std::string needs{};                  ///< another option
  std::vector<std::string> choices{};   ///< offered by the completion; empty: whatever `value` says
  bool by_place() const { return !name.starts_with('-'); }
};

struct Arguments {
  std::vector<Option> options;
  std::function<int()> perform;
};

struct Verb {
  std::string_view name, what;
  std::string_view example;  ///< works when pasted, wherever the program is installed
  Arguments (*declare)();
};

std::span<const Verb> verb_table();
std::vector<std::string> verb_names();
std::string_view version();

/// What every command line may ask for.
inline constexpr std::string_view kHelpOption = "--help", kVersionOption = "--version";

struct CommandLine {
  const Verb* verb = nullptr;
  bool help = false, version = false;
  std::function<int()> perform;
  std::vector<std::string> settings;  ///< values of --set
  std::string scenario;               ///< value of the word SCENARIO
};

/// Reads the words after the name of the program and gives all that is wrong with them, located in the line
/// `duskline WORD WORD ...`, columns in bytes.
std::vector<scenarios::Problem> read_words(const std::vector<std::string>& words, CommandLine& line);

/// The help of a verb, or of the program, in at most 80 columns where words allow; `program` as it was called.
std::string help_text(const Verb* verb, const std::string& program, bool bold);
/// The manual page, in the man macros.
std::string manual_page();
/// The completion for a shell: `bash` or `zsh`.
std::string completion_script(const std::string& shell);

}  // namespace duskline::harness
