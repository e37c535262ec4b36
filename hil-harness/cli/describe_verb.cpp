#include <fmt/format.h>

#include <algorithm>
#include <cctype>
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

bool holds(const std::string& text, const std::string& part) {
  const auto same = [](char a, char b) {
    return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
  };
  return std::search(text.begin(), text.end(), part.begin(), part.end(), same) != text.end();
}

Table filtered(Table table, const std::string& part) {
  std::erase_if(table.rows, [&](const Table::Row& row) {
    return std::none_of(row.cells.begin(), row.cells.end(),
                        [&](const auto& cell) { return holds(cell, part); });
  });
  return table;
}

/// The entries of one name, each as lines of head and cell.
std::string entry_text(const Topic& topic, const Table& table) {
  std::size_t width = 0;
  for (const auto& head : table.heads) width = std::max(width, head.size());
  std::string text;
  for (const auto& row : table.rows) {
    text += fmt::format("{} ({})\n", row.cells[0], topic.word);
    for (std::size_t i = 1; i < row.cells.size(); ++i)
      if (!row.cells[i].empty()) text += fmt::format("  {:<{}}  {}\n", table.heads[i], width, row.cells[i]);
  }
  return text;
}

/// The plants that ship and hold all entries that any of them has.
constexpr std::array kPlants{"bench", "outpost"};

/// Every entry of this name, whatever its topic.
int describe_entry(const DescribeRequest& request, const scenarios::PlantFile& plant) {
  auto all = nlohmann::ordered_json::array();
  bool found = false;
  for (const Topic& topic : topics()) {
    Table table = topic.table(plant);
    std::erase_if(table.rows, [&](const Table::Row& row) { return row.cells[0] != request.topic; });
    found = found || !table.rows.empty();
    if (request.json)
      for (auto& one : nlohmann::ordered_json::parse(to_json(table))) {
        one["topic"] = std::string(topic.word);
        all.push_back(std::move(one));
      }
    else
      print(entry_text(topic, table));
  }
  if (!found) {
    print_error(fmt::format("describe:1:1: TOPIC: plant {} has no entry '{}'; --plant names another ({})\n",
                            request.plant, request.topic, fmt::join(kPlants, ", ")));
    return kBadInput;
  }
  return request.json ? print_text(all.dump(2) + "\n") : kSuccess;
}

}  // namespace

std::string unknown_entry(const std::string& given) {
  if (find_topic(given) != nullptr) return {};
  std::vector<std::string> names, words;
  for (const Topic& topic : topics()) words.emplace_back(topic.word);
  names = words;
  for (const char* name : kPlants)
    if (const auto plant = read_plant_of(name))
      for (const Topic& topic : topics())
        for (const auto& row : topic.table(*plant.value).rows) names.push_back(row.cells[0]);
  if (std::find(names.begin(), names.end(), given) != names.end()) return {};
  std::string hint = scenarios::did_you_mean(given, names);
  if (hint.empty()) hint = fmt::format("; expected {}, or the name of an entry", fmt::join(words, " | "));
  return fmt::format("there is no topic and no entry '{}'{}", given, hint);
}

int describe_verb(const DescribeRequest& request) {
  if (request.topic.empty()) {
    print(shown(request, topic_table()));
    return kSuccess;
  }
  const Topic* topic = find_topic(request.topic);
  const auto plant = read_plant_of(request.plant);
  if (!plant) {
    print_error(scenarios::to_text(plant.problems));
    return kBadInput;
  }
  if (!request.filter.empty() && (topic == nullptr || request.markdown)) {
    print_error(fmt::format("describe:1:1: FILTER: {} takes none\n",
                            topic == nullptr ? "an entry" : "a page in Markdown"));
    return kBadInput;
  }
  if (topic == nullptr) return describe_entry(request, *plant.value);
  if (request.markdown) return print_text(page_of(*topic, *plant.value));
  const Table table = filtered(topic->table(*plant.value), request.filter);
  if (!table.rows.empty() || request.filter.empty()) return print_text(shown(request, table));
  print_error(
      fmt::format("describe:1:1: FILTER: no entry of {} holds '{}'\n", request.topic, request.filter));
  return kBadInput;
}

}  // namespace duskline::harness
