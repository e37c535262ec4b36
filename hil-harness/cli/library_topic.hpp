/// The scenarios that ship, for `describe library`.
#pragma once

#include "hil-harness/cli/table.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::harness {

Table library_table(const scenarios::PlantFile& plant);

}  // namespace duskline::harness
