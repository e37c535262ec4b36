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

// Carries out one change, step by step.
class Walk {
 public:
  Walk(const Change& change, Report& report) : change_{change}, report_{report} {}

  // The child of `node` that step `i` leads to; made when a key is new; null after a problem.
  Node* follow(Node& node, std::size_t i) {
    const Step& step = change_.steps[i];
    if (const auto index = index_of(step, node)) return item(node, *index, step.place);
    if (node.kind == Node::Kind::nothing) node = {Node::Kind::map, step.place, {}, {}, {}};
    if (node.kind != Node::Kind::map)
      return refuse(step.place,
                    fmt::format("there is no key '{}', because here is {}", step.key, name_of(node.kind)));
    const bool last = i + 1 == change_.steps.size();
    if (Pair* found = node.find(step.key)) {
      if (last) found->place = step.place;
      return &found->value;
    }
    if (!last && change_.steps[i + 1].key.empty())
      return refuse(step.place, fmt::format("there are no items in '{}', because it is not given", step.key));
    node.pairs.push_back({step.key, step.place, {Node::Kind::nothing, step.place, {}, {}, {}}});
    return &node.pairs.back().value;
  }

 private:
  // The number of the item that a step means: `[3]` always, `.3` where there is a list.
  static std::optional<std::size_t> index_of(const Step& step, Node& node) {
    if (step.key.empty()) return step.index;
    if (holder(node).kind != Node::Kind::list) return std::nullopt;
    const WholeReading index = read_whole(step.key, 0, 1000000);
    if (!index.error.empty()) return std::nullopt;
    return static_cast<std::size_t>(index.value);
  }

  Node* item(Node& node, std::size_t index, Place place) {
    Node& list = holder(node);
    if (list.kind != Node::Kind::list)
      return refuse(
          place, fmt::format("[{}] counts the items of a list, and here is {}", index, name_of(list.kind)));
    if (index < 1 || index > list.items.size())
      return refuse(place, fmt::format("there is no item [{}]; the list has {}, counted from 1", index,
                                       list.items.size()));
    return &list.items[index - 1];
  }

  Node* refuse(Place place, std::string why) {
    report_.add(place, change_.path, std::move(why));
    return nullptr;
  }

  const Change& change_;
  Report& report_;
};

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
      if (steps.size() == static_cast<std::size_t>(kDeepestInput))
        return refuse(at, fmt::format("a path has at most {} keys", kDeepestInput));
      const std::size_t end = path.find(']', at);
      if (end == path.npos) return refuse(at, "the ']' of an item is missing");
      const WholeReading index = read_whole(path.substr(at + 1, end - at - 1), 0, 1000000);
      if (!index.error.empty()) return refuse(at + 1, index.error);
      steps.push_back({"", static_cast<std::size_t>(index.value), place(at)});
      at = end + 1;
      continue;
    }
    if (!steps.empty()) {
      if (path[at] != '.')
        return refuse(at, fmt::format("'{}' is not part of a path; keys are joined by '.'", path[at]));
      ++at;
    }
    if (steps.size() == static_cast<std::size_t>(kDeepestInput))
      return refuse(at, fmt::format("a path has at most {} keys", kDeepestInput));
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
  Walk walk{change, report};
  Node* node = &root;
  for (std::size_t i = first; i < change.steps.size(); ++i) {
    node = walk.follow(*node, i);
    if (node == nullptr) return;
  }
  if (node->kind == Node::Kind::map && change.value.kind != Node::Kind::map)
    if (Pair* value = node->find("value")) node = &value->value;
  *node = change.value;
}

}  // namespace duskline::scenarios
