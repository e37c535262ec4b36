#include "hil-harness/tune/tune.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "hil-harness/batch/identity.hpp"
#include "hil-harness/batch/threads.hpp"
#include "hil-harness/tune/gain_search.hpp"
#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

constexpr double kHeldOutShare = 0.1;  // of the progress that is shown

class Searcher {
 public:
  Searcher(const TuneTask& task, Journal& journal, const MarginCheck& margins)
      : task_(task), journal_(journal), margins_(margins) {
    for (std::uint64_t k = 0; k < task.tuning().draws; ++k)
      for (auto& trial : draw_trials(task.cases, task.tuning(), task.tuning().seed + k))
        trials_.push_back(std::move(trial));
  }

  /// Costs of the points; empty when stopped.
  std::vector<double> costs(const std::vector<Point>& points) {
    std::vector<std::vector<double>> values;
    for (const Point& p : points) values.push_back(values_at(task_.tuning().vary, p));
    return costs_of(values);
  }

  std::vector<double> costs_of(const std::vector<std::vector<double>>& values) {
    std::vector<std::size_t> missing;
    for (std::size_t i = 0; i < values.size(); ++i)
      if (!journal_.find(values[i])) missing.push_back(i);
    if (!missing.empty()) work_out(values, missing);
    std::vector<double> all;
    for (const auto& v : values) {
      Worth worth;
      if (const auto known = journal_.find(v)) {
        worth = *known;
      } else {
        const auto fresh = fresh_.find(v);
        if (fresh == fresh_.end()) break;  // stopped before it was whole
        worth = fresh->second;
        if (leads(worth)) look_at_margins(v, worth);
        if (interrupted()) break;
        if (!journal_.add({v, worth})) end = TuneEnd::disk;
      }
      if (leads(worth)) best_ = worth.penalised();
      all.push_back(worth.penalised());
      if (std::none_of(result.begin(), result.end(), [&](const Candidate& c) { return c.values == v; }))
        result.push_back({v, worth});
    }
    fresh_.clear();
    if (all.size() < values.size()) end = TuneEnd::interrupted;
    if (end != TuneEnd::complete) return {};
    tried_ += values.size();
    tell();
    return all;
  }

  std::vector<Candidate> result;
  TuneEnd end = TuneEnd::complete;

 private:
  void tell() const {
    if (task_.progress)
      task_.progress((1.0 - kHeldOutShare) * static_cast<double>(tried_) /
                     static_cast<double>(std::max<std::uint64_t>(task_.tuning().budget, 1)));
  }

  bool interrupted() const {
    return task_.interrupted != nullptr && task_.interrupted->load(std::memory_order_relaxed);
  }

  /// Margins take longer than the runs: what is clearly better than all before has to show them at once, the rest
  /// when it comes out best in the end.
  bool leads(const Worth& worth) const {
    constexpr double kClearly = 0.01;
    return std::isinf(best_) || worth.penalised() < best_ - kClearly * std::abs(best_);
  }

 public:
  void look_at_margins(const std::vector<double>& values, Worth& worth) const {
    scenarios::Scenario with = task_.cases.front().scenario;
    put_values(task_.tuning().vary, values, with);
    std::string why;
    const double lack = margins_.lack(margins_.at_all_points(with.controller), why);
    worth.lack += lack;
    worth.margins = true;
    if (worth.violated.empty()) worth.violated = why;
  }

 private:
  /// Runs what is missing; what is whole is in fresh_ afterwards.
  void work_out(const std::vector<std::vector<double>>& values, const std::vector<std::size_t>& missing) {
    const std::size_t runs = trials_.size();
    std::vector<Ran> ran(missing.size() * runs);
    for (Ran& r : ran) r.stopped = true;
    on_threads(ran.size(), task_.threads, [&](std::size_t job) {
      if (interrupted()) return;
      ran[job] = run_trial(trials_[job % runs], task_.objectives, task_.tuning().vary,
                           values[missing[job / runs]], task_.interrupted);
    });
    for (std::size_t m = 0; m < missing.size(); ++m) {
      const std::span<const Ran> own(ran.data() + m * runs, runs);
      if (std::none_of(own.begin(), own.end(), [](const Ran& r) { return r.stopped; }))
        fresh_[values[missing[m]]] = worth_of(own, trials_, task_.objectives);
    }
  }

  const TuneTask& task_;
  Journal& journal_;
  const MarginCheck& margins_;
  std::vector<Trial> trials_;
  std::map<std::vector<double>, Worth> fresh_;
  double best_ = std::numeric_limits<double>::infinity();
  std::size_t tried_ = 0;
};

}  // namespace

std::uint64_t task_hash(const TuneTask& task) {
  std::string all;
  for (const auto& c : task.cases) all += identity_of(c);
  for (const auto& start : task.starts) all += fmt::format("{} ", fmt::join(start, " "));
  return plant::stream_hash(all);
}

