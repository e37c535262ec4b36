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

/// A plant's tree, and the numbers of the files that it is put together from: its own, then those that it is based on.
/// Paths in them begin at the root; elsewhere, on the command line and in scenarios, they begin with `plant.`.
struct PlantTree {
  Node root;
  Place start;
  std::vector<int> files;
};

/// Whether a key gives a text about a plant: name, title, purpose.
bool is_plant_text(std::string_view key);

/// Reads a plant file and those that it is based on, one laid over the other: a parameter is that of the file nearest to the
/// first. Name, title and purpose are not taken over.
std::optional<PlantTree> open_plant(const std::filesystem::path& path, Report& report);

PlantFile decode_plant(const PlantTree& tree, Report& report);

void write_plant_keys(const PlantFile& plant, Writer& writer);

}  // namespace duskline::scenarios
