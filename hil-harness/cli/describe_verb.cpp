#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/topics.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

std::string shown(const DescribeRequest& request, const Table& table) {
  if (request.json) return to_json(table);
  return request.markdown ? to_markdown(table) : to_text(table);
}

/// The plants that ship.
std::vector<std::string> shipped(const fs::path& plants) {
  std::vector<std::string> names;
  std::error_code error;
  for (fs::directory_iterator it{plants, error}, end; !error && it != end; it.increment(error))
    if (it->path().extension() == ".yaml") names.push_back(it->path().stem().string());
  std::sort(names.begin(), names.end());
  return names;
}

/// `bench` is a plant that ships; anything with a slash or an ending is a file.
scenarios::Result<scenarios::PlantFile> read_plant_of(const std::string& plant) {
  if (plant.find('/') != std::string::npos || plant.ends_with(".yaml")) return scenarios::read_plant(plant);
  const fs::path plants = fs::path(home_folder()) / "plant-model" / "plants";
  const std::vector<std::string> names = shipped(plants);
  if (std::find(names.begin(), names.end(), plant) != names.end())
    return scenarios::read_plant(plants / (plant + ".yaml"));
  std::string hint = scenarios::did_you_mean(plant, names);
  if (hint.empty()) hint = fmt::format("; expected {} or a file that ends in .yaml", fmt::join(names, " | "));
  return {std::nullopt, {{"--plant", 1, 1, "", fmt::format("there is no plant '{}'{}", plant, hint)}}};
}

}  // namespace

int describe_verb(const DescribeRequest& request) {
  if (request.topic.empty()) {
    print(shown(request, topic_table()));
    return kSuccess;
  }
  const Topic* topic = find_topic(request.topic);
  if (topic == nullptr) return kBadInput;  // the command line has been checked
  const auto plant = read_plant_of(request.plant);
  if (!plant) {
    print_error(scenarios::to_text(plant.problems));
    return kBadInput;
  }
  print(request.markdown ? page_of(*topic, *plant.value) : shown(request, topic->table(*plant.value)));
  return kSuccess;
}

}  // namespace duskline::harness
