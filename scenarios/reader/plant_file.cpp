#include "scenarios/reader/plant_file.hpp"

#include <fmt/format.h>

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

}  // namespace

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
  const int line = report.open("--set"), file = report.open(path.string());
  std::vector<Change> changes;
  for (std::size_t i = 0; i < settings.size(); ++i)
    if (auto change = parse_setting(settings[i], line, static_cast<int>(i) + 1, report))
      changes.push_back(std::move(*change));
  auto root = open_tree(path, file, kPlantFormat, report);
  if (!root) return {std::nullopt, report.problems()};
  for (const Change& change : changes) override_parameter(change, 0, *root, report);
  PlantFile plant = decode_plant(*root, {file, 1, 1}, file, report);
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
