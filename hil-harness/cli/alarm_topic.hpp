/// The rationalisation sheet of the alarms, for `describe alarms`.
#pragma once

#include "hil-harness/cli/table.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::harness {

Table alarm_table(const scenarios::PlantFile& plant);

}  // namespace duskline::harness
