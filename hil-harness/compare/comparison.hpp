/// Two runs side by side: figures, verdicts, events and signals, A against B.
///
/// What it is   A is what one started from, B what is held against it; differences are B less A
/// Equation     signals: at the rows of A in the time that both runs cover, B interpolated linearly (flags: as they stood);
///              share = largest difference over the range of both
/// Validity     runs of any length and period; what only one of them has is listed as such
/// Left out     events of one kind and text are paired in their order in time
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "hil-harness/report/summary_view.hpp"
#include "hil-harness/trace/trace_reader.hpp"

namespace duskline::harness {

inline constexpr double kSameInstant = 1.0;  ///< s: events nearer than this are at the same time

/// One of the two runs. Without a trace its signals are not compared.
struct ComparedRun {
  std::string name;
  SummaryView summary;
  std::optional<TraceReader> trace;
};

struct FigurePair {
  std::string text, unit;
  std::optional<double> a, b;
  std::string words_a, words_b;  ///< where the value is no number; empty also when the run lacks the figure
  bool shown = true;             ///< on the page in full view; the others are folded
  bool same() const { return a == b && words_a == words_b; }
};

struct VerdictPair {
  std::string name, unit;
  std::string a, b;  ///< verdicts; empty: the run lacks the requirement
  std::optional<double> margin_a, margin_b;
  bool changed() const { return a != b; }
  bool lost = false;   ///< satisfied in A, violated in B
  bool shown = false;  ///< on the page in full view; the others are folded
};

struct EventPair {
  std::string kind, text;
  std::optional<double> a, b;  ///< s; only one of them: the event is in that run alone
};

struct SignalPair {
  std::string name, unit;
  double largest{};     ///< |B - A|, in `unit`; flags: 1 where they differ
  double time{};        ///< s, where it is
  std::size_t place{};  ///< along the axis, from 1; 0: the signal has one
  double share{};       ///< of the range of both; flags: of the rows in which they differ
  bool controller{};    ///< a state of the controller, listed after what the plant did
};

/// What a reader wants to know first.
struct Finding {
  std::string tone, text;  ///< tone: good, bad, or empty
};

struct Comparison {
  Finding finding;
  std::vector<std::string> notes;  ///< what makes the runs unlike: length, period, plant
  std::vector<FigurePair> figures;
  std::vector<VerdictPair> verdicts;
  std::vector<EventPair> events;            ///< those that differ, in the order of time
  std::size_t events_alike{};               ///< those that do not
  bool events_compared = true;              ///< false: a side has no record of events
  std::vector<SignalPair> signals;          ///< those that differ, the largest share first
  std::vector<std::string> only_a, only_b;  ///< signals that one trace lacks
};

/// A run from its trace (an empty path: none) and the text of its summary; nothing, with the problem, when they are not.
std::optional<ComparedRun> read_compared(const std::string& name, const std::string& trace_path,
                                         const std::string& summary, std::string& problem);

Comparison compare(const ComparedRun& a, const ComparedRun& b);

/// Names of the requirements that are satisfied in A and violated in B.
std::vector<std::string> lost_requirements(const Comparison& comparison);

/// All of it, with numbers and units.
std::string comparison_json(const ComparedRun& a, const ComparedRun& b, const Comparison& comparison);

/// Writes the page, which draws any signal of one run over the other's; a problem when that cannot be done.
Outcome write_comparison(const ComparedRun& a, const ComparedRun& b, const Comparison& comparison,
                         const std::string& path);

}  // namespace duskline::harness
