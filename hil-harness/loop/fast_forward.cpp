#include "hil-harness/loop/fast_forward.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {

std::vector<double> planned_times(const scenarios::Scenario& scenario, const scenarios::Acts& acts,
                                  const Faults& faults) {
  std::vector<double> times;
  const auto instants = [&](const auto&... lists) {
    const auto all_of = [&](const auto& list) {
      for (const auto& one : list) times.push_back(one.at);
    };
    (all_of(lists), ...);
  };
  instants(scenario.commands, scenario.operator_actions, scenario.events, scenario.services);
  instants(acts.requests, acts.operator_actions, acts.events, acts.cleared, acts.causes, acts.notes);
  const auto faulty = [&](const plant::FaultEvent& f) {
    times.push_back(f.at);
    if (f.shape != plant::FaultShape::step) times.push_back(f.at + f.rise);
    if (!std::isnan(f.length)) times.push_back(f.at + f.length);
  };
  for (const plant::FaultEvent& f : acts.faults) faulty(f);
  for (const plant::FaultEvent& f : faults.events()) faulty(f);
  for (const plant::StormEvent& storm : scenario.storms)
    for (double t = 0.0; t < storm.rise + plant::kSolSeconds; t += plant::kSolSeconds)
      times.push_back(storm.start + std::min(t, storm.rise));
  for (const plant::VortexEvent& vortex : scenario.vortices) times.push_back(vortex.time);
  for (const plant::GustEvent& gust : scenario.gusts) times.push_back(gust.time);
  return times;
}

FastForward::FastForward(const scenarios::Scenario& scenario, const plant::Environment& environment)
    : period_(scenario.period), sols_max_(scenario.duration >= kLongRun ? scenario.fast_forward_sols : 0) {
  if (!on()) return;
  do midnight_ = midnight_tick(++number_, environment);
  while (midnight_ <= 0);
}

/// A midnight on a tick, to rounding, is that tick.
std::int64_t FastForward::midnight_tick(double number, const plant::Environment& environment) const {
  return static_cast<std::int64_t>(std::ceil(environment.time_at(number) / period_ - 1e-3));
}

FastForward::Step FastForward::step_from(std::int64_t n, std::int64_t ticks,
                                         const plant::Environment& environment,
                                         std::span<const double> planned) const {
  if (begin_.empty() || !steady_) return {};
  const double from = static_cast<double>(n) * period_ - plant::kSolSeconds;
  double next = INFINITY;  // of what is planned from the simulated sol on
  for (const double t : planned)
    if (t >= from) next = std::min(next, t);
  const plant::Ambient now = environment.mean_at(static_cast<double>(n) * period_);
  for (std::size_t sols = sols_max_; sols > 0; --sols) {
    const double landing = number_ + static_cast<double>(sols);
    const Step step{sols, midnight_tick(landing, environment)};
    const double time = static_cast<double>(step.to) * period_;
    if (midnight_tick(landing + 1.0, environment) > ticks || time + plant::kSolSeconds > next) continue;
    const plant::Ambient then = environment.mean_at(time);
    const double season = plant::wrap(then.areocentric_longitude - now.areocentric_longitude, plant::kTurn);
    if (season <= kSeasonStep && std::abs(then.optical_depth - now.optical_depth) <= kDepthStep) return step;
  }
  return {};
}

void FastForward::carry(std::size_t sols, const plant::Layout& layout, plant::State& x) const {
  const auto n = static_cast<double>(sols);
  for (std::size_t i = layout.first_quadrature(); i < x.size(); ++i) {
    x[i] += n * (x[i] - begin_[i]);
    if (i >= layout.first_slow()) x[i] = std::max(x[i], 0.0);
  }
}

void FastForward::begin_sol(std::int64_t n, const Step& step, const plant::Environment& environment,
                            const plant::State& x) {
  sols_over_ += step.sols;
  if (step.sols > 0) ticks_over_ += step.to - n;
  number_ += static_cast<double>(step.sols) + 1.0;
  midnight_ = midnight_tick(number_, environment);
  begin_ = x;
  turned_ = 0.0;
  steady_ = true;
}

void FastForward::watch(const Snapshot& s, bool compressor_turns) {
  if (!on()) return;
  if (compressor_turns) turned_ += period_;
  decltype(modes_) modes{};
  modes[0] = s.control.mode;
  for (std::size_t k = 0; k < s.modules.size(); ++k) modes[k + 1] = s.modules[k]->control.mode;
  steady_ = steady_ && modes == modes_;
  modes_ = modes;
}

std::string FastForward::note(std::int64_t n) const {
  const double sols = static_cast<double>(n) * period_ / plant::kSolSeconds;
  return fmt::format(
      "fast-forward: {} of {:.1f} sols were stepped over; their share of every sum is an estimate, the sol "
      "before taken again; least and greatest values, alarms and requirements are of simulated sols only",
      sols_over_, sols);
}

}  // namespace duskline::harness
