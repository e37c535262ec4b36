#include "scenarios/reader/change.hpp"

#include <fmt/format.h>

#include "scenarios/reader/quantity.hpp"

namespace duskline::scenarios {
namespace {

bool is_key_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
}

// The node that holds the items: of a plant parameter its value.
Node& holder(Node& node) {
  Pair* value = node.kind == Node::Kind::map ? node.find("value") : nullptr;
  return value ? value->value : node;
}

// The child that a step leads to; made when a key is new; null after a problem.
Node* follow(Node& node, const Step& step, const Change& change, Report& report) {
  if (step.key.empty()) {
    Node& list = holder(node);
    if (list.kind != Node::Kind::list) {
      report.add(
          step.place, change.path,
          fmt::format("[{}] counts the items of a list, and here is {}", step.index, name_of(list.kind)));
      return nullptr;
    }
    if (step.index >= list.items.size()) {
      report.add(step.place, change.path,
                 fmt::format("there is no item [{}]; the list has {}, counted from 0", step.index,
                             list.items.size()));
      return nullptr;
    }
    return &list.items[step.index];
  }
  const bool in_list = holder(node).kind == Node::Kind::list;
  if (in_list && step.key.find_first_not_of("0123456789") == std::string::npos) {
    const WholeReading index = read_whole(step.key, 0, 1000000);
    const std::size_t none = std::string::npos;
    return follow(node,
                  {"", index.trouble.empty() ? static_cast<std::size_t>(index.value) : none, step.place},
                  change, report);
  }
  if (node.kind == Node::Kind::nothing) node = {Node::Kind::map, step.place, {}, {}, {}};
  if (node.kind != Node::Kind::map) {
    report.add(step.place, change.path,
               fmt::format("there is no key '{}', because here is {}", step.key, name_of(node.kind)));
    return nullptr;
  }
  if (Pair* found = node.find(step.key)) {
    if (&step == &change.steps.back()) found->place = step.place;
    return &found->value;
  }
  node.pairs.push_back({step.key, step.place, {Node::Kind::nothing, step.place, {}, {}, {}}});
  return &node.pairs.back().value;
}

}  // namespace

std::optional<std::vector<Step>> parse_path(std::string_view path, Place start, Report& report) {
  std::vector<Step> steps;
  std::size_t at = 0;
  const auto place = [&](std::size_t offset) {
    return Place{start.file, start.line, start.column + static_cast<int>(offset)};
  };
  const auto refuse = [&](std::size_t offset, std::string why) {
    report.add(place(offset), std::string{path}, std::move(why));
    return std::nullopt;
  };
  while (at < path.size() || steps.empty()) {
    if (!steps.empty() && path[at] == '[') {
      const std::size_t end = path.find(']', at);
      if (end == path.npos) return refuse(at, "the ']' of an item is missing");
      const WholeReading index = read_whole(path.substr(at + 1, end - at - 1), 0, 1000000);
      if (!index.trouble.empty()) return refuse(at + 1, index.trouble);
      steps.push_back({"", static_cast<std::size_t>(index.value), place(at)});
      at = end + 1;
      continue;
    }
    if (!steps.empty()) {
      if (path[at] != '.')
        return refuse(at, fmt::format("'{}' is not part of a path; keys are joined by '.'", path[at]));
      ++at;
    }
    std::size_t end = at;
    while (end < path.size() && is_key_letter(path[end])) ++end;
    if (end == at) return refuse(at, "a path is keys joined by '.', such as commands[1].demand");
    steps.push_back({std::string{path.substr(at, end - at)}, 0, place(at)});
    at = end;
  }
  return steps;
}

std::optional<Change> parse_setting(std::string_view setting, int file, int number, Report& report) {
  const Place start{file, number, 1};
  const std::size_t sign = setting.find('=');
  if (sign == setting.npos) {
    report.add(start, "", "expected path=value, such as duration='2 h'");
    return std::nullopt;
  }
  std::string_view path = setting.substr(0, sign);
  while (!path.empty() && path.back() == ' ') path.remove_suffix(1);
  auto steps = parse_path(path, start, report);
  if (!steps) return std::nullopt;
  const Place value_start{file, number, static_cast<int>(sign) + 2};
  auto value = parse_value(setting.substr(sign + 1), value_start, report);
  if (!value) return std::nullopt;
  return Change{std::move(*steps), std::string{path}, start, std::move(*value)};
}

void apply(const Change& change, std::size_t first, Node& root, Report& report) {
  Node* node = &root;
  for (std::size_t i = first; i < change.steps.size(); ++i) {
    node = follow(*node, change.steps[i], change, report);
    if (node == nullptr) return;
  }
  if (node->kind == Node::Kind::map && change.value.kind != Node::Kind::map)
    if (Pair* value = node->find("value")) node = &value->value;
  *node = change.value;
}

}  // namespace duskline::scenarios
