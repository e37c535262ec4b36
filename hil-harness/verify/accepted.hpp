/// The accepted results: margin of each requirement and key figures of each scenario, and what has changed since.
///
/// A scenario is known by its path below one root folder, however it is typed, so that a part of the scenarios can be
/// checked and accepted. A margin that fell by more than allowed is a failure:
/// Equation   allowed = tolerance of its kind + 1 % of the accepted margin
/// Symbols    tolerances: the quantities in the file, the first whose unit fits; kTolerances where it has none
/// Validity   numbers to six digits; what differs by less than a tenth of what is allowed is no change
/// Left out   tolerances of single requirements
#pragma once

#include <filesystem>
#include <map>
#include <optional>

#include "hil-harness/verify/verify.hpp"

namespace duskline::harness {

inline constexpr const char* kTolerances[] = {"1 mV",  "0.5 K", "0.05 K/min", "0.05 g/h", "100 Pa", "0.1 %",
                                              "1 rpm", "1 W",   "10 mA",      "0.1 g",    "1 s"};

/// What is accepted of one number: a margin or a key figure.
struct AcceptedNumber {
  std::string verdict;          ///< of a requirement; empty for a key figure
  std::optional<double> value;  ///< in `unit`; nothing when there is none
  std::string unit;             ///< as people read it; empty: a plain number
};

struct AcceptedScenario {
  std::map<std::string, AcceptedNumber> requirements, key_figures;
};

struct AcceptedResults {
  std::filesystem::path root;  ///< the names of the scenarios are paths below it
  std::vector<std::string> tolerances{std::begin(kTolerances), std::end(kTolerances)};
  std::map<std::string, AcceptedScenario> scenarios;
};

/// Reads the text of the file accepted.json in `folder`; a problem when it is not what accepted_json writes.
scenarios::Result<AcceptedResults> read_accepted(const std::string& text,
                                                 const std::filesystem::path& folder);

/// The folder below which all these files lie, to be the root of new accepted results.
std::filesystem::path common_folder(const std::vector<ScenarioResult>& all);

/// The name of a scenario below the root; empty when it lies elsewhere.
std::string name_below(const std::filesystem::path& root, const std::filesystem::path& scenario);

/// Puts the results of scenarios that reached their end in place of what was accepted of them, and drops scenarios
/// whose files are gone; the names of those. Moves the root up when a scenario lies outside of it.
std::vector<std::string> accept_results(const std::vector<ScenarioResult>& all, AcceptedResults& accepted);

/// What may be accepted of a scenario now.
AcceptedScenario results_of(const ScenarioResult& one);

/// What was accepted of it before, in the units of `now`; nothing when there is none.
std::optional<AcceptedScenario> accepted_of(const AcceptedResults& accepted, const ScenarioResult& one,
                                            const AcceptedScenario& now);

/// The text for `folder`/accepted.json.
std::string accepted_json(const AcceptedResults& accepted, const std::filesystem::path& folder);

/// A requirement or a key figure that is not what was accepted, in `unit`.
struct Change {
  std::string scenario, name;
  bool fails{};  ///< a margin fell by more than allowed, or a verdict is worse
  std::optional<double> was, now;
  std::string was_verdict, now_verdict, unit;
  double allowed{};  ///< by how much the margin may fall; 0 for a key figure

  /// `45.5 -> 1.2 mV (-44.3; 1.46 allowed)`
  std::string text() const;
};

struct AcceptedComparison {
  std::vector<Change> changes;
  std::vector<std::string> missing;  ///< has no accepted result: a failure
  std::vector<std::string> gone;     ///< accepted, but the file or the requirement is not there: a failure

  bool fails() const;
  std::vector<Change> of(const std::string& scenario) const;
};

/// Compares with what was accepted and marks requirements that fail against it (RequirementResult::worse).
AcceptedComparison compare(std::vector<ScenarioResult>& all, const std::vector<std::string>& paths,
                           const AcceptedResults& accepted);

}  // namespace duskline::harness
