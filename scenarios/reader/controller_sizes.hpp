/// What controllers have to know of the size of a plant behind headers, from its parameters.
///
/// What it is   parameters of the controller of each module, and of the plant controller, that follow from the plant: limits,
///              priors of estimates, flows, volumes, valves, converters; gains of the demo plant scaled by what they act on
/// Equation     speeds of the intake as shares of its design speed; swept volume of lobes and scrolls from their design flow;
///              surge line of a turbo train: flow and pressure ratio at which its nearest stage stands at its peak, at each speed of
///              the map; current by the largest current, flow by current and cells, volts per ampere by the cell area, watts per kelvin
///              by heat capacity (SIMC: gain in proportion to lag over gain of the plant)
/// Validity     plants with headers; what the defaults say of cells, instruments and time constants stays
/// Left out     surge line by the coolers' temperature (290 K, the cold end)
#pragma once

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
#include "plant-model/parameters.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::scenarios {

/// Of a module. Nothing changes for a plant without headers: the defaults are those of the demo plant.
void size_controller(const plant::PlantParameters& plant, ctl_params& params);
void size_controller(const plant::PlantParameters& plant, ctl_plant_params& params);

/// Of one module of a plant with headers: the least resistance that its hours of production have added to that of new cells,
/// by the range of the plant file, and how much more it may be, both added to what a scenario gives. The hours (`production`, s)
/// are known, what they added is not.
void add_ageing_prior(const PlantFile& nominal, double production, ctl_params& params);

}  // namespace duskline::scenarios
