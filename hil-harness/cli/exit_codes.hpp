/// How the program ends, in one table: what a script, a CI job and the reference page rely on.
#pragma once

#include <array>
#include <string_view>

namespace duskline::harness {

// clang-format off
#define DUSKLINE_EXIT_CODES(X)                                                                               \
  X(kSuccess,         0, "all well",            "the run reached its end, or what was asked for was shown")      \
  X(kViolated,     1, "requirement violated", "the run is complete and violated a requirement of the scenario")  \
  X(kBadInput,     2, "bad input",           "the command line or an input is wrong; every problem is listed as `file:line:column: path: message` and nothing was run or overwritten") \
  X(kNotCompleted, 3, "not completed",       "the run could not be completed (interrupted, numerics, link, disk); what was recorded so far is kept and readable")
// clang-format on

enum ExitCode {
#define DUSKLINE_X(name, code, word, meaning) name = code,
  DUSKLINE_EXIT_CODES(DUSKLINE_X)
#undef DUSKLINE_X
};

struct ExitCodeEntry {
  int code;
  std::string_view word, meaning;
};

inline constexpr std::array kExitCodes = {
#define DUSKLINE_X(name, code, word, meaning) ExitCodeEntry{code, word, meaning},
    DUSKLINE_EXIT_CODES(DUSKLINE_X)
#undef DUSKLINE_X
};

}  // namespace duskline::harness
