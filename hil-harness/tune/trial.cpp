#include "hil-harness/tune/trial.hpp"

#include <algorithm>
#include <cmath>

#include "hil-harness/batch/dispersion.hpp"
#include "hil-harness/verify/judge.hpp"
#include "scenarios/reader/draw.hpp"

namespace duskline::harness {
namespace {

constexpr double kMostLack = 10.0;   // of one requirement, and of a run that broke off
constexpr double kLeastLack = 0.01;  // violated by a hair is violated

/// What a run lacks of its requirements.
void count_lack(const std::vector<RequirementResult>& judged, Ran& ran) {
  double worst = 0.0;
  for (const RequirementResult& j : judged) {
    if (all_hold({j})) continue;
    const double lack = kLeastLack + std::clamp(-j.verdict.relative, 0.0, kMostLack);
    ran.lack += lack;
    if (lack > worst) worst = lack, ran.violated = j.name;
  }
}

}  // namespace

std::vector<Trial> draw_trials(const std::vector<scenarios::Case>& cases, const scenarios::Tuning& tuning,
                               std::uint64_t seed) {
  std::vector<Trial> trials;
  for (const auto& c : cases) {
    Trial trial{c.scenario.title, c};
    trial.drawn.scenario.seed = seed;
    // the plant is drawn here: the loop would draw it again over what is dispersed
    trial.drawn.plant.parameters = scenarios::drawn_plant(c.plant, c.scenario.plant_draw);
    trial.drawn.scenario.plant_draw = 0;
    disperse(trial.drawn.plant.parameters, {tuning.resistance, tuning.flow}, seed);
    trials.push_back(std::move(trial));
  }
  return trials;
}

Ran run_trial(const Trial& trial, std::span<const scenarios::Objective> objectives,
              std::span<const scenarios::Variation> gains, std::span<const double> values,
              const std::atomic<bool>* interrupted) {
  scenarios::Case c = trial.drawn;  // controllers of several modules take their parameters from it
  put_values(gains, values, c.scenario);
  Watcher watcher(c.scenario, objectives);
  LoopOptions loop;
  loop.interrupted = interrupted;
  loop.watch = [&](const Snapshot& s) { watcher.watch(s); };
  const RunRecord record = run_loop(c, {}, loop);
  Ran ran;
  ran.stopped = record.end.reason == plant::RunEnd::interrupted;
  if (ran.stopped) return ran;
  for (const auto& o : objectives) ran.measured.push_back(scenarios::measure(o, watcher.samples()));
  count_lack(watcher.judge(), ran);
  if (record.end.reason != plant::RunEnd::reached_end) {
    ran.lack += kMostLack;
    ran.violated = std::string(plant::word(record.end.reason));
  }
  return ran;
}

bool Ran::valued() const {
  return std::none_of(measured.begin(), measured.end(), [](double v) { return std::isnan(v); });
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
    if (ran.lack > worst) worst = ran.lack, w.violated = ran.violated + " (" + trials[k].scenario + ")";
  }
  return w;
}

}  // namespace duskline::harness
