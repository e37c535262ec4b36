/// One change to a tree before it is decoded: `--set path=value` and the overrides that a scenario holds.
///
/// A path is keys joined by dots, with items of lists counted from 1: `commands[2].demand`, or
/// `commands.2.demand`. A change of a map that has a key `value` (a plant parameter) changes that value,
/// unless the new one is a map. Places stay with the change, so what the decoder finds wrong is located in
/// the change itself. Valid for items that exist; keys that do not exist are added and judged
/// by the decoder. Left out: removing keys, adding items to lists.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/reader/tree.hpp"

namespace duskline::scenarios {

struct Step {
  std::string key;      ///< empty for an item of a list
  std::size_t index{};  ///< of the item
  Place place;
};

struct Change {
  std::vector<Step> steps;
  std::string path;  ///< as written
  Place place;       ///< of the path
  Node value;
};

/// The steps of a dotted path; nothing (and a problem) when it is not one.
std::optional<std::vector<Step>> parse_path(std::string_view path, Place start, Report& report);

/// `path=value`, the `number`-th of the command line counted from 1, which is its line.
std::optional<Change> parse_setting(std::string_view setting, int file, int number, Report& report);

/// Carries it out from step `first` on.
void apply(const Change& change, std::size_t first, Node& root, Report& report);

}  // namespace duskline::scenarios
