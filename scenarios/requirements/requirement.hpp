/// Requirements on a trace: a sentence that can be read aloud, and how far the trace is from breaking it.
///
/// What it is   signal temporal logic over sampled signals, with units and words; parser and robustness
///              monitor
/// Equation     r(x > c) = (x - c)/s; not: -r; and: min; or: max; always: inf; eventually: sup over the
///              window; F until G: sup over t' of min(r_G(t'), inf over [t, t') of r_F)
/// Symbols      r > 0 holds, r < 0 is broken; s scale of the comparison, so that units can be compared;
///              reported in the unit of the comparison that decided
/// Validity     exact on the samples, which are taken to hold until the next; windows [t + a, t + b] include
///              both ends
/// Source       Fainekos and Pappas, TCS 410 (2009) 4262; Donze and Maler, FORMATS 2010; sliding extrema:
///              Lemire, Nordic J. Computing 13 (2006) 328
/// Left out     values between samples Bounded windows that reach beyond the end of the trace leave the
///              verdict open, unless the rest decides it. A window without an end reaches to the end of the
///              trace. Within `whenever` the stretch is the trace, and what lies beyond its end is not asked.
///              Where a signal has no value, a comparison with it counts for the requirement, never against
///              it.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace duskline::scenarios {

/// What may stand in a requirement: a recorded signal of `width` values a row.
struct TraceSignal {
  std::string name, unit;
  std::size_t width{1};
  std::vector<std::string> words;  ///< of a signal that holds words instead of numbers
  bool masks{};                    ///< one bit a word
};

namespace logic {

enum class Kind {
  // values
  number,
  signal,     ///< one value of it
  least,      ///< over the places of a signal
  greatest,   ///< the same
  mean,       ///< the same
  magnitude,  ///< of a
  sum,        ///< a + b
  difference,
  scaled,  ///< a times `number`
  rate,    ///< change of a per second since the sample before
  // truths
  above,     ///< a > b
  near,      ///< |a - b| below a tolerance: `number`, or a share of b
  is_word,   ///< a signal of words
  has_word,  ///< a bit of a mask
  negation,
  both,
  either,
  becomes,  ///< a holds now and did not at the sample before (nor was there one)
  always,   ///< over [t + from, t + to]
  eventually,
  past_always,  ///< over [t - to, t - from]
  past_once,
  until,    ///< a until b, b within `to`
  since,    ///< a since b
  stretch,  ///< b at each instant of each stretch where a holds, evaluated on that interval only
};

struct Node {
  Kind kind{};
  int a{-1}, b{-1};  ///< operands, earlier in the list
  double number{};   ///< of number, scaled, near
  bool relative{};   ///< near: `number` is a share of b; above: two signals; the scale follows the samples
  std::size_t signal{};  ///< in the list of signals
  std::size_t item{};    ///< place or word
  double from{}, to{};   ///< s
  double scale{1.0};     ///< of a comparison, in its unit, where it does not follow the samples
  std::string unit{};    ///< of a value or a comparison
  std::string typed{};   ///< unit of the number in a comparison, as written; empty: no single one
  int begin{}, end{};    ///< columns in the text
};

}  // namespace logic

struct Requirement {
  std::string text;
  std::vector<logic::Node> nodes;    ///< the last one is the whole
  std::vector<std::size_t> signals;  ///< used, in the list given to the parser
  bool conditional{};                ///< begins with after or whenever: may never be put to the test
};

struct RequirementProblem {
  int column{};  ///< byte of the text, from 1
  std::string message;
};

/// "message (column 12 of the sentence)", counted in characters.
std::string message_of(const RequirementProblem& problem, std::string_view sentence);

struct ParsedRequirement {
  Requirement requirement;
  std::vector<RequirementProblem> problems;  ///< empty: the requirement is good
};

ParsedRequirement parse_requirement(std::string_view text, std::span<const TraceSignal> signals);

/// The samples of one trace: times rise; column(i) gives signal i row after row, as many values a row as its width.
struct TraceSamples {
  std::span<const double> times;
  std::function<std::span<const double>(std::size_t)> column;
};

enum class Outcome { satisfied, violated, undecided, not_exercised };

struct Verdict {
  Outcome outcome{};
  double margin{};    ///< in `unit`, how far from being violated; infinite when no comparison decided
  double relative{};  ///< the same over the scale of the comparison: comparable between requirements
  std::string unit;
  std::string typed;   ///< unit of the number that it was compared with, as written; may be empty
  double time{};       ///< s, sample that decided
  int begin{}, end{};  ///< columns of the comparison that decided
  double violated_from{},
      violated_to{};  ///< s, first stretch in which that comparison fails; both 0 when it never does
};

/// Judges a requirement on a trace with at least one sample.
Verdict judge(const Requirement& requirement, const TraceSamples& trace);

/// The value of node `root` (a value, no truth) at every sample; NaN where there is none.
std::vector<double> value_of(const Requirement& requirement, int root, const TraceSamples& trace);

}  // namespace duskline::scenarios
