/// How the plant of a case starts and how it is integrated.
#pragma once

#include "plant-model/integrate/advance.hpp"
#include "plant-model/plant.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

using PlantStepper = plant::IntegratorOn<plant::State>;

PlantStepper make_stepper(const scenarios::Integrator& settings, const plant::Layout& layout);

/// State at the start; hours of operation that lie behind it wear `parameters` and the state.
plant::State initial_state(const scenarios::Case& c, const plant::Layout& layout,
                           const plant::Ambient& ambient, plant::PlantParameters& parameters);

}  // namespace duskline::harness