std::vector<std::size_t> front_of(std::span<const Candidate> candidates,
                                  std::span<const scenarios::Objective> objectives) {
  std::vector<std::vector<double>> costs;
  for (const Candidate& c : candidates) {
    costs.emplace_back();
    for (std::size_t i = 0; i < objectives.size(); ++i)
      costs.back().push_back(scenarios::cost(objectives[i], c.worth.measured[i]));
  }
  const auto dominates = [&](std::size_t a, std::size_t b) {
    bool better = false;
    for (std::size_t i = 0; i < objectives.size(); ++i) {
      if (costs[a][i] > costs[b][i]) return false;
      better = better || costs[a][i] < costs[b][i];
    }
    return better;
  };
  std::vector<std::size_t> front;
  for (std::size_t b = 0; b < candidates.size(); ++b) {
    if (candidates[b].worth.lack > 0.0) continue;
    bool beaten = false;
    for (std::size_t a = 0; a < candidates.size() && !beaten; ++a)
      beaten = !(candidates[a].worth.lack > 0.0) && dominates(a, b);
    if (!beaten) front.push_back(b);
  }
  std::stable_sort(front.begin(), front.end(),
                   [&](std::size_t a, std::size_t b) { return costs[a].front() < costs[b].front(); });
  return front;
}

std::vector<std::size_t> front_with_margins(std::vector<Candidate>& candidates,
                                            std::span<const scenarios::Objective> objectives,
                                            const std::function<bool(Candidate&)>& look) {
  for (;;) {
    std::vector<std::size_t> front = front_of(candidates, objectives);
    bool all_known = true;
    for (const std::size_t i : front) {
      if (candidates[i].worth.margins) continue;
      if (!look(candidates[i])) return {};
      all_known = false;
    }
    if (all_known) return front;
  }
}

namespace {

std::vector<PointMargins> margins_with(const TuneTask& task, const MarginCheck& margins, const Candidate& c) {
  scenarios::Scenario with = task.cases.front().scenario;
  put_values(task.tuning().vary, c.values, with);
  return margins.at_all_points(with.controller);
}

void count_margins(Candidate& c, double lack, const std::string& why) {
  c.worth.lack += lack;
  c.worth.margins = true;
  if (c.worth.violated.empty()) c.worth.violated = why;
}

/// The best candidate whose loops keep their margins; those that do not are marked.
void choose(const TuneTask& task, const MarginCheck& margins, TuneResult& result) {
  for (;;) {
    result.best = 0;
    for (std::size_t i = 1; i < result.candidates.size(); ++i)
      if (result.candidates[i].worth.penalised() < result.candidates[result.best].worth.penalised())
        result.best = i;
    Candidate& best = result.candidates[result.best];
    result.margins_after = margins_with(task, margins, best);
    std::string why;
    const double lack = result.margins_lack_after = margins.lack(result.margins_after, why);
    if (best.worth.margins) return;  // what lacks is counted, and it is still the best
    count_margins(best, lack, why);
    if (!(lack > 0.0)) return;
  }
}

}  // namespace

TuneResult tune(const TuneTask& task, Journal& journal) {
  const scenarios::Tuning& t = task.tuning();
  TuneResult result;
  const MarginCheck margins(task.cases.front(), task.threads, task.interrupted);
  if (!margins.problem().empty()) {
    result.end = task.interrupted != nullptr && *task.interrupted ? TuneEnd::interrupted : TuneEnd::no_point;
    result.problem = margins.problem();
    return result;
  }
  Searcher searcher(task, journal, margins);
  // the starts as they stand, outside their ranges or not; then what the search makes of them
  searcher.costs_of(task.starts);
  if (searcher.end == TuneEnd::complete && t.budget > task.starts.size()) {
    std::vector<Point> points;
    for (const auto& start : task.starts) points.push_back(point_of(t.vary, start));
    search(t.search, points, t.population, t.budget - task.starts.size(), t.seed,
           [&](const std::vector<Point>& p) { return searcher.costs(p); });
  }
  result.end = searcher.end;
  result.candidates = std::move(searcher.result);
  if (result.candidates.empty() || result.end != TuneEnd::complete) return result;
  choose(task, margins, result);
  result.front = front_with_margins(result.candidates, task.objectives, [&](Candidate& c) {
    if (task.interrupted != nullptr && task.interrupted->load(std::memory_order_relaxed)) return false;
    std::string why;
    const double lack = margins.lack(margins_with(task, margins, c), why);
    count_margins(c, lack, why);
    return true;
  });
  if (result.front.empty() && task.interrupted != nullptr && *task.interrupted) {
    result.end = TuneEnd::interrupted;
    return result;
  }
  const auto& before = result.candidates.front().values;
  const auto& after = result.candidates[result.best].values;
  HeldOut held{task.cases, t, task.objectives, task.threads, task.interrupted, {}};
  if (task.progress)
    held.progress = [&](double share) { task.progress(1.0 - kHeldOutShare + kHeldOutShare * share); };
  result.held_out = compare_held_out(held, before, after);
  if (!result.held_out.complete) {
    result.end = TuneEnd::interrupted;
    return result;
  }
  result.margins_before = margins.at_start();
  std::string why;
  result.margins_lack_before = margins.lack(result.margins_before, why);
  return result;
}

}  // namespace duskline::harness
