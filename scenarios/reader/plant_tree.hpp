/// Between the tree of a plant file and its parameters; shared by plant files and plants inside scenarios.
///
/// `decode_plant` walks the tree against plant::parameter_table() and reports all that is unknown, missing,
/// of the wrong dimension or out of range.
/// Left out: the format line, which only files have.
#pragma once

#include "scenarios/reader/change.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/tree.hpp"
#include "scenarios/reader/write.hpp"

namespace duskline::scenarios {

/// Reads and parses file number `file` and checks its format line, which is taken out of the tree.
std::optional<Node> open_tree(const std::filesystem::path& path, int file, std::string_view format,
                              Report& report);

/// Takes the `format` key out of the tree; a problem unless it is the one expected.
bool take_format(Node& root, Place start, std::string_view format, Report& report);

/// Changes a parameter and notes the change in its source, so that the file written back tells of it.
void override_parameter(const Change& change, std::size_t first, Node& root, Report& report);

/// `own_file` is the number of the plant's own file, whose paths begin at its root; elsewhere, on the command
/// line and in scenarios, they begin with `plant.`. -1: there is no such file.
PlantFile decode_plant(const Node& root, Place place, int own_file, Report& report);

void write_plant_keys(const PlantFile& plant, Writer& writer);

}  // namespace duskline::scenarios
