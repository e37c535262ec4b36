/// Reads scenarios and writes them back complete; the door of the reader for everybody else.
///
/// `read_case` reads a scenario with its plant and its controller file, applies `path=value` settings first,
/// and gives either plain structs or every problem in all of them. `write_resolved` gives a text that holds
/// everything, defaults and the whole plant included, and reads back to the same structs.
/// Left out: reading the weather file, which plant-model/environment does.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <string_view>

#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/problem.hpp"
#include "scenarios/reader/scenario.hpp"
#include "scenarios/reader/signal_lists.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

/// A scenario and what it names.
struct Case {
  Scenario scenario;
  PlantFile plant;
  std::filesystem::path weather_file;  ///< to open; empty: no measured weather
};

/// All parameters of the controller of a module, 0 the first, of the plant that was built (drawn_plant): those of the
/// scenario, and what is known of the module's age.
ctl_params module_controller_of(const Case& c, const plant::PlantParameters& built, std::size_t module);

/// `plants` is the folder of the plants that ship, for `plant: bench`. `signals` are what requirements may name;
/// without them requirements are not checked.
Result<Case> read_case(const std::filesystem::path& path, const std::filesystem::path& plants,
                       std::span<const std::string> settings = {}, const SignalLists& signals = {});

/// The same from memory; `name` is the file name in messages, files are looked for in `folder`.
Result<Case> parse_case(std::string_view text, const std::string& name, const std::filesystem::path& folder,
                        const std::filesystem::path& plants, std::span<const std::string> settings = {},
                        const SignalLists& signals = {});

/// A problem at the key `path`, as `campaign.vary[1].set`, of a scenario that reads well.
Problem problem_at(std::string_view text, const std::string& name, std::span<const std::string> settings,
                   std::string path, std::string message);

std::string write_resolved(const Scenario& scenario, const PlantFile& plant);

/// What a controller file holds.
struct ControllerFile {
  ctl_params controller{};              ///< law, parameters and table; what is missing has its default
  ctl_plant_params plant_controller{};  ///< as in a scenario: NaN where it is missing
};
Result<ControllerFile> read_controller(const std::filesystem::path& path);
/// Parameters that have their defaults, or were left open, are left out.
std::string write_controller(const ControllerFile& file, std::string_view title);

/// Whole control periods in the run.
std::uint64_t periods(const Scenario& scenario);

/// Puts the new value of an event into the parameters.
void apply(const Event& event, plant::PlantParameters& parameters);

}  // namespace duskline::scenarios
