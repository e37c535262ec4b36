/// A plant file: every parameter of the plant with its value, plausible range and source.
///
/// `group.name: {value: 20 cm3, range: [5 cm3, 100 cm3], source: "..."}`; the dictionary of
/// plant-model/parameters.hpp says which there are, in which unit, and within which limits the model holds.
/// A value lies in its own range, and the range within the limits. Parameters that are missing are errors.
/// `instruments.name: {upper: 0.02 kg/s, noise: 2 mg/s, ...}` changes the data sheet of an instrument; what is not
/// given there is that of controller/include/controller_instruments.h.
/// `based_on: outpost.yaml` names another plant file, from the folder of this one: what this file does not give is as it
/// stands there, but for name, title and sections that a plant of this form has not.
/// `modules: 6`, `intake: centrifugal`, `piping: headers` give the form of the plant (plant-model/form.hpp); it decides
/// which parameters there are.
/// `variants.transport: ribs` chooses another law for a part (plant-model/variants.hpp); what is not chosen is the usual
/// one.
/// Left out: defaults of parameters. They are written out in full, here or in the file that this one is based on.
#pragma once

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "plant-model/parameters.hpp"
#include "scenarios/reader/instruments.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::scenarios {

/// What a plant file says of one parameter besides its value.
struct ParameterNote {
  double lower{}, upper{};  ///< plausible range, in the unit of the dictionary
  std::string value;        ///< as written
  std::string source;
  std::string base;  ///< name of the file that it was taken over from; empty: it stands in the plant's own
};

struct PlantFile {
  std::string name;
  std::string title;
  std::string purpose;
  plant::PlantParameters parameters{};
  InstrumentTable instruments = kInstrumentTable;
  std::vector<ParameterNote> notes;  ///< one a parameter, in the order of plant::parameter_table()
};

inline constexpr std::string_view kPlantFormat = "duskline-plant/1";

/// The keys that give the form of a plant.
void form_keys(Keys& keys, plant::PlantForm& form);

/// The keys of `variants` in a plant file.
void variant_keys(Keys& keys, plant::Variants& variants);

/// Reads a plant; each setting is `path=value` as on the command line, `compressor.displacement=18 cm3`.
Result<PlantFile> read_plant(const std::filesystem::path& path, std::span<const std::string> settings = {});

/// The plant as a file that reads back to the same parameters.
std::string write_plant(const PlantFile& plant);

/// The dictionary's entry of a path without item, or null.
const plant::ParameterInfo* find_parameter(std::string_view path);

}  // namespace duskline::scenarios
