#include "hil-harness/loop/limit_watch.hpp"

#include <vector>

#include "plant-model/integrate/events.hpp"

namespace duskline::harness {
namespace {

/// Instant in the tick at which a watched quantity of the plant changes sign; the tick is integrated again.
template <class Quantity>
double locate(const plant::Plant& plant, std::size_t module, const PlantStepper& stepper,
              const plant::State& x, double t, double end, Quantity quantity) {
  plant::Plant copy = plant, probe = plant;
  auto integrator = stepper;
  plant::State y = x;
  std::vector<plant::PlantOutputs> seen(module + 1);
  plant::SharedOutputs shared;
  const plant::GuardOn<plant::State> guard{[&](const plant::State& at, double) {
                                             Snapshot s;
                                             plant::State scratch;
                                             probe.observe(at, scratch, seen, shared);
                                             s.plant = seen[module];
                                             watch_limits(probe.module_parameters(module), s);
                                             return quantity(s);
                                           },
                                           plant::Crossing::either};
  const auto found =
      plant::advance_to_event(integrator.stepper(), copy, y, t, end, std::span(&guard, 1), {1e-3, 0});
  return found.fired.empty() ? end : found.advance.time;
}

}  // namespace

void watch_limits(const plant::PlantParameters& p, Snapshot& s) {
  s.coke_margin = s.nickel_ratio = std::numeric_limits<double>::infinity();
  s.coldest = s.hottest = s.plant.zone_temperature[0];
  for (const double T : s.plant.zone_temperature) {
    s.coldest = std::min(s.coldest, T);
    s.hottest = std::max(s.hottest, T);
  }
  bool hot = false;
  s.worst_cell = s.plant.worst_cell;
  for (std::size_t c = 0; c < plant::kCells; ++c) {
    if (s.plant.zone_temperature[static_cast<std::size_t>(p.stack.zone[c])] < kWatchedTemperature) continue;
    hot = true;
    if (s.plant.cells.margin[c] < s.coke_margin) {
      s.coke_margin = s.plant.cells.margin[c];
      s.worst_cell = c;
    }
    s.nickel_ratio = std::min(s.nickel_ratio, s.plant.cells.nickel_ratio[c]);
  }
  if (!hot) s.coke_margin = s.nickel_ratio = std::numeric_limits<double>::quiet_NaN();
}

void LimitWatch::follow(const Snapshot& s, const PlantStepper& stepper, const plant::State& before,
                        const plant::Ambient& ambient) {
  for (Limit& limit : limits_) {
    const bool below = limit.quantity(s) < (limit.below ? limit.back : 0.0);
    if (below == limit.below) continue;
    limit.below = below;
    double time = s.time;
    if (below && s.tick > 0 && stepper.method() == plant::Method::linearly_implicit) {
      plant::Plant then = *s.model;
      then.set_boundary(ambient, before);
      time = locate(then, module_, stepper, before, s.time - period_, s.time, limit.quantity);
    }
    log_.limit(time, limit.subject, below, limit.passed, limit.regained);
  }
}

}  // namespace duskline::harness
