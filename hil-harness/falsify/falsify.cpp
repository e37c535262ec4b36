#include "hil-harness/falsify/falsify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>
#include <numbers>

#include "hil-harness/batch/threads.hpp"
#include "hil-harness/falsify/statistics.hpp"
#include "hil-harness/links/controllers.hpp"

namespace duskline::harness {
namespace {

/// Undecided comes before all that hold, behind all that are violated.
double closeness_of(const scenarios::Verdict& verdict) {
  if (verdict.outcome == scenarios::Outcome::undecided) return -std::numeric_limits<double>::denorm_min();
  return std::isnan(verdict.relative) ? std::numeric_limits<double>::infinity() : verdict.relative;
}

/// The verdict that comes closest among those asked for.
void take_closest(const std::vector<RequirementResult>& judged, Attempt& attempt) {
  const RequirementResult* closest = nullptr;
  for (const RequirementResult& j : judged)
    if (closest == nullptr || closeness_of(j.verdict) < closeness_of(closest->verdict)) closest = &j;
  if (closest == nullptr) return;
  attempt.requirement = closest->name;
  attempt.verdict = closest->verdict;
}

/// Runs one attempt to its end.
void run_attempt(const CaseSource& source, const scenarios::Case& base, Attempt& attempt,
                 const FalsifyOptions& options) {
  auto read = source.read(settings_of(base, attempt));
  if (!read) throw std::runtime_error("a point of the search is refused:\n" + to_text(read.problems));
  scenarios::Case& c = *read.value;
  const std::string& wanted = base.scenario.falsify.requirement;
  if (!wanted.empty())
    std::erase_if(c.scenario.requirements, [&](const auto& statement) { return statement.name != wanted; });
  Watcher watcher(c.scenario);
  const auto opened = open_controllers(options.links, c);
  if (!opened) {
    attempt.end = {plant::RunEnd::link_lost, 0.0, opened.problems.front().message};
    return;
  }
  LoopOptions loop;
  loop.interrupted = options.interrupted;
  loop.watch = [&](const Snapshot& s) { watcher.watch(s); };
  attempt.end = run_loop(c, *opened.value, loop).end;
  take_closest(watcher.judge(), attempt);
}

/// Works off the attempts from `first` on; false when it was interrupted. Which thread takes which changes nothing.
bool run_all(std::vector<Attempt>& attempts, std::size_t first, const CaseSource& source,
             const scenarios::Case& base, const FalsifyOptions& options) {
  std::size_t done = first;
  std::mutex telling;
  const auto stopped = [&] {
    return options.interrupted != nullptr && options.interrupted->load(std::memory_order_relaxed);
  };
  on_threads(attempts.size() - first, options.threads, [&](std::size_t job) {
    if (stopped()) return;
    const std::size_t i = first + job;
    Attempt& attempt = attempts[i];
    if (i < options.earlier.size() && options.earlier[i].at == attempt.at)
      attempt = options.earlier[i];
    else
      run_attempt(source, base, attempt, options);
    const std::lock_guard lock(telling);
    ++done;
    if (options.progress)
      options.progress(static_cast<double>(done) / static_cast<double>(base.scenario.falsify.runs));
  });
  return !stopped();
}

}  // namespace

double Attempt::closeness() const {
  return requirement.empty() ? std::numeric_limits<double>::infinity() : closeness_of(verdict);
}

std::optional<std::size_t> Falsified::closest() const {
  if (attempts.empty()) return std::nullopt;
  const auto least =
      std::min_element(attempts.begin(), attempts.end(),
                       [](const Attempt& a, const Attempt& b) { return a.closeness() < b.closeness(); });
  return static_cast<std::size_t>(least - attempts.begin());
}

std::optional<std::size_t> Falsified::first_violation() const {
  const auto first =
      std::find_if(attempts.begin(), attempts.end(), [](const Attempt& a) { return a.violated(); });
  if (first == attempts.end()) return std::nullopt;
  return static_cast<std::size_t>(first - attempts.begin());
}

std::size_t Falsified::cut_short() const {
  return static_cast<std::size_t>(std::count_if(attempts.begin(), attempts.end(), [](const Attempt& a) {
    return a.end.reason != plant::RunEnd::reached_end;
  }));
}

std::size_t Falsified::draws_violated() const {
  return static_cast<std::size_t>(std::count_if(attempts.begin(), attempts.end(),
                                                [](const Attempt& a) { return a.drawn && a.violated(); }));
}

std::size_t Falsified::draws_cut_short() const {
  return static_cast<std::size_t>(std::count_if(attempts.begin(), attempts.end(), [](const Attempt& a) {
    return a.drawn && !a.violated() && a.end.reason != plant::RunEnd::reached_end;
  }));
}

double share_that_violates(const scenarios::Case& base, const Falsified& found) {
  const std::size_t wanted = Search::draws_of(static_cast<std::size_t>(base.scenario.falsify.runs));
  if (found.draws < wanted) return std::nan("");
  return upper_share(found.draws_violated() + found.draws_cut_short(), found.draws, kConfidence);
}

std::string share_words(const scenarios::Case& base, const Falsified& found) {
  const double share = share_that_violates(base, found);
  if (!std::isfinite(share)) return "";
  const std::size_t early = found.draws_cut_short();
  return fmt::format("at most {:.2g} % of the ranges do ({:.0f} % confidence{})", 100.0 * share,
                     100.0 * kConfidence,
                     early == 0 ? "" : fmt::format(", {} that ended early counted in", early));
}

ReadUnit readable(const scenarios::Variation& v) {
  if (v.unit == "s" && v.to >= 7200.0) return {1.0 / 3600.0, "h"};
  if (v.unit == "s" && v.to >= 120.0) return {1.0 / 60.0, "min"};
  if (v.unit == "rad") return {180.0 / std::numbers::pi, "deg"};
  return read_unit(v.unit);
}

std::string label_of(const scenarios::Case& base, const scenarios::Variation& variation) {
  const std::string path = scenarios::dotted(variation.set);
  for (std::size_t i = 0; i < base.scenario.faults.size(); ++i)
    if (path.starts_with("faults." + std::to_string(i + 1) + "."))
      return variation.set + " (" + base.scenario.faults[i].fault + ")";
  return variation.set;
}

std::vector<std::string> settings_of(const scenarios::Case& base, const Attempt& attempt) {
  std::vector<std::string> settings;
  const auto& vary = base.scenario.falsify.vary;
  for (std::size_t i = 0; i < vary.size(); ++i) settings.push_back(setting_at(vary[i], attempt.at[i]));
  return settings;
}

Falsified falsify(const CaseSource& source, const scenarios::Case& base, const FalsifyOptions& options) {
  const scenarios::Falsification& wanted = base.scenario.falsify;
  Search search(wanted.vary.size(), static_cast<std::size_t>(wanted.runs), options.seed);
  Falsified found;
  for (auto batch = search.ask(); !batch.empty(); batch = search.ask()) {
    const std::size_t first = found.attempts.size();
    for (Point& point : batch) {
      Attempt attempt;
      attempt.drawn = found.attempts.size() < search.draws();
      for (std::size_t i = 0; i < point.size(); ++i)
        attempt.values.push_back(value_at(wanted.vary[i], point[i]));
      attempt.at = std::move(point);
      found.attempts.push_back(std::move(attempt));
    }
    if (!run_all(found.attempts, first, source, base, options)) {
      found.attempts.resize(
          first);  // what was begun is not kept: which runs were done depends on the threads
      found.interrupted = true;
      break;
    }
    std::vector<double> values;
    for (std::size_t i = first; i < found.attempts.size(); ++i)
      values.push_back(found.attempts[i].closeness());
    search.tell(values);
    found.draws = std::min(found.attempts.size(), search.draws());
    if (options.report && !options.report(found.attempts)) break;
    const bool all_earlier = found.attempts.size() >= options.earlier.size();  // they may have gone on
    if (!options.go_on && all_earlier && found.first_violation()) break;
  }
  found.draws = std::min(found.attempts.size(), search.draws());
  return found;
}

}  // namespace duskline::harness
