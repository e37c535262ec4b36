#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "hil-harness/verify/verify.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;
using scenarios::Outcome;

/// Text of the file of results: XML 1.0 has no control characters and is UTF-8.
std::string escaped(std::string_view raw) {
  return scenarios::escaped_text(scenarios::printable(raw));
}

/// A text of JSON, which YAML reads too.
std::string json_text(std::string_view text) {
  return Json(scenarios::printable(text)).dump();
}

bool failed(const RequirementResult& j) {
  return j.verdict.outcome == Outcome::violated || j.verdict.outcome == Outcome::undecided ||
         !j.worse.empty();
}

/// What kind of failure it is, in a word.
std::string_view kind(const RequirementResult& j) {
  return all_hold({j}) ? "accepted results" : word(j.verdict.outcome);
}

std::string sentence(const RequirementResult& j) {
  std::string text = fmt::format("{}: {}, margin {} at {:.0f} s", j.must, word(j.verdict.outcome),
                                 margin_words(j.verdict), j.verdict.time);
  if (j.verdict.outcome == Outcome::violated)
    text += fmt::format(", first from {:.0f} s to {:.0f} s", j.verdict.violated_from, j.verdict.violated_to);
  if (!j.worse.empty()) text += ", against the accepted results: " + j.worse;
  return text;
}

/// Why a scenario gave no verdicts; empty when it ran to its end, and when it was not run.
std::string error(const ScenarioResult& one) {
  if (!one.done) return {};
  if (!one.problems.empty()) return scenarios::to_text(one.problems);
  if (one.record.end.reason == plant::RunEnd::reached_end) return {};
  return fmt::format("{} at {:.3f} s {}", plant::word(one.record.end.reason), one.record.end.time,
                     one.record.end.who);
}

}  // namespace

std::string junit_xml(const std::vector<ScenarioResult>& all) {
  std::size_t tests = 0, failures = 0, errors = 0;
  std::string suites;
  for (const ScenarioResult& one : all) {
    std::size_t own = 0, own_failures = 0, own_skipped = 0;
    std::string cases;
    const std::string suite = escaped(one.name);
    const std::string why = error(one);
    const bool error = !why.empty();
    if (error || one.judged.empty()) {
      ++own;
      own_skipped += !one.done;
      cases += fmt::format("    <testcase classname=\"{}\" name=\"run\" time=\"0\"", suite);
      if (error)
        cases += fmt::format("><error message=\"{}\" type=\"run\"/></testcase>\n", escaped(why));
      else
        cases += one.done ? "/>\n" : "><skipped message=\"not run\"/></testcase>\n";
    }
    for (const RequirementResult& j : one.judged) {
      ++own;
      cases += fmt::format("    <testcase classname=\"{}\" name=\"{}\" time=\"0\"", suite, escaped(j.name));
      if (failed(j)) {
        ++own_failures;
        cases +=
            fmt::format("><failure message=\"{}\" type=\"{}\"/></testcase>\n", escaped(sentence(j)), kind(j));
      } else if (j.verdict.outcome == Outcome::not_exercised) {
        ++own_skipped;
        cases += "><skipped/></testcase>\n";
      } else {
        cases += "/>\n";
      }
    }
    tests += own, failures += own_failures, errors += error;
    suites += fmt::format(
        "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\" time=\"0\">\n{}  "
        "</testsuite>\n",
        suite, own, own_failures, error ? 1 : 0, own_skipped, cases);
  }
  return fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites tests=\"{}\" failures=\"{}\" errors=\"{}\" "
      "time=\"0\">\n{}</testsuites>\n",
      tests, failures, errors, suites);
}

std::string tap_text(const std::vector<ScenarioResult>& all) {
  std::string lines;
  std::size_t n = 0;
  const auto plain = [](std::string_view raw) {
    std::string text = scenarios::printable(raw);
    std::replace(text.begin(), text.end(), '#', ' ');
    return text;
  };
  for (const ScenarioResult& one : all) {
    const std::string why = error(one);
    if (!why.empty() || one.judged.empty())
      lines += fmt::format("{} {} - {}: run{}{}\n", why.empty() ? "ok" : "not ok", ++n, plain(one.name),
                           one.done ? "" : " # SKIP not run",
                           why.empty() ? "" : "\n  ---\n  message: " + json_text(why) + "\n  ...");
    for (const RequirementResult& j : one.judged) {
      lines +=
          fmt::format("{} {} - {}: {}{}\n", failed(j) ? "not ok" : "ok", ++n, plain(one.name), plain(j.name),
                      j.verdict.outcome == Outcome::not_exercised ? " # SKIP not exercised" : "");
      lines += fmt::format("  ---\n  requirement: {}\n  verdict: {}\n  margin: {}\n  at: {}\n",
                           json_text(j.must), word(j.verdict.outcome), json_text(margin_words(j.verdict)),
                           json_text(fmt::format("{:.0f} s", j.verdict.time)));
      if (!j.worse.empty()) lines += fmt::format("  against the accepted results: {}\n", json_text(j.worse));
      lines += "  ...\n";
    }
  }
  return fmt::format("TAP version 14\n1..{}\n{}", n, lines);
}

}  // namespace duskline::harness
