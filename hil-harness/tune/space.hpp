/// The gains of a search as points of the unit cube, and as values in the controller's parameters.
///
/// What it is   share of its range for each gain, and back
/// Equation     value as scenarios::value_at has it, to four digits
/// Symbols      x share in [0, 1]; value in the unit of the parameter
/// Validity     ranges checked by the reader
/// Source       four digits are more than a gain is known to, and they read well in a controller file
/// Left out     parameters that are not numbers
#pragma once

#include <span>
#include <vector>

#include "hil-harness/search/search.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

/// Values at a point, in the order of the gains.
std::vector<double> values_at(std::span<const scenarios::Variation> gains, const Point& point);

/// The point of these values, moved into the ranges.
Point point_of(std::span<const scenarios::Variation> gains, std::span<const double> values);

/// Values of the gains into the controllers of a scenario, and those that its controllers have on this plant.
void put_values(std::span<const scenarios::Variation> gains, std::span<const double> values,
                scenarios::Scenario& scenario);
std::vector<double> values_of(std::span<const scenarios::Variation> gains, const scenarios::Case& c);

/// Name of the parameter.
std::string_view name_of(const scenarios::Variation& gain);

}  // namespace duskline::harness
