/// The search for the disturbance that comes closest to violating a requirement.
///
/// What it is   each point of the search is a run: the varied numbers are set as with --set, the closed loop
///              runs, the requirement is judged; the search looks for the least robustness
/// Equation     least over the requirements asked for of robustness / scale of the comparison that decided
/// Symbols      robustness as in scenarios/requirements; below zero: violated
/// Validity     the ranges of the scenario and its seed; a result holds for them and nothing else
/// Source       falsification of temporal logic: Annpureddy et al., TACAS 2011; search: search.hpp
/// Left out     proof that nothing worse exists
#pragma once

#include <functional>
#include <optional>

#include "hil-harness/search/search.hpp"
#include "hil-harness/verify/case_source.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {

/// One run of the search.
struct Attempt {
  bool drawn{};                ///< an independent draw; else chosen by the search
  Point at;                    ///< shares of the ranges
  std::vector<double> values;  ///< of the numbers varied, in their units
  std::string requirement;     ///< the one that came closest
  scenarios::Verdict verdict;
  plant::RunResult end;

  /// Left undecided by a run that ended too early, too: nobody knows that it holds.
  bool violated() const {
    return verdict.outcome == scenarios::Outcome::violated ||
           verdict.outcome == scenarios::Outcome::undecided;
  }
  /// What the search makes small; below that of all that hold when undecided.
  double closeness() const;
};

struct FalsifyOptions {
  std::uint64_t seed{};  ///< of the search
  unsigned threads = 1;
  std::vector<std::string> links;  ///< to the controllers of every run; empty: those in this program
  bool go_on{};                    ///< after the first violation
  std::vector<Attempt> earlier;    ///< of the same search, not run again
  const std::atomic<bool>* interrupted = nullptr;
  /// Called after each batch, with all attempts so far; false ends the search.
  std::function<bool(const std::vector<Attempt>&)> report;
  std::function<void(double)> progress;  ///< called by one thread at a time
};

struct Falsified {
  std::vector<Attempt> attempts;
  std::size_t draws{};  ///< how many of them are independent draws
  bool interrupted{};

  /// The attempt that came closest; the first of equals. Nothing when there was none.
  std::optional<std::size_t> closest() const;
  std::optional<std::size_t> first_violation() const;
  /// Runs that ended early.
  std::size_t cut_short() const;
  /// Draws that violated the requirement or left it undecided.
  std::size_t draws_violated() const;
  /// Draws that ended early without that.
  std::size_t draws_cut_short() const;
};

/// `base` is what `source` reads to.
Falsified falsify(const CaseSource& source, const scenarios::Case& base, const FalsifyOptions& options);

/// The share of the ranges that violates the requirement, at most, at kConfidence: draws that ended early count as
/// violations, for what they would have come to is unknown. Not a number before all draws are
/// done, for draws that stop at a violation are no sample of a size set in advance.
inline constexpr double kConfidence = 0.95;
double share_that_violates(const scenarios::Case& base, const Falsified& found);
/// The same in words; empty where there is no such share.
std::string share_words(const scenarios::Case& base, const Falsified& found);

/// The unit in which people read the values of a variation; long times in minutes or hours.
ReadUnit readable(const scenarios::Variation& variation);

/// The path of a variation; of a fault also which: `faults.0.size (ambient-pressure-bias)`.
std::string label_of(const scenarios::Case& base, const scenarios::Variation& variation);

/// The settings of an attempt, as for --set.
std::vector<std::string> settings_of(const scenarios::Case& base, const Attempt& attempt);

/// What was found, whole and without a clock: the file falsify.json. `fingerprint` tells searches apart.
std::string falsified_json(const scenarios::Case& base, const Falsified& found, const FalsifyOptions& options,
                           bool with_attempts = true);
/// The attempts of such a file, if it belongs to this search.
scenarios::Result<std::vector<Attempt>> earlier_attempts(const std::string& json, const std::string& name,
                                                         const scenarios::Case& base,
                                                         const FalsifyOptions& options);

/// The page of a search: what came closest, the margin over runs and over each number that was varied.
std::string falsify_page(const scenarios::Case& base, const Falsified& found);

}  // namespace duskline::harness
