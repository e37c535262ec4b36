/// The accepted results: robustness of each requirement and key figures of each scenario, and what moved since.
#pragma once

#include <nlohmann/json.hpp>

#include "hil-harness/verify/verify.hpp"

namespace duskline::harness {

/// The text of a file of accepted results. A scenario that did not reach its end has no place in it.
std::string accepted_json(const std::vector<ScenarioResult>& all);

/// The scenarios that such a text holds, by name; a problem in `file` when it is not what accepted_json writes.
scenarios::Result<nlohmann::ordered_json> read_accepted(const std::string& text, const std::string& file);

/// Names of accepted scenarios that are not among `all`.
std::vector<std::string> not_among(const std::vector<ScenarioResult>& all,
                                   const nlohmann::ordered_json& accepted);

/// A requirement or a key figure that is not what was accepted.
struct Move {
  std::string scenario, name, change;
  nlohmann::ordered_json numbers;  ///< was, now, unit
};

/// What moved, and what has no accepted result: a failure.
struct Moved {
  std::vector<Move> moves;
  std::vector<std::string> missing;
};
Moved compare(const std::vector<ScenarioResult>& all, const nlohmann::ordered_json& accepted);

}  // namespace duskline::harness
