#include "hil-harness/loop/plant_stepper.hpp"

#include <cmath>

#include "plant-model/wear.hpp"

namespace duskline::harness {
namespace {

/// The absolute tolerances of the state table belong to a relative one of 1e-3 and scale with it.
plant::TolerancesOf<plant::State> tolerances(const plant::Layout& layout, double relative) {
  plant::TolerancesOf<plant::State> t{{}, relative};
  for (const plant::StateInfo& info : layout.table()) {
    if (info.unfiltered) t.unfiltered.push_back(t.absolute.size());
    t.absolute.push_back(info.tolerance * relative * 1e3);
  }
  return t;
}

plant::State start_of(const scenarios::Case& c, const plant::PlantParameters& p,
                      const plant::Ambient& ambient) {
  const auto& start = c.scenario.initial;
  switch (start.state) {
    case scenarios::InitialState::cold:
      return plant::cold_state(p, ambient, start.stack_temperature, start.cathode_co);
    case scenarios::InitialState::hot_idle:
      return plant::hot_state(p, ambient, start.stack_temperature, start.cathode_co);
    case scenarios::InitialState::hot_standby:
      return plant::standby_state(p, ambient, start.stack_temperature, start.cathode_co);
    case scenarios::InitialState::producing:
      return plant::producing_state(p, ambient, start.stack_temperature, start.cathode_co);
  }
  return {};
}

}  // namespace

PlantStepper make_stepper(const scenarios::Integrator& settings, const plant::Layout& layout) {
  // the Jacobian of several modules costs as much as twenty steps; most are rejected for a command that moved
  constexpr double kYoung = 60.0;  // s
  plant::StepControl control;
  if (layout.division().modules.size() > 1) control.young = kYoung;
  return {static_cast<plant::Method>(settings.method), layout.division(),
          tolerances(layout, settings.relative_tolerance), control};
}

plant::State initial_state(const scenarios::Case& c, const plant::Layout& layout,
                           const plant::Ambient& ambient, plant::PlantParameters& parameters) {
  plant::State x = start_of(c, parameters, ambient);
  const auto& start = c.scenario.initial;
  const auto since = [&](double hours) { return std::isnan(hours) ? start.operating_hours : hours; };
  plant::wear(parameters, layout, x, ambient,
              {start.operating_hours, since(start.filter_hours), since(start.bearing_hours),
               since(start.seals_hours)});
  return x;
}

}  // namespace duskline::harness
