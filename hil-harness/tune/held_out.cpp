#include "hil-harness/tune/held_out.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <mutex>

#include "hil-harness/batch/threads.hpp"

namespace duskline::harness {

Difference paired(std::span<const double> before, std::span<const double> after) {
  Difference d;
  d.pairs = before.size();
  const auto n = static_cast<double>(d.pairs);
  const auto change = [&](std::size_t k) { return after[k] == before[k] ? 0.0 : after[k] - before[k]; };
  double changes = 0.0;
  for (std::size_t k = 0; k < d.pairs; ++k) {
    d.before += before[k] / n;
    d.after += after[k] / n;
    d.better += after[k] < before[k] ? 1 : 0;
    changes += change(k) / n;
  }
  if (d.pairs == 0) d.before = d.after = std::nan("");
  d.mean = std::isinf(d.before) ? changes : d.after - d.before;
  d.half_width = std::nan("");
  if (d.pairs < 2) return d;
  double squares = 0.0;
  for (std::size_t k = 0; k < d.pairs; ++k) {
    const double rest = change(k) - d.mean;
    squares += rest * rest;
  }
  const double t = boost::math::quantile(boost::math::students_t(n - 1.0), 0.975);
  d.half_width = t * std::sqrt(squares / (n - 1.0) / n);
  return d;
}

HeldOutComparison compare_held_out(const HeldOut& task, const std::vector<double>& before,
                                   const std::vector<double>& after) {
  const std::size_t draws = task.tuning.held_out, scenarios = task.cases.size(), runs = draws * scenarios;
  std::vector<Ran> ran(2 * runs);
  std::atomic<std::size_t> done{0};
  std::mutex telling;
  for (Ran& r : ran) r.stopped = true;
  on_threads(ran.size(), task.threads, [&](std::size_t job) {
    if (task.interrupted != nullptr && task.interrupted->load(std::memory_order_relaxed)) return;
    const std::size_t k = job % runs;
    const auto trials = draw_trials({task.cases[k % scenarios]}, task.tuning,
                                    task.tuning.seed + kHeldOutSeed + k / scenarios);
    ran[job] = run_trial(trials.front(), task.objectives, task.tuning.vary, job < runs ? before : after,
                         task.interrupted);
    const std::lock_guard lock(telling);
    if (task.progress) task.progress(static_cast<double>(++done) / static_cast<double>(ran.size()));
  });
  HeldOutComparison c;
  c.draws = draws;
  c.runs = runs;
  if (std::any_of(ran.begin(), ran.end(), [](const Ran& r) { return r.stopped; })) return c;
  c.complete = true;
  const std::size_t kinds = task.objectives.size();
  // one number a draw, objective and side: the mean over the scenarios; the last kind is the cost
  std::vector<std::vector<double>> sides[2];
  for (auto& side : sides) side.assign(kinds + 1, std::vector<double>(draws));
  std::vector<bool> valued(draws, true);
  for (std::size_t job = 0; job < ran.size(); ++job) {
    auto& side = sides[job < runs ? 0 : 1];
    const std::size_t draw = job % runs / scenarios;
    const Ran& r = ran[job];
    for (std::size_t i = 0; i < kinds; ++i) {
      const double share = r.measured[i] / static_cast<double>(scenarios);
      side[i][draw] += share;
      side[kinds][draw] +=
          scenarios::cost(task.objectives[i], r.measured[i]) / static_cast<double>(scenarios);
    }
    valued[draw] = valued[draw] && r.valued();
    if (!(r.lack > 0.0) && r.valued()) continue;
    ++(job < runs ? c.lacking_before : c.lacking_after);
    const std::string what = (r.violated.empty() ? "an aim has no value" : r.violated) + " (" +
                             task.cases[job % runs % scenarios].scenario.title + ")";
    if (job >= runs && std::find(c.violated.begin(), c.violated.end(), what) == c.violated.end())
      c.violated.push_back(what);
  }
  const auto compared = [&](std::size_t kind) {
    std::vector<double> kept[2];
    for (std::size_t draw = 0; draw < draws; ++draw)
      for (std::size_t s = 0; valued[draw] && s < 2; ++s) kept[s].push_back(sides[s][kind][draw]);
    return paired(kept[0], kept[1]);
  };
  for (std::size_t i = 0; i < kinds; ++i) c.figures.push_back(compared(i));
  c.cost = compared(kinds);
  return c;
}

}  // namespace duskline::harness
