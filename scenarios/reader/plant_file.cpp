#include "scenarios/reader/plant_file.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "scenarios/reader/plant_tree.hpp"

namespace duskline::scenarios {
namespace {

// The parameter that a path leads to: the first map on it that has a value.
Node* find_leaf(const Change& change, std::size_t first, Node& root) {
  Node* node = &root;
  for (std::size_t i = first; i <= change.steps.size(); ++i) {
    if (node->kind != Node::Kind::map) return nullptr;
    if (node->find("value") != nullptr) return node;
    if (i == change.steps.size()) return nullptr;
    Pair* next = node->find(change.steps[i].key);
    if (next == nullptr) return nullptr;
    node = &next->value;
  }
  return nullptr;
}

std::string text_of(const Node& node) {
  if (node.kind != Node::Kind::list) return node.text;
  std::string text = "[";
  for (const Node& item : node.items) text += (text.size() > 1 ? ", " : "") + item.text;
  return text + "]";
}

constexpr std::string_view kBasedOn = "based_on";

/// Parameters, which a file gives whole: those with a value.
bool is_leaf(const Node& node) {
  return node.kind != Node::Kind::map || node.find("value") != nullptr;
}

/// What `over` gives takes the place of what stands in `base`.
void lay_over(Node& base, Node over) {
  for (Pair& pair : over.pairs) {
    Pair* there = base.find(pair.key);
    if (there == nullptr)
      base.pairs.push_back(std::move(pair));
    else if (is_leaf(there->value) || is_leaf(pair.value))
      *there = std::move(pair);
    else
      lay_over(there->value, std::move(pair.value));
  }
  base.place = over.place;
}

/// The file that `root` is based on, which is taken out of it; nothing where there is none, or none that can be read.
std::optional<std::filesystem::path> take_base(Node& root, const std::filesystem::path& file, bool& fine,
                                               Report& report) {
  const auto at = std::find_if(root.pairs.begin(), root.pairs.end(),
                               [](const Pair& pair) { return pair.key == kBasedOn; });
  if (at == root.pairs.end()) return std::nullopt;
  const Node value = std::move(at->value);
  root.pairs.erase(at);
  std::error_code error;
  const std::filesystem::path base = file.parent_path() / value.text;
  if (value.kind == Node::Kind::text && std::filesystem::is_regular_file(base, error)) return base;
  fine = false;
  report.add(value.place, std::string{kBasedOn},
             value.kind == Node::Kind::text
                 ? fmt::format("there is no file '{}' in the folder of this one", value.text.substr(0, 80))
                 : fmt::format("expected the name of a plant file, found {}", name_of(value.kind)));
  return std::nullopt;
}

}  // namespace

std::optional<PlantTree> open_plant(const std::filesystem::path& path, Report& report) {
  std::vector<Node> trees;
  std::vector<std::filesystem::path> read;
  PlantTree plant;
  bool fine = true;
  std::optional<std::filesystem::path> next = path;
  Place named{};
  while (next) {
    std::error_code error;
    const std::filesystem::path same = std::filesystem::weakly_canonical(*next, error);
    if (std::find(read.begin(), read.end(), same) != read.end()) {
      report.add(named, std::string{kBasedOn},
                 fmt::format("leads back to '{}', which is based on this file", next->filename().string()));
      return std::nullopt;
    }
    read.push_back(same);
    const int file = report.open(next->string());
    auto tree = open_tree(*next, file, kPlantFormat, report);
    if (!tree) return std::nullopt;
    plant.files.push_back(file);
    const Pair* based = tree->find(kBasedOn);
    if (based != nullptr) named = based->value.place;
    next = take_base(*tree, *next, fine, report);
    trees.push_back(std::move(*tree));
  }
  if (!fine) return std::nullopt;
  plant.start = {plant.files.front(), 1, 1};
  plant.root = std::move(trees.back());
  for (std::size_t i = trees.size() - 1; i-- > 0;) {
    std::erase_if(plant.root.pairs, [](const Pair& pair) { return is_plant_text(pair.key); });
    lay_over(plant.root, std::move(trees[i]));
  }
  return plant;
}

bool take_format(Node& root, Place start, std::string_view format, Report& report) {
  for (std::size_t i = 0; i < root.pairs.size(); ++i) {
    if (root.pairs[i].key != "format") continue;
    const Node value = std::move(root.pairs[i].value);
    root.pairs.erase(root.pairs.begin() + static_cast<std::ptrdiff_t>(i));
    if (value.kind == Node::Kind::text && value.text == format) return true;
    report.add(value.place, "format",
               fmt::format("'{}' is not read here; expected '{}'", value.text.substr(0, 80), format));
    return false;
  }
  report.add(start, "format", fmt::format("is missing; this file begins with 'format: {}'", format));
  return false;
}

std::optional<Node> open_tree(const std::filesystem::path& path, int file, std::string_view format,
                              Report& report) {
  const auto bytes = read_bytes(path, file, report);
  if (!bytes) return std::nullopt;
  auto root = parse_tree(*bytes, file, report);
  if (!root || !take_format(*root, {file, 1, 1}, format, report)) return std::nullopt;
  return root;
}

void override_parameter(const Change& change, std::size_t first, Node& root, Report& report) {
  Node* leaf = find_leaf(change, first, root);
  if (leaf == nullptr) {
    apply(change, first, root, report);
    return;
  }
  const std::string before = text_of(leaf->find("value")->value);
  apply(change, first, root, report);
  const std::string after = text_of(leaf->find("value")->value);
  Pair* source = leaf->find("source");
  if (source == nullptr || source->value.kind != Node::Kind::text || source->value.text.empty()) return;
  std::string& text = source->value.text;
  // a value that is set to what it was is held all the same (draw.hpp)
  text = after == before ? fmt::format("set to {} as before, {}", after, text)
                         : fmt::format("set to {}; before {}, {}", after, before, text);
}

Result<PlantFile> read_plant(const std::filesystem::path& path, std::span<const std::string> settings) {
  Report report;
  const int line = report.open("--set");
  std::vector<Change> changes;
  for (std::size_t i = 0; i < settings.size(); ++i)
    if (auto change = parse_setting(settings[i], line, static_cast<int>(i) + 1, report))
      changes.push_back(std::move(*change));
  auto tree = open_plant(path, report);
  if (!tree) return {std::nullopt, report.problems()};
  for (const Change& change : changes) override_parameter(change, 0, tree->root, report);
  PlantFile plant = decode_plant(*tree, report);
  if (!report.clean()) return {std::nullopt, report.problems()};
  return {std::move(plant), {}};
}

std::string write_plant(const PlantFile& plant) {
  Writer writer;
  writer.raw("format", kPlantFormat);
  write_plant_keys(plant, writer);
  return writer.take();
}

const plant::ParameterInfo* find_parameter(std::string_view path) {
  for (const plant::ParameterInfo& info : plant::parameter_table())
    if (info.path == path) return &info;
  return nullptr;
}

}  // namespace duskline::scenarios
