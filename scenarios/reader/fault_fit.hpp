/// Whether a plant has what a fault acts on.
///
/// What it is   a row of the fault table against the form of a plant: its parameters, instruments and commands
/// Validity     of one module with apertures everything but the rows of headers; behind headers a module has no compressor
///              and no recycle valve of its own, and gets some of its readings from the plant controller
/// Left out     whether the fault changes anything that is measured
#pragma once

#include <string>
#include <vector>

#include "plant-model/instruments/fault_table.hpp"
#include "plant-model/parameters.hpp"

namespace duskline::scenarios {

/// Why this plant cannot have the fault; empty when it can.
std::string why_not_here(const plant::FaultRow& row, const plant::PlantParameters& plant);

/// The rows of the table that this plant can have.
std::vector<const plant::FaultRow*> faults_of(const plant::PlantParameters& plant);

/// Why the fault takes no module, or not this one (from 0); empty when it can be of it.
std::string why_not_of_module(const plant::FaultRow& row, const plant::PlantParameters& plant, int module);

/// Why neither a fault nor a command can name this module (from 0); empty when they can.
std::string no_such_module(const plant::PlantParameters& plant, int module);

}  // namespace duskline::scenarios
