/// What it is   the ways in which a run can end, in one table, and the result that carries one of them.
/// Equation     X(name, word, meaning) expands to the enumeration, the words and the explanations.
/// Symbols      time in s since the start of the run; who names the state, link, file or part concerned.
/// Validity     every run ends with exactly one of these; only the first is a complete run.
/// Source       our own; the words appear in summaries and reports as written here.
/// Left out     verdicts on requirements, which are a property of the trace and not of how the run ended.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <string_view>

namespace duskline::plant {

// clang-format off
#define DUSKLINE_RUN_ENDS(X)                                                                                  \
  X(reached_end,        "reached end",        "the run reached its last tick")                                \
  X(interrupted,        "interrupted",        "the user or the scenario stopped the run early")               \
  X(state_out_of_range, "state out of range", "a state left the range in which the model holds")              \
  X(step_too_small,     "step too small",     "the error tolerance could not be met at the smallest step")    \
  X(balance_open,       "balance not closed", "atoms or energy came or went without crossing the boundary of the plant") \
  X(solver_failed,      "solver failed",      "a derivative or a linear system was not finite")               \
  X(link_lost,          "link lost",          "the controller on the other side of the link did not answer")  \
  X(controller_failed,  "controller failed",  "the controller gave up, crashed or ended its process")                     \
  X(answer_late,        "answer late",        "the controller's answer took longer than its link allows")             \
  X(answer_unusable,    "answer unusable",    "a command was not a number, or a word was not in its list")            \
  X(deadline_missed,    "deadline missed",    "a run in real time fell more than 5 s behind the clock")   \
  X(disk_full,          "disk full",          "there was no room for more of the trace")                          \
  X(trace_failed,       "trace failed",       "the trace could not be written, for another reason than room")
// clang-format on

enum class RunEnd {
#define DUSKLINE_X(name, word, meaning) name,
  DUSKLINE_RUN_ENDS(DUSKLINE_X)
#undef DUSKLINE_X
};

struct RunEndEntry {
  RunEnd reason;
  std::string_view word;
  std::string_view meaning;
};

inline constexpr std::array kRunEnds = {
#define DUSKLINE_X(name, word, meaning) RunEndEntry{RunEnd::name, word, meaning},
    DUSKLINE_RUN_ENDS(DUSKLINE_X)
#undef DUSKLINE_X
};

constexpr std::string_view word(RunEnd reason) {
  return kRunEnds[static_cast<std::size_t>(reason)].word;
}
constexpr std::string_view meaning(RunEnd reason) {
  return kRunEnds[static_cast<std::size_t>(reason)].meaning;
}

struct RunResult {
  RunEnd reason = RunEnd::reached_end;
  double time = 0;  // s
  std::string who;
};

}  // namespace duskline::plant
