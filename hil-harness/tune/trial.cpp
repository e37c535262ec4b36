#include "hil-harness/tune/trial.hpp"

#include <algorithm>
#include <cmath>
#include <exception>
#include <mutex>
#include <thread>

#include "hil-harness/campaign/dispersion.hpp"
#include "hil-harness/loop/signals.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {
namespace {

constexpr double kMostLack = 10.0;   // of one requirement, and of a run that broke off
constexpr double kLeastLack = 0.01;  // broken by a hair is broken

/// Keeps the signals that objectives and requirements name, at every tick.
class Keeper {
 public:
  Keeper(const scenarios::Scenario& scenario, std::span<const scenarios::Objective> objectives)
      : columns_(requirement_signals().size()) {
    std::vector<bool> wanted(columns_.size());
    for (const auto& statement : scenario.requirements) {
      auto parsed = scenarios::parse_requirement(statement.must, requirement_signals());
      if (!parsed.problems.empty()) continue;  // the reader lets none through
      for (const std::size_t i : parsed.requirement.signals) wanted[i] = true;
      names_.push_back(statement.name);
      requirements_.push_back(std::move(parsed.requirement));
    }
    for (const auto& o : objectives)
      for (const std::size_t i : o.requirement.signals) wanted[i] = true;
    for (std::size_t i = 0; i < wanted.size(); ++i)
      if (wanted[i]) used_.push_back(i);
  }

  void watch(const Snapshot& s) {
    times_.push_back(s.time);
    for (const std::size_t i : used_) {
      const Signal& signal = signal_table()[i];
      auto& column = columns_[i];
      const std::size_t end = column.size();
      column.resize(end + signal.info.width);
      signal.read(s, &column[end]);
    }
  }

  void judge(Ran& ran) const {
    double worst = 0.0;
    for (std::size_t i = 0; i < requirements_.size(); ++i) {
      const auto verdict = scenarios::judge(requirements_[i], samples());
      if (verdict.ruling == scenarios::Ruling::holds || verdict.ruling == scenarios::Ruling::untested)
        continue;
      const double lack = kLeastLack + std::clamp(-verdict.relative, 0.0, kMostLack);
      ran.lack += lack;
      if (lack > worst) worst = lack, ran.broken = names_[i];
    }
  }

  scenarios::TraceSamples samples() const {
    return {times_, [this](std::size_t i) { return std::span<const double>(columns_[i]); }};
  }

 private:
  std::vector<std::string> names_;
  std::vector<scenarios::Requirement> requirements_;
  std::vector<std::size_t> used_;
  std::vector<std::vector<double>> columns_;
  std::vector<double> times_;
};

}  // namespace

std::vector<Trial> draw_trials(const std::vector<scenarios::Case>& cases, const scenarios::Tuning& tuning,
                               std::uint64_t seed) {
  std::vector<Trial> trials;
  for (const auto& c : cases) {
    Trial trial{c.scenario.title, c};
    trial.drawn.scenario.seed = seed;
    disperse(trial.drawn.plant.parameters, {tuning.resistance, tuning.flow}, seed);
    trials.push_back(std::move(trial));
  }
  return trials;
}

Ran run_trial(const Trial& trial, std::span<const scenarios::Objective> objectives,
              std::span<const scenarios::Variation> gains, std::span<const double> values,
              const std::atomic<bool>* interrupted) {
  ctl_params params = trial.drawn.scenario.controller;
  put_values(gains, values, params);
  InProcess link(params);
  Keeper keeper(trial.drawn.scenario, objectives);
  LoopOptions loop;
  loop.interrupted = interrupted;
  loop.watch = [&](const Snapshot& s) { keeper.watch(s); };
  const RunRecord record = run_loop(trial.drawn, link, loop);
  Ran ran;
  ran.stopped = record.end.reason == plant::RunEnd::interrupted;
  if (ran.stopped) return ran;
  for (const auto& o : objectives) ran.measured.push_back(scenarios::measure(o, keeper.samples()));
  keeper.judge(ran);
  if (record.end.reason != plant::RunEnd::reached_end) {
    ran.lack += kMostLack;
    ran.broken = std::string(plant::word(record.end.reason));
  }
  return ran;
}

Worth worth_of(std::span<const Ran> runs, std::span<const Trial> trials,
               std::span<const scenarios::Objective> objectives) {
  Worth w;
  w.measured.resize(objectives.size());
  const auto count = static_cast<double>(runs.size());
  double worst = 0.0;
  for (std::size_t k = 0; k < runs.size(); ++k) {
    const Ran& ran = runs[k];
    for (std::size_t i = 0; i < objectives.size(); ++i) {
      const double x = i < ran.measured.size() ? ran.measured[i] : std::nan("");
      // a run that gave no value lacks as much as one that broke off, and adds nothing to the means
      if (std::isnan(x)) {
        w.lack += kMostLack / count;
        continue;
      }
      w.measured[i] += x / count;
      w.cost += scenarios::cost(objectives[i], x) / count;
    }
    w.lack += ran.lack / count;
    if (ran.lack > worst) worst = ran.lack, w.broken = ran.broken + " (" + trials[k].scenario + ")";
  }
  return w;
}

void on_threads(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr trouble;
  std::mutex telling;
  const auto labour = [&] {
    try {
      for (std::size_t i = next++; i < count; i = next++) work(i);
    } catch (...) {
      const std::lock_guard lock(telling);
      trouble = std::current_exception();
      next = count;
    }
  };
  std::vector<std::thread> others;
  for (unsigned t = 1; t < threads && t < count; ++t) others.emplace_back(labour);
  labour();
  for (auto& thread : others) thread.join();
  if (trouble) std::rethrow_exception(trouble);
}

}  // namespace duskline::harness
