/// The verbs and options of the program: what the parser, `--help`, the messages and the reference read.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "hil-harness/cli/verbs.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

struct CommandLine {
  /// What is wrong with a value, or nothing.
  using Check = std::function<std::string(const std::string&)>;

  CommandLine();

  CLI::App app;
  CLI::App *run_app{}, *verify_app{}, *falsify_app{}, *linearize_app{}, *tune_app{}, *describe_app{};
  RunRequest run;
  VerifyRequest verify;
  FalsifyRequest falsify;
  LinearizeRequest linearize;
  TuneRequest tune;
  DescribeRequest describe;
  std::map<const CLI::Option*, Check> checks;

 private:
  void add_verify();
  void add_tune();
  void add_linearize();
  void add_falsify();
};

/// All that is wrong with the words after the name of the program; located in the line
/// `duskline WORD WORD ...`, columns in bytes.
std::vector<scenarios::Problem> problems_of(const CommandLine& line, const std::vector<std::string>& words);

}  // namespace duskline::harness
